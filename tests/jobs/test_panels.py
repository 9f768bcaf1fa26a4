"""Panels: where their figures come from, and that they answer as the published tables do."""

import pytest
from django.urls import reverse

from equipment.engineering.registry import calculation
from equipment.models import Medium
from jobs.fieldwork.glasses import glass_of, shown_on, written
from jobs.fieldwork.panels.table import PANELS
from jobs.records.loading import load_sheet
from tests.conftest import NOW, signed_in
from tests.factories import make_measurement, make_product, make_setting, make_stage, make_train
from tests.record_scenes import answer, answer_all, make_house

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    record, _, lead = make_house()
    return record, lead


def outcome(record, name, stage=None, **typed):
    sheet = load_sheet(record, now=NOW)
    part = next(s for s in sheet.stages if s.pk == stage.pk) if stage else None
    return sheet.outcomes.typed(name, part, typed)


def test_every_panel_feeds_keys_and_shows_results_that_exist():
    for panel in PANELS.values():
        entry = calculation(panel.name)
        results = {field.name for field in entry.answer.result_fields()}
        assert {panel.answer, *panel.or_else, *(key for key, _ in panel.rows)} <= results
        for source in panel.inputs:
            entry.key(source.key)


def test_the_well_is_fed_from_the_file_and_typing_goes_before():
    """1.47 gal/ft in a 6 in casing: MIL-HDBK-1164, table 1."""
    record, _, _ = make_house(purpose="survey", kind="survey")
    well = record.train.wells.get()
    for key, value in (("casing_diameter", 6), ("total_depth", 240), ("static_level", 60)):
        make_measurement(well=well, quantity_key=key, value=value)
    found = outcome(record, "well-volume")
    assert found.value("volume_per_length") == pytest.approx(1.47, abs=0.01)
    assert found.value("volume") == pytest.approx(180 * 1.47, abs=180 * 0.01)
    typed = outcome(record, "well-volume", static_level="140 ft")
    assert typed.value("volume") == pytest.approx(100 * 1.47, abs=100 * 0.01)
    assert typed.known["static_level"].origin == "typed here"
    assert found.known["total_depth"].origin.startswith("measured")


def test_a_well_that_may_not_be_opened_uses_the_full_depth_and_says_so():
    record, _, _ = make_house(purpose="survey", kind="survey")
    well = record.train.wells.get()
    for key, value in (("casing_diameter", 6), ("total_depth", 240)):
        make_measurement(well=well, quantity_key=key, value=value)
    found = outcome(record, "well-volume")
    assert found.value("water_column") == pytest.approx(240)
    assert "errs high" in found.known["static_level"].origin


def test_an_answer_goes_before_the_file(house):
    record, lead = house
    make_measurement(site=record.site, quantity_key="iron", value=1, place="raw")
    assert outcome(record, "oxidant-demand").known["iron"].value == 1
    answer(record, lead, "raw-iron", "3")
    known = outcome(record, "oxidant-demand").known["iron"]
    assert (known.value, known.origin) == (3, "answered here")


def test_a_panel_says_what_it_needs(house):
    record, _ = house
    glass = glass_of(outcome(record, "turnover"), "us")
    assert glass.waiting == "needs: flow of the running tap"
    assert glass.answer == ""


def test_a_refused_figure_is_named_and_nothing_is_raised(house):
    record, _ = house
    found = outcome(record, "bucket-flow", volume="5 gal", time="-3")
    assert found.refused_key == "time"
    assert found.refusal.startswith("Time to fill it:")


def test_a_bare_number_takes_the_unit_beside_the_box(house):
    record, _ = house
    bare = outcome(record, "bucket-flow", volume="5", time="30")
    assert bare.value("flow") == pytest.approx(10)  # 5 gal in half a minute
    comma = outcome(record, "bucket-flow", volume="2,5", time="30")
    assert comma.value("flow") == pytest.approx(5)
    litres = outcome(record, "bucket-flow", volume="18.927 L", time="30")
    assert litres.value("flow") == pytest.approx(10, abs=0.001)


def test_panels_rest_on_each_other(house):
    """The measured output is preferred to the plate: 26 mL in 180 s at 20 percent.

    26/180 x 60 = 8.667 mL/min, over 0.2 is 43.33 mL/min, 16.48 gpd (arithmetic, 3785.41 mL/gal).
    """
    record, lead = house
    answer_all(record, lead, without=("steps", "feed-time"))
    assert outcome(record, "feed-setting").known["feeder_output"].origin == "from the catalog"
    feeder = record.train.stages.get(kind="feeder")
    make_setting(stage=feeder, new_value=20)
    answer(record, lead, "feed-time", "180", stage=feeder)
    known = outcome(record, "feed-setting").known["feeder_output"]
    assert known.origin == "worked out on this record"
    assert known.value == pytest.approx(16.48, abs=0.01)


