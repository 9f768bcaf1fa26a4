"""Tank, pump, pipes, friction and demand: faults as found, limits, misprints."""

import itertools
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import EngineeringError, MissingInput, OutOfRange, WrongInput
from equipment.engineering.plumbing.demand import peak_demand
from equipment.engineering.plumbing.fixtures import (
    CHANCES,
    Fixture,
    dwelling,
    likely_flow,
    read_fixture,
    table_flow,
)
from equipment.engineering.plumbing.pipes import (
    INSIDE_DIAMETER_IN,
    friction,
    friction_factor,
    hazen_williams_psi,
    pipe_volume,
)
from equipment.engineering.plumbing.tank import atmosphere_psi, pressure_tank, well_flow
from equipment.engineering.registry import compute
from equipment.engineering.units import quantity

STEADY = settings(max_examples=30, deadline=None, derandomize=True)


def size(value, unit):
    return value.m_as(quantity(1, unit).units)


def tank(**more):
    given_keys = {
        "volume": quantity(44, "gal"),
        "precharge": quantity(38, "psi"),
        "cut_in": quantity(40, "psi"),
        "cut_out": quantity(60, "psi"),
        **more,
    }
    return pressure_tank(**given_keys)


def test_a_good_tank_has_no_warning():
    assert tank(pump_flow=quantity(5, "gpm")).warnings == ()


def test_precharge_above_cut_in_is_computed_from_the_precharge_upward_and_said():
    """Boyle: the water between 45 and 60 psi, 1 - (45 + 14.696) / (60 + 14.696) = 0.2008."""
    ours = tank(precharge=quantity(45, "psi"))
    assert ours.acceptance == pytest.approx(0.2008, abs=0.0001)
    assert any("before the well pump starts" in line for line in ours.warnings)


def test_precharge_at_cut_in_is_said():
    assert any(
        "empty at the moment" in line for line in tank(precharge=quantity(40, "psi")).warnings
    )


def test_precharge_at_or_above_cut_out_takes_no_water():
    ours = tank(precharge=quantity(62, "psi"))
    assert size(ours.drawdown, "gal") == 0
    assert any("takes no water" in line for line in ours.warnings)


def test_a_low_precharge_is_said():
    assert any("below cut-in" in line for line in tank(precharge=quantity(20, "psi")).warnings)


def test_a_short_pump_run_is_said():
    """11.35 gal / 15 gpm = 45 s."""
    short = tank(pump_flow=quantity(15, "gpm"))
    assert size(short.pump_run, "s") == pytest.approx(45.4, abs=0.1)
    assert any("45 s" in line for line in short.warnings)
    assert any("1 hp" in line for line in tank(pump_flow=quantity(8, "gpm")).warnings)


def test_reading_the_precharge_carries_its_cautions():
    assert any("gauge reads 0" in line for line in tank().cautions)


@pytest.mark.parametrize(("feet", "psi"), [(0, 14.70), (2000, 13.66), (5000, 12.23), (8000, 10.92)])
def test_air_pressure_by_altitude(feet, psi):
    """US Standard Atmosphere 1976 (MEMORY)."""
    assert atmosphere_psi(feet) == pytest.approx(psi, abs=0.01)


@pytest.mark.parametrize(
    ("more", "refusal", "key"),
    [
        ({"cut_in": quantity(60, "psi")}, OutOfRange, "cut_in"),
        ({"precharge": quantity(-1, "psi")}, OutOfRange, "precharge"),
        ({"precharge": 38}, EngineeringError, "precharge"),
        ({"volume": quantity(44, "psi")}, EngineeringError, "volume"),
        ({"altitude": quantity(20000, "ft")}, OutOfRange, "altitude"),
    ],
)
def test_tank_refusals_name_the_key(more, refusal, key):
    with pytest.raises(refusal) as caught:
        tank(**more)
    assert caught.value.key == key


