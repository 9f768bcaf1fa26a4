"""The plan of a whole train: order, choice of flow, and conflicts with the figure that shows each.

Conflicts are common practice, no source, but where a line names one. The dose of the base case is
checked against hand arithmetic from published molar ratios.
"""

from dataclasses import replace

import pytest

from equipment.engineering.plan.facts import (
    Facts,
    Feeder,
    House,
    Part,
    Source,
    Water,
)
from equipment.engineering.plan.train import dose_flow, plan_train, wash_use
from equipment.engineering.units import quantity as q

RETENTION = Part(
    key="tank",
    label="Contact tank",
    kind="retention",
    volume=q(120, "gal"),
    baffling_factor=0.3,
    side="before",
)
CARBON = Part(
    key="carbon",
    label="Carbon filter",
    kind="filter",
    diameter=q(10, "in"),
    bed_depth=q(36, "in"),
    wash_rate=q(9, "gpm/ft2"),
    rate_temperature=q(15, "degC"),
    interval_cap=q(5, "day"),
    is_carbon=True,
    wash_hour=1,
)
SOFTENER = Part(
    key="softener",
    label="Softener",
    kind="softener",
    bed_volume=q(2, "ft3"),
    salt_dose=q(8, "lb/ft3"),
    iron_limit=q(0.3, "mg/L"),
    wash_hour=3,
)
FEEDER = Feeder(
    oxidant="peroxide",
    strength=q(71.6, "g/L"),
    output=q(17, "gpd"),
    rated_pressure=q(100, "psi"),
    tank_volume=q(15, "gal"),
    shelf_life=q(365, "day"),
    switching="switch_load",
    injection="before",
)
HOUSE = Facts(
    water=Water(
        iron=q(3, "mg/L"),
        manganese=q(0.02, "mg/L"),
        sulfide=q(2, "mg/L"),
        hardness=q(240, "mg/L"),
        ph=7.1,
        temperature=q(11, "degC"),
    ),
    source=Source(
        pump_flow=q(8, "gpm"),
        well_yield=q(8, "gpm"),
        stored_volume=q(180, "gal"),
        drawdown=q(11.35, "gal"),
        cut_out=q(60, "psi"),
    ),
    house=House(people=4, daily_use=q(250, "gal"), peak_flow=q(6, "gpm")),
    feeder=FEEDER,
    parts=(RETENTION, CARBON, SOFTENER),
    residual=q(10, "mg/L"),
    retention_minimum=q(10, "min"),
)


def keys(facts):
    return [conflict.key for conflict in plan_train(facts).conflicts]


def with_parts(*parts):
    return replace(HOUSE, parts=parts)


def with_feeder(**changes):
    return replace(HOUSE, feeder=replace(FEEDER, **changes))


def red(facts):
    return {conflict.key for conflict in plan_train(facts).conflicts if conflict.is_red}


def test_a_bed_the_pump_cannot_lift_is_said_whatever_the_temperature():
    """16 in at 12 gpm/ft2 are 16.8 gpm at 15 degC; 6 gpm lift it in no water of 5 to 20 degC."""
    wide = replace(CARBON, diameter=q(16, "in"), wash_rate=q(12, "gpm/ft2"))
    unknown = replace(HOUSE.water, temperature=None)
    weak = replace(HOUSE.source, pump_flow=q(6, "gpm"))
    facts = replace(HOUSE, water=unknown, source=weak, parts=(RETENTION, wide, SOFTENER))
    assert "wash-flow" in red(facts)
    shown = next(c for c in plan_train(facts).conflicts if c.key == "wash-flow")
    assert "temperature not known" in shown.figure


def test_a_bed_between_is_said_to_hang_on_the_temperature():
    """10 in at 14 gpm/ft2: 6.5 to 8.1 gpm at 5 to 20 degC; 0.9 of 8 gpm is 7.2."""
    facts = replace(
        HOUSE,
        water=replace(HOUSE.water, temperature=None),
        parts=(RETENTION, replace(CARBON, wash_rate=q(14, "gpm/ft2")), SOFTENER),
    )
    assert "wash-flow-by-temperature" in keys(facts)
    assert "wash-flow" not in keys(facts)
    assert "wash-flow-by-temperature" not in keys(HOUSE)


