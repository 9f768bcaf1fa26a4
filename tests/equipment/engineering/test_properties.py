"""What holds for every calculation: examples compute, units are closed, the unit typed is free,
each input pushes the way it must, and a calculation undoes its inverse."""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from equipment.engineering.disinfection.contact import LARGEST_GAL
from equipment.engineering.registry import compute, load
from equipment.engineering.results import Interval
from equipment.engineering.units import UNITS, Quantity, read_quantity, split_typed, unit

from .examples import EXAMPLES, IN_STEPS, PUSHES, entries

STEADY = settings(max_examples=30, derandomize=True, deadline=None)
FEW = settings(max_examples=6, derandomize=True, deadline=None)
#: same dimension for pint, another thing for people: never typed one for the other
APART = ({"percent"}, {"mg*min/L", "mg*h/L"})


def kin(unit_name):
    """Our other units of the same dimension, one for each size."""
    family = next((group for group in APART if unit_name in group), None)
    found = {}
    for name in UNITS:
        if family is not None and name not in family or family is None and name == "percent":
            continue
        if unit(name).dimensionality == unit(unit_name).dimensionality:
            found.setdefault(unit(name), name)
    return [name for same, name in found.items() if same != unit(unit_name)]


def numbers(answer):
    """Every number of an answer in its own unit, intervals as two."""
    found = {}
    for name, shown in answer.results().items():
        for part in ("value", "low", "high"):
            if part in shown:
                found[f"{name}.{part}"] = shown[part]
    return found


def quantity_texts():
    """(entry, key, typed text) of every quantity in the examples."""
    for entry, typed in entries():
        for key in entry.keys:
            if key.kind == "quantity" and key.name in typed and typed[key.name] not in key.words:
                yield entry, key, typed[key.name]


OTHER_UNITS = [
    pytest.param(entry, key, text, other, id=f"{entry.name}-{key.name}-{other}")
    for entry, key, text in quantity_texts()
    for other in kin(split_typed(key.name, text)[1])
]


def test_every_calculation_has_an_example_and_is_pushed():
    assert set(EXAMPLES) == set(load())
    assert [name for name, pushes in PUSHES.items() if not pushes] == []


@pytest.mark.parametrize(("entry", "typed"), entries(), ids=lambda part: getattr(part, "name", ""))
def test_every_example_computes_and_shows_its_working(entry, typed):
    printed, answer = compute(entry.name, **typed)
    assert set(typed) == set(printed["inputs"])
    assert printed["results"]
    assert answer.sources
    for value in numbers(answer).values():
        assert not isinstance(value, float) or math.isfinite(value)


@pytest.mark.parametrize(("entry", "typed"), entries(), ids=lambda part: getattr(part, "name", ""))
def test_every_result_has_the_dimension_it_declares(entry, typed):
    _, answer = compute(entry.name, **typed)
    for spec in entry.answer.result_fields():
        value = getattr(answer, spec.name)
        declared = spec.metadata["unit"]
        ends = [value.low, value.high] if isinstance(value, Interval) else [value]
        for end in ends:
            if end is None or isinstance(end, (str, bool)):
                assert not (isinstance(end, str) and declared), spec.name
            elif declared:
                assert isinstance(end, Quantity), spec.name
                assert end.dimensionality == unit(declared).dimensionality, spec.name
            else:
                bare = end.dimensionless if isinstance(end, Quantity) else True
                assert bare, spec.name


@pytest.mark.parametrize(("entry", "key", "text", "other"), OTHER_UNITS)
def test_the_same_answer_whatever_unit_is_typed(entry, key, text, other):
    """6 in and 152.4 mm are one length; steps of a table may not fall between them either."""
    size = read_quantity(key.name, text, split_typed(key.name, text)[1]).m_as(unit(other))
    typed = EXAMPLES[entry.name]
    _, here = compute(entry.name, **typed)
    _, there = compute(entry.name, **{**typed, key.name: f"{size!r} {other}"})
    ours, theirs = numbers(here), numbers(there)
    assert ours.keys() == theirs.keys()
    for name, value in ours.items():
        if isinstance(value, (str, bool)):
            assert value == theirs[name], name
        else:
            assert theirs[name] == pytest.approx(value, rel=1e-9, abs=1e-12), name
    assert len(here.warnings) == len(there.warnings)


def test_enough_units_were_tried():
    assert len(OTHER_UNITS) > 300


# --- which way each input pushes ------------------------------------------------------------

#: which way a result must go when an input is made larger, from the formula in the docstring
WAYS = {"up": 1, "down": -1, "same": 0}
#: inputs that are counts or must not be scaled freely
COUNTS = {"callbacks", "jobs", "observed", "people"}

CASES = [
    pytest.param(name, result, key, WAYS[way], id=f"{name}-{result}-{key}")
    for name, results in PUSHES.items()
    for result, ways in results.items()
    for key, way in ways.items()
]