@STEADY
@given(st.floats(0, 58), st.floats(1, 58))
def test_drawdown_is_between_nothing_and_the_tank_and_the_same_in_metric(precharge, cut_in):
    ours = tank(precharge=quantity(precharge, "psi"), cut_in=quantity(cut_in, "psi"))
    theirs = tank(
        volume=quantity(44 * 3.785411784, "L"),
        precharge=quantity(precharge * 6.894757, "kPa"),
        cut_in=quantity(cut_in * 6.894757, "kPa"),
    )
    assert 0 <= ours.acceptance < 1
    assert size(ours.drawdown, "gal") == pytest.approx(
        size(theirs.drawdown, "gal"), rel=1e-5, abs=1e-5
    )


def test_water_drawn_during_the_refill_is_added_back():
    known = {"drawdown": quantity(12, "gal"), "refill_time": quantity(120, "s")}
    assert size(well_flow(**known).flow, "gpm") == pytest.approx(6)
    more = well_flow(**known, drawn_meanwhile=quantity(4, "gal"))
    assert size(more.flow, "gpm") == pytest.approx(8)
    assert any("no tap was open" in line for line in well_flow(**known).warnings)
    assert not any("no tap was open" in line for line in more.warnings)


@pytest.mark.parametrize("key", ["drawdown", "refill_time"])
def test_well_flow_refusals_name_the_key(key):
    good = {"drawdown": quantity(12, "gal"), "refill_time": quantity(80, "s")}
    with pytest.raises(OutOfRange, match=key):
        well_flow(**{**good, key: good[key] * 0})
    with pytest.raises(EngineeringError, match=key):
        well_flow(**{**good, key: quantity(1, "psi")})


def test_the_larger_nominal_size_holds_more_in_every_material():
    for sizes in INSIDE_DIAMETER_IN.values():
        ordered = [sizes[nominal] for nominal in sorted(sizes)]
        assert ordered == sorted(ordered)


def test_copper_walls_thin_from_k_to_m():
    k, ell, m = (INSIDE_DIAMETER_IN[f"copper-{wall}"] for wall in "klm")
    assert all(k[nominal] < ell[nominal] < m[nominal] for nominal in k)


@pytest.mark.parametrize("text", ["1 1/4 in", "1-1/4 in", "1.25 in"])
def test_a_size_is_read_as_it_is_written(text):
    printed, _ = compute("pipe-volume", material="copper-l", nominal_size=text, length="100 ft")
    assert printed["results"]["volume"]["value"] == pytest.approx(6.53, abs=0.01)


def test_pipe_refusals_say_what_is_made():
    with pytest.raises(WrongInput, match="material: .*copper-l"):
        pipe_volume(material="lead", nominal_size="1 in", length=quantity(1, "ft"))
    with pytest.raises(WrongInput, match="nominal_size: cpvc is made in 1/2 in"):
        pipe_volume(material="cpvc", nominal_size="3/8 in", length=quantity(1, "ft"))
    with pytest.raises(OutOfRange, match="length"):
        pipe_volume(material="pex", nominal_size="1 in", length=quantity(0, "ft"))


def test_fast_water_is_said():
    run = {"material": "pex", "nominal_size": "1/2 in", "length": quantity(10, "ft")}
    assert pipe_volume(**run, flow=quantity(5, "gpm")).warnings
    assert not pipe_volume(**run, flow=quantity(2, "gpm")).warnings


def test_an_exam_page_misprints_its_own_formula():
    """It prints 22.5 psi at the inlet of 300 ft of 14 in pipe (750 gpm, C 130, 20 psi outlet): a
    loss of 2.5 psi. The formula on the same page gives 0.09 psi, and so do we."""
    loss = hazen_williams_psi(14, 300, 750, roughness=130)
    assert loss == pytest.approx(0.09, abs=0.005)
    assert abs(20 + loss - 22.5) > 2