def test_what_stands_in_the_tank_is_what_lasts(house):
    """The whole tank until somebody reads its level."""
    record, lead = house
    for level, gallons in ((None, 15), ("12", 12)):
        if level:
            feeder = record.train.stages.get(kind="feeder")
            answer(record, lead, "solution-level", level, stage=feeder)
        assert outcome(record, "feed-setting").known["tank_volume"].value == gallons


def test_a_bed_is_washed_before_it_holds_what_its_medium_takes(house):
    """Iron 3 mg/L and the sulfur of 2 mg/L of sulfide, 1.88, are 64.2 grain in 225 gal a day.

    There is no manganese.

    A bed of 10 in has 0.545 ft2: at 400 grain to the square foot it is full after 3.4 days.
    """
    record, lead = house
    answer_all(record, lead, answers={"raw-manganese": "0"}, without=("steps",))
    for load, days in ((400, 3.4), (800, 6.8)):
        Medium.objects.update(loading_limit_grain_ft2=load, interval_max_days=30)
        found = outcome(record, "filter-interval", record.train.stages.get(kind="filter"))
        assert found.value("days") == pytest.approx(days, abs=0.02)


def test_a_panel_of_each_filter_knows_its_own_tank(house):
    record, _ = house
    sheet = load_sheet(record, now=NOW)
    pairs = [
        (panel.name, stage.kind) for panel, stage in sheet.outcomes.on_page("program") if stage
    ]
    assert pairs == [("filter-interval", "filter"), ("softener", "softener")]


def test_the_flow_through_retention_follows_where_the_tank_stands(house):
    record, lead = house
    answer(record, lead, "pump-flow", "8")
    make_measurement(site=record.site, quantity_key="peak_flow", value=12)
    assert outcome(record, "contact").known["flow"].value == 8
    record.train.retention_side = "after"
    record.train.save()
    record.refresh_from_db()
    assert outcome(record, "contact").known["flow"].value == 12


def test_bathrooms_say_what_the_house_can_ask_for_and_beds_are_judged_by_it():
    """Three bathrooms, kitchen and washer: 15 units, 11 gpm (NSPC Tables B.5.2 and B.5.4)."""
    record, _, lead = make_house(purpose="survey", kind="survey")
    answer(record, lead, "bathrooms", "3")
    found = outcome(record, "peak-demand")
    assert found.value("flow") == pytest.approx(11)
    assert found.value("likely_flow") == pytest.approx(9)
    html = signed_in(lead).get(reverse("record-block", args=[record.pk, "house"])).content.decode()
    assert "Flow the house can ask for at once" in html
    well = record.train.wells.get()
    for key, value in (("pump_flow", 8), ("drawdown_volume", 10)):
        make_measurement(well=well, quantity_key=key, value=value)
    bed = outcome(record, "bed", record.train.stages.get(kind="filter"))
    assert bed.known["flow"].value == pytest.approx(8 + 10 / 5)
    make_measurement(site=record.site, quantity_key="peak_flow", value=6)
    told = outcome(record, "bed", record.train.stages.get(kind="filter"))
    assert told.known["flow"].value == 6


def test_chlorine_is_worked_out_for_well_pipes_and_all_that_is_answered_in_line():
    """6 in by 100 ft hold 146.9 gal; 44 gal at 28 psi hold 15.0 gal at 50 psi (Boyle)."""
    record, _, lead = make_house(purpose="disinfect", kind="disinfect")
    well = record.train.wells.get()
    figures = {"casing_diameter": 6, "total_depth": 140, "static_level": 40}
    tank = {"pressure_tank_volume": 44, "precharge": 28, "cut_out": 50}
    for key, value in {**figures, **tank}.items():
        make_measurement(well=well, quantity_key=key, value=value)
    record.train.plumbing_volume_gal = 10
    record.train.save()
    answer(record, lead, "disinfect-scope", "here")
    answer(record, lead, "chlorine-product", "liquid")
    answer(record, lead, "chlorine-strength", "6")
    bare = outcome(record, "shock-chlorination")
    assert bare.value("treated_volume") == pytest.approx(146.9 + 10 + 15.0, abs=0.2)
    assert "not answered: heater, " in bare.known["plumbing_volume"].origin
    answer(record, lead, "heater", "treated")
    answer(record, lead, "heater-volume", "50")
    retention = record.train.stages.get(kind="retention")
    answer(record, lead, "bypass-list", "in_line", stage=retention)
    whole = outcome(record, "shock-chlorination")
    assert whole.value("treated_volume") == pytest.approx(146.9 + 75 + 120, abs=0.2)
    answer(record, lead, "bypass-list", "bypassed", stage=retention)
    answer(record, lead, "heater", "tankless")
    assert outcome(record, "shock-chlorination").value("treated_volume") == pytest.approx(
        bare.value("treated_volume")
    )