def test_a_pump_nobody_measured_is_said():
    assert "pump-not-known" in keys(replace(HOUSE, source=replace(HOUSE.source, pump_flow=None)))
    assert "pump-not-known" not in keys(HOUSE)


def test_a_bed_without_room_and_a_pump_too_strong_are_said():
    full = replace(CARBON, freeboard=q(1, "in"))
    assert "wash-room" in red(with_parts(RETENTION, full, SOFTENER))
    strong = replace(HOUSE, source=replace(HOUSE.source, pump_flow=q(20, "gpm")))
    assert "wash-too-strong" in keys(strong)
    assert "wash-too-strong" not in keys(
        replace(HOUSE, source=replace(HOUSE.source, pump_flow=q(5.4, "gpm")))
    )


def test_chlorine_at_a_high_dose_without_carbon_goes_to_the_kitchen():
    """At most 4 mg/L of chlorine in water to drink: 40 CFR 141.65 (SEEN)."""
    bare = replace(CARBON, is_carbon=False)
    feeder = replace(FEEDER, oxidant="chlorine")
    facts = replace(HOUSE, feeder=feeder, parts=(RETENTION, bare), residual=q(1, "mg/L"))
    assert "chlorine-without-carbon" in red(facts)
    assert "chlorine-without-carbon" not in keys(replace(facts, parts=(RETENTION, CARBON)))
    clean = Water(iron=q(0.5, "mg/L"), ph=7.1, temperature=q(11, "degC"))
    assert "chlorine-without-carbon" not in keys(replace(facts, water=clean))


def test_permanganate_needs_a_filter_behind_it():
    feeder = replace(FEEDER, oxidant="permanganate")
    facts = replace(HOUSE, feeder=feeder, parts=(RETENTION, SOFTENER))
    assert "permanganate-without-filter" in red(facts)
    ahead = replace(CARBON, behind_feeder=False)
    assert "permanganate-without-filter" in red(replace(facts, parts=(ahead, SOFTENER)))
    assert "permanganate-without-filter" not in keys(replace(facts, parts=(RETENTION, CARBON)))


def test_a_dose_above_the_products_maximum_is_a_conflict():
    dose = plan_train(HOUSE).result("oxidant-demand", "dose", "mg/L")
    assert "above-maximum-use-level" in red(with_feeder(maximum_use_level=q(dose - 0.1, "mg/L")))
    assert "above-maximum-use-level" not in keys(
        with_feeder(maximum_use_level=q(dose + 0.1, "mg/L"))
    )


def test_a_house_that_fits_has_no_red_conflict():
    assert not [conflict for conflict in plan_train(HOUSE).conflicts if conflict.is_red]


def test_calculations_run_in_the_order_the_water_meets_the_parts():
    names = [(step.name, step.part) for step in plan_train(HOUSE).steps]
    assert names == [
        ("oxidant-demand", "feeder"),
        ("contact", "tank"),
        ("bed", "carbon"),
        ("backwash", "carbon"),
        ("filter-interval", "carbon"),
        ("softener", "softener"),
        ("feed-setting", "feeder"),
    ]


def test_dose_is_twice_the_molar_sum_and_the_residual():
    # 3 mg/L Fe x 17.0073/55.845 + 2 mg/L H2S x 34.0147/34.081; conventional atomic weights,
    # half a mole of H2O2 for a mole of Fe(II), one for a mole of H2S to sulfur
    wanted = 2 * (3 * 17.0073 / 55.845 + 2 * 34.0147 / 34.081) + 10
    plan = plan_train(HOUSE)
    assert plan.result("oxidant-demand", "dose", "mg/L") == pytest.approx(wanted, rel=2e-4)
    # mass balance: gpm x 3785.41 mL/gal x dose / (1000 x strength in g/L)
    feed = 8 * 3785.41 * wanted / (1000 * 71.6)
    assert plan.result("feed-setting", "feed_rate", "mL/min") == pytest.approx(feed, rel=2e-4)


def test_the_supply_counts_the_wash_water_that_passes_the_injector():
    plan = plan_train(HOUSE)
    water = plan.result("backwash", "water_all_vessels", "gal", "carbon")
    days = plan.result("filter-interval", "days", "day", "carbon")
    assert wash_use(plan, HOUSE).m_as("gallon") == pytest.approx(water / days)
    dry = replace(HOUSE, parts=(RETENTION,))
    more = plan_train(dry).result("feed-setting", "days_of_supply", "day")
    assert plan.result("feed-setting", "days_of_supply", "day") < more