def test_cold_water_loses_seven_to_thirteen_percent_more_than_hazen_williams():
    run = {
        "material": "pex",
        "nominal_size": "1 in",
        "length": quantity(100, "ft"),
        "flow": quantity(10, "gpm"),
    }
    plain, cold = friction(**run), friction(**run, temperature=quantity(10, "degC"))
    assert (plain.formula, cold.formula) == ("Hazen-Williams", "Darcy-Weisbach")
    assert 1.07 < size(cold.pressure_drop, "psi") / size(plain.pressure_drop, "psi") < 1.13


def test_slow_flow_is_laminar():
    """Hagen-Poiseuille: f = 64 / Re."""
    assert friction_factor(1000, 1e-4) == pytest.approx(0.064)


@STEADY
@given(st.floats(0.5, 30), st.floats(0.5, 30), st.sampled_from([None, 5, 60]))
def test_more_flow_loses_more(one, other, celsius):
    low, high = sorted((one, other))
    run = {"material": "copper-l", "nominal_size": "1 in", "length": quantity(50, "ft")}
    if celsius:
        run["temperature"] = quantity(celsius, "degC")
    less, more = (friction(**run, flow=quantity(flow, "gpm")) for flow in (low, high))
    assert size(less.pressure_drop, "psi") <= size(more.pressure_drop, "psi")


def test_between_smooth_and_turbulent_flow_the_loss_is_a_range():
    """Re 2160 in 0.785 in at 10 degC: 64 / Re is the least, a rough pipe's the most."""
    run = {"material": "copper-l", "nominal_size": "3/4 in", "length": quantity(100, "ft")}
    run["temperature"] = quantity(10, "degC")
    between = friction(**run, flow=quantity(0.7, "gpm"))
    assert between.pressure_drop_low < between.pressure_drop
    assert any("not settled" in line for line in between.warnings)
    for flow in (0.6, 1.5):
        assert friction(**run, flow=quantity(flow, "gpm")).pressure_drop_low is None


def test_an_absurd_speed_is_refused_and_hot_water_is_held_lower():
    """8 ft/s cold is 12.1 gpm in 0.785 in, 5 ft/s hot 7.5 gpm, 3 above 140 degF 4.5 gpm."""
    run = {"material": "copper-l", "nominal_size": "3/4 in", "length": quantity(10, "ft")}
    with pytest.raises(OutOfRange, match="flow"):
        friction(**run, flow=quantity(23, "gpm"))
    with pytest.raises(OutOfRange, match="flow"):
        pipe_volume(**run, flow=quantity(200, "gpm"))
    for celsius, still, loud in ((10, 12, 12.2), (55, 7.4, 7.7), (70, 4.4, 4.7)):
        water = {**run, "temperature": quantity(celsius, "degC")}
        assert not friction(**water, flow=quantity(still, "gpm")).warnings
        assert "noise" in friction(**water, flow=quantity(loud, "gpm")).warnings[0]


def test_the_two_tables_differ_and_each_is_named():
    """10 fixture units: 14.6 gpm by one table (MEMORY), 8 by the other (SEEN)."""
    nspc, ipc = (peak_demand(fixture_units=10, table=name) for name in ("nspc", "ipc"))
    assert (size(nspc.flow, "gpm"), size(ipc.flow, "gpm")) == (
        pytest.approx(8),
        pytest.approx(14.6),
    )
    assert nspc.table != ipc.table


def test_units_of_one_code_never_go_through_the_curve_of_the_other():
    """11.4 units of the IPC on the NSPC's curve were 8.7 gpm, which neither code says."""
    house = [Fixture("bathroom-group", 2), Fixture("kitchen-sink", 1)]
    house += [Fixture("dishwasher", 1), Fixture("clothes-washer", 1)]
    assert size(peak_demand(fixture=house).flow, "gpm") == pytest.approx(15.6, abs=0.05)
    for asked, key in (
        ({"fixture": house, "table": "nspc"}, "table"),
        ({"fixture_units": 11.4}, "table"),
        ({"fixture": house, "bathrooms": 2}, "fixture"),
        ({"bathrooms": 2.3}, "bathrooms"),
        ({"bathrooms": 2, "washers": 1.5}, "washers"),
    ):
        with pytest.raises(EngineeringError) as caught:
            peak_demand(**asked)
        assert caught.value.key == key