def test_the_percent_on_a_label_is_read_as_the_label_means_it():
    """Trade percent is g in 100 mL: 5.25 is 52.5 g/L whatever the density (327 IAC 8-3.4-24)."""
    product = make_product(
        oxidant="chlorine", label_strength_percent=5.25, strength_basis="trade", density_g_ml=1.08
    )
    train = make_train(stages=("filter",))
    make_stage(train=train, kind="feeder", product=product)
    record, _, lead = make_house(train=train)
    assert outcome(record, "solution-strength").value("strength") == pytest.approx(52.5)
    assert product.strength_g_l == pytest.approx(52.5)
    answer(record, lead, "disinfect-scope", "here")
    answer(record, lead, "chlorine-product", "liquid")
    answer(record, lead, "chlorine-strength", "12.5")
    read = {}
    for basis in ("trade", "w/w"):
        answer(record, lead, "chlorine-basis", basis)
        asked = {"casing_diameter": "6", "total_depth": "100", "target": "100"}
        read[basis] = outcome(record, "shock-chlorination", **asked).value("product_volume")
    # 12.5 by weight at about 1.18 g/mL is 140 g/L of chlorine, 125 by trade
    assert read["trade"] / read["w/w"] == pytest.approx(140.6 / 125, abs=0.01)


def test_carbon_never_stays_in_line_while_chlorine_is_in():
    record, _, lead = make_house(purpose="disinfect", kind="disinfect")
    answer(record, lead, "disinfect-scope", "here")
    carbon = record.train.stages.get(kind="filter")
    for told, state in (("in_line", "failed"), ("weaker", "failed"), ("bypassed", "passed")):
        answer(record, lead, "bypass-list", told, stage=carbon)
        assert load_sheet(record, now=NOW).item("bypass-list", carbon_fact(record)).state == state


def carbon_fact(record):
    return load_sheet(record, now=NOW).stage("filter")


def test_the_live_panel_answers_with_the_inside_of_its_glass(house):
    record, lead = house
    answer(record, lead, "tap-flow", "5")
    client = signed_in(lead)
    address = reverse("record-panel", args=[record.pk, "turnover"])
    html = client.get(address, {"turnover~volume": "100"}).content.decode()
    assert "<html" not in html
    assert "60.0" in html  # 3 x 100 gal at 5 gpm
    kept = set(record.answers.values_list("line_key", flat=True))
    assert kept == {"uses-asked", "tap-flow"}, "a panel keeps nothing"


def test_without_script_compute_gives_the_same_page_with_numbers(house):
    record, lead = house
    address = reverse("record-block", args=[record.pk, "backwash"])
    html = (
        signed_in(lead)
        .get(address, {"bucket-flow~volume": "5", "bucket-flow~time": "30"})
        .content.decode()
    )
    assert "Compute" in html
    assert 'value="30"' in html
    assert ">10.0" in "".join(html.split())


def test_the_cautions_of_the_figures_stand_once_on_the_page(house):
    record, lead = house
    answer_all(record, lead, without=("steps",))
    sheet = load_sheet(record, now=NOW)
    assert len([s for s in shown_on(sheet.outcomes, "dial-back", system="us") if s.cautions]) > 2
    html = signed_in(lead).get(reverse("record-block", args=[record.pk, "dial-back"]))
    for shown in shown_on(sheet.outcomes, "dial-back", system="us"):
        for line in shown.cautions:
            assert html.content.decode().count(line[:60]) <= 2


@pytest.mark.parametrize(
    ("result", "system", "wanted"),
    [
        ({"value": 10.0, "unit": "gal"}, "us", ("10.0", "gal")),
        ({"value": 10.0, "unit": "gal"}, "metric", ("37.9", "L")),  # 3.785412 L, NIST Handbook 44
        ({"low": 1.0, "high": 2.0, "unit": "gpm"}, "metric", ("3.79 to 7.57", "L/min")),
        ({"value": 20.0, "unit": "percent"}, "metric", ("20.0", "percent")),
        ({"value": True, "unit": ""}, "metric", ("yes", "")),
        ({"value": "flow", "unit": ""}, "metric", ("flow", "")),
    ],
)
def test_figures_are_written_in_the_units_of_the_person(result, system, wanted):
    assert written(result, system) == wanted


def test_iron_that_a_filter_has_taken_is_not_programmed_into_the_softener(house):
    """Behind a filter 0.3 mg/L (SMCL, 40 CFR 143.3) at most; without one ahead the raw 3 mg/L.

    A factor of 4 gpg for each mg/L is common practice, no source.
    """
    record, lead = house
    answer_all(record, lead, without=("steps",))
    softener = record.train.stages.get(kind="softener")
    told = outcome(record, "softener", softener)
    assert (told.known["iron"].value, "filter ahead" in told.known["iron"].origin) == (0.3, True)
    # 20 mg/L of hardness, 0.3 of iron and 1 of manganese, at 17.12 mg/L a grain, by hand
    assert told.value("compensated_hardness") == pytest.approx(20 / 17.12 + 4 * 0.3 + 2, abs=0.005)
    record.train.stages.filter(kind="filter").update(kind="sediment")
    assert outcome(record, "softener", softener).known["iron"].value == 3