def test_contact_takes_the_pump_flow_before_the_pressure_tank_and_the_peak_draw_after():
    before = plan_train(HOUSE).result("contact", "detention", "min", "tank")
    after = plan_train(with_parts(replace(RETENTION, side="after"), CARBON)).result(
        "contact", "detention", "min", "tank"
    )
    assert (before, after) == (pytest.approx(120 / 8), pytest.approx(120 / 6))


def test_metered_feed_is_dosed_on_the_draw():
    assert dose_flow(HOUSE) == HOUSE.source.pump_flow
    assert dose_flow(with_feeder(switching="metered")) == HOUSE.house.peak_flow


@pytest.mark.parametrize(
    ("facts", "key"),
    [
        (with_feeder(switching="always_live"), "always-live"),
        (with_feeder(injection="after"), "injection-after-tank"),
        (with_feeder(switching="metered", injection="before"), "injection-before-tank"),
        (
            replace(HOUSE, source=replace(HOUSE.source, constant_pressure=True)),
            "fixed-feed-variable-speed",
        ),
        (with_feeder(rated_pressure=q(25, "psi")), "feeder-pressure"),
        (
            with_parts(RETENTION, replace(CARBON, is_manganese_oxide=True)),
            "peroxide-before-manganese-oxide",
        ),
        (
            replace(
                HOUSE,
                water=replace(HOUSE.water, manganese=q(0.3, "mg/L")),
                parts=(RETENTION, CARBON),
            ),
            "peroxide-for-manganese",
        ),
        (with_parts(RETENTION), "no-carbon-after-peroxide"),
        (with_parts(RETENTION, SOFTENER, CARBON), "softener-after-oxidant"),
        (with_parts(RETENTION, SOFTENER, CARBON), "iron-on-softener"),
        (with_parts(replace(RETENTION, volume=q(40, "gal")), CARBON), "retention-short"),
        (with_parts(RETENTION, replace(CARBON, diameter=q(13, "in"))), "wash-flow"),
        (
            replace(
                HOUSE,
                source=replace(HOUSE.source, well_yield=q(0.5, "gpm"), stored_volume=q(20, "gal")),
            ),
            "wash-water",
        ),
        (with_parts(RETENTION, CARBON, replace(SOFTENER, wash_hour=1)), "same-hour"),
        (with_feeder(output=q(2, "gpd")), "setting-high"),
        (with_feeder(strength=q(390, "g/L")), "setting-low"),
    ],
)
def test_each_conflict_is_found_and_shows_a_figure(facts, key):
    found = {conflict.key: conflict for conflict in plan_train(facts).conflicts}
    assert key in found
    assert found[key].figure
    assert key not in keys(HOUSE)


def test_the_variable_speed_conflict_shows_the_dose_at_both_ends():
    facts = replace(HOUSE, source=replace(HOUSE.source, constant_pressure=True))
    conflict = next(c for c in plan_train(facts).conflicts if c.key == "fixed-feed-variable-speed")
    dose = plan_train(facts).result("oxidant-demand", "dose", "mg/L")
    assert f"{dose * 8 / 1.5:.3g}" in conflict.figure
    assert f"{dose * 8 / 12:.3g}" in conflict.figure


def test_a_missing_figure_is_named_and_nothing_is_guessed():
    facts = replace(HOUSE, water=replace(HOUSE.water, iron=None))
    step = next(step for step in plan_train(facts).steps if step.name == "filter-interval")
    assert step.answer is None
    assert "iron" in step.refusal


def test_a_plan_can_be_written_down():
    written = plan_train(HOUSE).as_json()
    assert written["method_version"] == "train-plan/3"
    assert {step["name"] for step in written["steps"]} >= {"feed-setting", "backwash"}


@pytest.mark.parametrize(("iron", "told"), [(0.3, False), (0.4, True)])
def test_a_softener_without_a_limit_of_its_own_sees_at_most_a_third_of_a_milligram(iron, told):
    """0.3 mg/L of iron, common practice."""
    alone = replace(SOFTENER, iron_limit=None)
    water = replace(HOUSE.water, iron=q(iron, "mg/L"))
    facts = replace(HOUSE, parts=(RETENTION, alone, CARBON), water=water)
    assert ("iron-on-softener" in keys(facts)) is told