@pytest.mark.parametrize("baths", [1, 1.5, 2, 2.5, 3, 3.5, 4, 5, 6, 7, 8])
def test_a_house_of_any_number_of_bathrooms_gets_a_figure(baths):
    for table in ("nspc", "ipc"):
        assert size(peak_demand(bathrooms=baths, table=table).flow, "gpm") > 8


def test_more_than_a_house_is_said():
    assert not peak_demand(fixture_units=30, table="ipc").warnings
    assert "private house" in peak_demand(fixture_units=31, table="ipc").warnings[0]


@pytest.mark.parametrize("house", [dwelling(1, 1), dwelling(2.5, 1), dwelling(3, 1)])
def test_the_likely_flow_is_passed_once_in_a_hundred_moments_of_use(house):
    """Every on and off of every single fixture listed, a way of its own to the same percentile."""
    single = [CHANCES[each.kind] for each in house for _ in range(each.count)]
    listed = []
    for running in itertools.product((True, False), repeat=len(single)):
        pairs = list(zip(running, single, strict=True))
        share = math.prod(p if on else 1 - p for on, (p, _) in pairs)
        listed.append((sum(flow for on, (_, flow) in pairs if on), share))
    used = [(flow, share) for flow, share in listed if flow > 0]
    whole = sum(share for _, share in used)
    found = likely_flow(house)
    assert sum(share for flow, share in used if flow > found + 1e-6) / whole < 0.01
    assert sum(share for flow, share in used if flow > found - 1e-6) / whole >= 0.01


def test_pump_and_tank_limit_the_design_flow():
    ours = peak_demand(
        fixture_units=11.4,
        table="ipc",
        pump_flow=quantity(8, "gpm"),
        drawdown=quantity(11.35, "gal"),
    )
    assert ours.limited_by == "well pump and tank"
    assert any("Size the equipment" in line for line in ours.warnings)
    enough = peak_demand(fixture_units=8, table="nspc", pump_flow=quantity(8, "gpm"))
    assert (enough.limited_by, enough.warnings) == ("fixtures", ())


def test_a_wanted_flow_takes_the_place_of_the_fixtures():
    ours = peak_demand(
        fixture_units=11.4,
        table="ipc",
        pump_flow=quantity(8, "gpm"),
        wanted_flow=quantity(6, "gpm"),
    )
    assert size(ours.deliverable_flow, "gpm") == pytest.approx(6)


def test_a_gap_or_the_end_of_a_table_is_refused():
    with pytest.raises(OutOfRange, match="no row between 30 and 120"):
        table_flow(50, "nspc")
    with pytest.raises(OutOfRange, match="3 to 500"):
        table_flow(2, "nspc")
    with pytest.raises(WrongInput, match="table"):
        table_flow(5, "upc")


def test_fixtures_are_read_and_refused_by_name():
    assert read_fixture("fixture", "shower:2") == Fixture("shower", 2)
    assert read_fixture("fixture", "lavatory") == Fixture("lavatory", 1)
    for text in ("sauna:1", "shower:0", "shower:1.5", "shower:x"):
        with pytest.raises(WrongInput, match="fixture"):
            read_fixture("fixture", text)
    with pytest.raises(MissingInput, match="bathrooms"):
        peak_demand()
    with pytest.raises(WrongInput, match="fixture_units"):
        peak_demand(fixture=[Fixture("shower", 1)], fixture_units=3)


@STEADY
@given(st.floats(1, 500), st.floats(1, 500))
def test_more_fixture_units_never_ask_for_less(one, other):
    low, high = sorted((one, other))
    assert table_flow(low, "ipc") <= table_flow(high, "ipc")