def pushed(name, key, share):
    """The example with one input made `share` larger, in its own unit; counts stay whole."""
    text = EXAMPLES[name][key]
    size, unit_name = split_typed(key, text)
    size = math.ceil(size * (1 + share)) if key in COUNTS else size * (1 + share)
    return {**EXAMPLES[name], key: f"{size!r} {unit_name}".strip()}


def amount(name, result, typed):
    field, _, end = result.partition(".")
    return numbers(compute(name, **typed)[1])[f"{field}.{end or 'value'}"]


@pytest.mark.parametrize(("name", "result", "key", "way"), CASES)
@FEW
@given(share=st.floats(0.001, 0.04))
def test_each_input_pushes_the_way_it_must(name, result, key, way, share):
    before = amount(name, result, EXAMPLES[name])
    after = amount(name, result, pushed(name, key, share))
    if way == WAYS["same"]:
        assert after == pytest.approx(before, rel=1e-12)
        return
    moved = (after - before) * way
    assert moved >= 0 if result in IN_STEPS[name] else moved > 0


# --- one calculation undoes another ---------------------------------------------------------

FLOWS, DOSES = st.floats(1, 40), st.floats(0.5, 60)
STRENGTHS, OUTPUTS = st.floats(5, 400), st.floats(5, 60)


@STEADY
@given(FLOWS, DOSES, STRENGTHS, OUTPUTS)
def test_the_dose_of_the_setting_is_the_dose_asked_for(flow, dose, strength, output):
    feeder = {
        "flow": f"{flow} gpm",
        "strength": f"{strength} g/L",
        "feeder_output": f"{output} gpd",
    }
    _, wanted = compute("feed-setting", dose=f"{dose} mg/L", **feeder)
    setting = float(wanted.setting.m_as(unit("percent")))
    if setting > 100:
        return
    _, back = compute("dose-from-setting", setting=f"{setting} percent", **feeder)
    assert back.dose.m_as(unit("mg/L")) == pytest.approx(dose, rel=1e-9)
    assert back.feed_rate.m_as(unit("mL/min")) == pytest.approx(
        wanted.feed_rate.m_as(unit("mL/min")), rel=1e-9
    )


@STEADY
@given(FLOWS, st.floats(1, 60), st.floats(0.1, 1))
def test_a_tank_of_the_size_asked_for_gives_the_contact_asked_for(flow, minutes, factor):
    _, tank = compute(
        "retention-size",
        flow=f"{flow} gpm",
        contact_time=f"{minutes} min",
        baffling_factor=f"{factor}",
    )
    gallons = float(tank.volume.m_as(unit("gal")))
    assume(gallons <= LARGEST_GAL)
    _, back = compute(
        "contact", volume=f"{gallons} gal", flow=f"{flow} gpm", baffling_factor=f"{factor}"
    )
    assert back.t10.m_as(unit("min")) == pytest.approx(minutes, rel=1e-9)


@STEADY
@given(st.floats(5, 200), st.floats(5, 60), st.floats(20, 100))
def test_a_feeder_drawn_down_at_a_setting_doses_what_was_drawn(drawn, strength, setting):
    """Calibration turns mL in a minute into output; the setting turns it into mL again."""
    _, feeder = compute(
        "feeder-calibration", drawn=f"{drawn} mL", time="60 s", setting=f"{setting} percent"
    )
    output = float(feeder.output.m_as(unit("gpd")))
    _, back = compute(
        "dose-from-setting",
        flow="8 gpm",
        strength=f"{strength} g/L",
        feeder_output=f"{output} gpd",
        setting=f"{setting} percent",
    )
    assert back.feed_rate.m_as(unit("mL/min")) == pytest.approx(drawn, rel=1e-9)


@STEADY
@given(st.floats(6, 24), st.floats(12, 60))
def test_depth_from_volume_is_the_depth_it_came_from(inches, depth):
    _, one = compute("bed", diameter=f"{inches} in", bed_depth=f"{depth} in")
    volume = float(one.bed_volume.m_as(unit("ft3")))
    _, other = compute("bed", diameter=f"{inches} in", bed_volume=f"{volume} ft3")
    assert other.bed_depth.m_as(unit("in")) == pytest.approx(depth, rel=1e-9)


@STEADY
@given(st.floats(1, 20), st.floats(10, 100), st.floats(200, 600), st.floats(101, 190))
def test_a_topped_up_tank_has_the_strength_asked_for(left, weak, strong, target):
    typed = {
        "remaining_volume": f"{left} gal",
        "remaining_strength": f"{weak} g/L",
        "add_strength": f"{strong} g/L",
    }
    whole = left * 40
    _, plan = compute(
        "solution-top-up", target_strength=f"{target} g/L", final_volume=f"{whole} gal", **typed
    )
    poured = float(plan.product_volume.m_as(unit("gal")))
    mixed = (left * weak + poured * strong) / whole
    assert mixed == pytest.approx(target, rel=1e-9)
    assert plan.strength.m_as(unit("g/L")) == pytest.approx(target, rel=1e-9)
