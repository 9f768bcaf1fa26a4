"""What a step of the dial-back may hold: form, act and calculation have the same limits."""

import pytest

from equipment.engineering.errors import EngineeringError
from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.engineering.oxidant.readings import HIGHEST_READING
from equipment.engineering.registry import compute
from equipment.models import FeedPump
from equipment.quantities import MEASURED
from jobs.errors import BadEntry
from jobs.fieldwork.dialling import LIMITS
from jobs.forms.dial_steps import ReadStepForm, SetStepForm
from jobs.workflows import dial_back
from tests.conftest import NOW
from tests.record_scenes import answer_all, make_house

TYPED = ("drawdown_ml_min", "tap_flow_gpm")


def beside():
    """Each limit, and a little beyond it."""
    for name, (low, high) in LIMITS.items():
        yield pytest.param(name, low, True, id=f"{name}-least")
        yield pytest.param(name, high, True, id=f"{name}-most")
        yield pytest.param(name, low - 0.01, False, id=f"{name}-below")
        yield pytest.param(name, high + 0.01, False, id=f"{name}-above")


def taken_by_form(name, value):
    if name == "residual":
        form = ReadStepForm({"look": "clear", "meter": value}, oxidant="peroxide")
        return "meter" not in form.errors and form.is_valid()
    figures = pump_for(name)[1]
    data = {**figures, name: value}
    return SetStepForm(data, figures=tuple(figures)).is_valid()


def pump_for(name):
    """A pump that has this figure, and a setting of it."""
    pumps = {
        "cycle_s": ("timer", {"setting_percent": 20.0, "cycle_s": 30.0}),
        "stroke_percent": ("stroke", {"stroke_percent": 50.0, "speed_percent": 40.0}),
        "speed_percent": ("stroke", {"stroke_percent": 50.0, "speed_percent": 40.0}),
        "pulses": ("metered", {"stroke_percent": 50.0, "pulses": 4.0}),
    }
    return pumps.get(name, ("variable", {"setting_percent": 20.0}))


def taken_by_act(name, value, record, lead):
    head, figures = pump_for(name)
    FeedPump.objects.update(head=head, strokes_per_min=100, pulses_per_gal=20)
    step = {"setting": setting_of({**figures, **({name: value} if name in figures else {})})}
    step |= {name: value} if name in TYPED else {}
    try:
        made = dial_back.set_step(record=record, by=lead, now=NOW, **step)
        if name == "residual":
            seen = dial_back.Seen("clear", value, value)
            dial_back.read_step(record=record, number=made.number, seen=seen, by=lead, now=NOW)
    except BadEntry:
        return False
    return True


def setting_of(figures):
    return PumpSetting(percent=figures.pop("setting_percent", 0.0), **figures)


@pytest.mark.django_db
@pytest.mark.parametrize(("name", "value", "is_taken"), list(beside()))
def test_form_and_act_agree(name, value, is_taken):
    record, _, lead = make_house()
    answer_all(record, lead, without=("steps",))
    assert taken_by_form(name, value) is is_taken
    assert taken_by_act(name, value, record, lead) is is_taken


def test_they_are_the_limits_of_the_figures_themselves():
    kinds = {"setting_percent": "pump_setting", "drawdown_ml_min": "feed_rate"}
    kinds["tap_flow_gpm"] = "tap_flow"
    assert {name: MEASURED[key].hard for name, key in kinds.items()} == {
        name: LIMITS[name] for name in kinds
    }
    assert LIMITS["residual"] == (0, HIGHEST_READING)


@pytest.mark.parametrize(("residual", "is_taken"), [("1000-1000", True), ("1000.01-1001", False)])
def test_the_calculation_takes_no_other_residual(residual, is_taken):
    given = {"flow": "8 gpm", "strength": "71.6 g/L", "feeder_output": "17 gpd"}
    aim = {"target_low": "5 mg/L", "target_high": "15 mg/L"}
    try:
        compute("dial-in", oxidant="peroxide", reading=[f"20:{residual}"], **given, **aim)
    except EngineeringError:
        assert not is_taken
    else:
        assert is_taken


@pytest.mark.django_db
def test_the_upper_end_of_a_band_has_the_limits_of_the_lower():
    record, _, lead = make_house()
    answer_all(record, lead, without=("steps",))
    dial_back.set_step(record=record, setting=PumpSetting(percent=20), by=lead, now=NOW)
    seen = dial_back.Seen("clear", 5, HIGHEST_READING + 1)
    with pytest.raises(BadEntry):
        dial_back.read_step(record=record, number=1, seen=seen, by=lead, now=NOW)
    assert record.steps.get().read_at is None
