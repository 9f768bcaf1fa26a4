"""Dial-in: starts, limits, judgement, and that following the advice gets there."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput, WrongUnit
from equipment.engineering.oxidant.demand_fit import Reading
from equipment.engineering.oxidant.dial_in import dial_in
from equipment.engineering.registry import compute
from equipment.engineering.units import quantity as q

THOROUGH = settings(max_examples=150, derandomize=True, deadline=None)
FEED = {"flow": "8 gpm", "strength": "71.6 g/L", "feeder_output": "17 gpd"}
PEROXIDE = {"oxidant": "peroxide", **FEED, "target_low": "5 mg/L", "target_high": "15 mg/L"}
CHLORINE = {"oxidant": "chlorine", **FEED, "target_low": "0.5 mg/L", "target_high": "2 mg/L"}
G = 17 / 1440 / 8 * 71600 / 100


def ask(base, *readings, **more):
    return compute("dial-in", **base, reading=list(readings), **more)[1]


def setting(answer):
    return answer.next_setting.magnitude


def said(texts, words):
    return any(words in text for text in texts)


CLEAR = {"iron_clear": "true", "odour_clear": "true"}


def test_peroxide_starts_at_the_smallest_of_the_three():
    assert setting(ask(PEROXIDE, computed_setting="19.8 percent")) == pytest.approx(39.6)
    assert setting(ask(PEROXIDE, computed_setting="70 percent")) == 100
    limited = ask(PEROXIDE, computed_setting="19.8 percent", maximum_use_level="30 mg/L")
    assert setting(limited) == pytest.approx(30 / G)
    assert limited.next_dose.magnitude == pytest.approx(30)
    only = ask(PEROXIDE, maximum_dose="30 mg/L")
    assert setting(only) == pytest.approx(30 / G)
    assert said(limited.cautions, "House isolated")


@pytest.mark.parametrize("oxidant", ["chlorine", "permanganate"])
def test_other_oxidants_start_at_the_computed_setting(oxidant):
    answer = ask({**CHLORINE, "oxidant": oxidant}, computed_setting="19.8 percent")
    assert setting(answer) == pytest.approx(19.8)
    assert not answer.stop


def test_without_anything_to_start_from():
    for base in (PEROXIDE, CHLORINE):
        with pytest.raises(MissingInput, match="computed_setting"):
            ask(base)
    with pytest.raises(MissingInput, match="computed_setting"):
        ask(CHLORINE, maximum_dose="10 mg/L")


def test_early_reading_does_not_count():
    answer = ask(PEROXIDE, "40:17.5-37.5", "20:17.5-37.5:2.9", **CLEAR)
    assert setting(answer) == 20
    assert not answer.stop
    assert "too early" in answer.reason
    assert said(answer.warnings, "does not count")
    later = ask(PEROXIDE, "40:17.5-37.5:1", "20:7.5-12.5", **CLEAR)
    assert later.stop


@pytest.mark.parametrize(
    ("reading", "stops"),
    [("60:3-13", True), ("20:3-13", False), ("90:1.5-11.5", False)],
    ids=["2 percent of setting to go", "a tenth to go", "far over the edge"],
)
def test_a_small_step_is_not_worth_another_wait(reading, stops):
    """The reading reaches 2 mg/L (a fifth of the band) below the target. Its middle is 2 mg/L low,
    1.9 percent of setting: little of 60, much of 20. A reach of 3.5 mg/L is more than a quarter."""
    assert ask(PEROXIDE, reading, **CLEAR).stop is stops


def test_stop_needs_iron_and_odour_at_the_tap():
    assert ask(PEROXIDE, "20:7.5-12.5", **CLEAR).stop is True
    unsaid = ask(PEROXIDE, "20:7.5-12.5")
    assert unsaid.stop is False
    assert unsaid.reason.startswith("Residual only")
    assert ask(PEROXIDE, "20:7.5-12.5", iron_clear="true").stop is False
    smells = ask(PEROXIDE, "20:5-10", iron_clear="true", odour_clear="false")
    assert smells.stop is False
    assert setting(smells) > 20
    at_top = ask(PEROXIDE, "20:5-15", iron_clear="true", odour_clear="false")
    assert setting(at_top) == 20
    assert "more oxidant will not help" in at_top.reason


def test_never_lower_while_the_tap_is_not_clear():
    for clear in ({"iron_clear": "false"}, {"odour_clear": "false"}):
        answer = ask(PEROXIDE, "40:20-30", **clear)
        assert setting(answer) == 40
        assert not answer.stop
        assert answer.setting_limits.low.magnitude == 40


def test_step_down_is_halved_until_the_tap_is_known():
    known = 40 - setting(ask(PEROXIDE, "40:20-25", **CLEAR))
    unknown = 40 - setting(ask(PEROXIDE, "40:20-25"))
    assert unknown == pytest.approx(known / 2)


def test_a_step_goes_half_down_or_half_up():
    assert setting(ask(PEROXIDE, "80:>75", **CLEAR)) >= 40
    down = ask(PEROXIDE, "80:60-70", **CLEAR)
    assert setting(down) == pytest.approx(40)
    up = ask(PEROXIDE, "20:0-0.25")
    assert setting(up) == pytest.approx(20 + 10 / G)
    low = ask(PEROXIDE, "6:0-0.25")
    assert setting(low) == pytest.approx(9)


@pytest.mark.parametrize(
    ("first", "last"),
    [("32:1-2", "30:5-10"), ("40:0-0", "30:5-10"), ("50:0.5-1", "20:2-5")],
)
def test_never_raise_from_a_reading_above_the_target(first, last):
    """Whatever was read before: what runs now is what the tap gets (common practice, no source)."""
    answer = ask(CHLORINE, first, last, **CLEAR)
    now = float(last.partition(":")[0])
    assert setting(answer) <= now
    assert not answer.stop


def test_never_lower_from_a_reading_below_the_target():
    answer = ask(PEROXIDE, "20:25-50", "40:0-2", **CLEAR)
    assert setting(answer) >= 40
    assert not answer.stop


def test_above_the_top_pad_cuts_at_least_a_quarter():
    assert setting(ask(PEROXIDE, "20:>12", **CLEAR)) == pytest.approx(15)


def test_two_zeros_in_a_row_wait_for_the_feeder_to_be_checked():
    held = ask(PEROXIDE, "20:0-0.25", "30:0-0.25")
    assert setting(held) == 30
    assert "Zero twice" in held.reason
    checked = ask(PEROXIDE, "20:0-0.25", "30:0-0.25", feeder_checked="true")
    assert setting(checked) == pytest.approx(45)


def test_target_out_of_reach_is_said():
    answer = ask(PEROXIDE, "60:0-0.25", "90:0-0.25", "100:0-0.25", feeder_checked="true")
    assert setting(answer) == 100
    assert "another method" in answer.reason
    capped = ask(PEROXIDE, "18:0-0.25", "18.9:0-0.25", maximum_dose="20 mg/L", feeder_checked="1")
    assert capped.next_dose.magnitude <= 20.0001


def test_setting_above_the_largest_dose_comes_down_at_once():
    answer = ask(PEROXIDE, "80:60-70", maximum_use_level="20 mg/L")
    assert answer.next_dose.magnitude == pytest.approx(20)


def test_coarse_reading_asks_for_a_finer_one():
    answer = ask(PEROXIDE, "20:5-25", **CLEAR)
    assert setting(answer) == 20
    assert not answer.stop
    assert "finer strip" in answer.reason


def test_permanganate_with_no_residual_rises_until_the_tap_is_clear():
    base = {
        **CHLORINE,
        "oxidant": "permanganate",
        "target_low": "0 mg/L",
        "target_high": "0.1 mg/L",
    }
    muddy = ask(base, "20:0-0.05", iron_clear="false", odour_clear="true")
    assert setting(muddy) == pytest.approx(25)
    assert ask(base, "25:0-0.05", **CLEAR).stop
    pink = ask(base, "25:0.5-1", **CLEAR)
    assert setting(pink) < 25


def test_warnings_and_cautions():
    answer = ask(PEROXIDE, "8:3.5-7.5", "8:0.5-3", "8:12-18")
    assert said(answer.warnings, "fell at the same setting")
    assert said(answer.warnings, "Below 10 percent")
    assert said(ask(PEROXIDE, "10:30-40").warnings, "More residual than the feeder should feed")
    assert said(ask(PEROXIDE, "20:18-20", "60:2-4").warnings, "only the last one counts")
    assert said(ask(PEROXIDE, "20:7.5-12.5").cautions, "does not prove that sulfide is gone")
    assert said(ask(PEROXIDE, "20:7.5-12.5").cautions, "No maximum use level")
    assert said(ask(CHLORINE, "10:3-6").cautions, "above 4 mg/L")
    assert said(ask(CHLORINE, "10:3-6").cautions, "Never feed or mix chlorine and peroxide")
    steps = ask(PEROXIDE, "80:>75", "40:>25", "30:17.5-37.5", "25:17.5-37.5")
    assert said(steps.warnings, "within two working days")
    strong = {**CHLORINE, "strength": "143 g/L"}
    assert said(ask(strong, "10:0-0.25").warnings, "One percent of setting is worth 2.11 mg/L")
    assert said(ask(PEROXIDE, "80:60-70").warnings, "may fizz")


@pytest.mark.parametrize(
    ("changes", "error", "key"),
    [
        ({"oxidant": "ozone"}, WrongInput, "oxidant"),
        ({"reading": ["0:5-10"]}, OutOfRange, "reading"),
        ({"target_high": "4 mg/L"}, WrongInput, "target_high"),
        ({"target_low": "5"}, WrongUnit, "target_low"),
        ({"maximum_dose": "0 mg/L"}, OutOfRange, "maximum_dose"),
        ({"iron_clear": "perhaps"}, WrongInput, "iron_clear"),
        ({"computed_setting": "20"}, WrongUnit, "computed_setting"),
    ],
)
def test_refusals_name_the_key(changes, error, key):
    with pytest.raises(error) as refused:
        compute("dial-in", **{**PEROXIDE, "reading": ["20:5-10"], **changes})
    assert refused.value.key == key


def test_answer_as_json():
    printed, _ = compute("dial-in", **PEROXIDE, reading=["40:>25", "20:7.5-12.5"])
    assert printed["inputs"]["reading"][0] == {
        "setting": 40.0,
        "low": 25.0,
        "unit": "mg/L",
        "turnovers": 3.0,
    }
    assert set(printed["results"]["expected_residual"]) == {"low", "high", "unit"}
    assert printed["results"]["stop"]["value"] is False


# --- following the advice -------------------------------------------------------------------

STRIPS = {
    "peroxide": (0, 0.5, 2, 5, 10, 25, 50, 100),
    "chlorine": (0, 0.25, 0.5, 1, 2, 4, 10),
}
TARGETS = {"peroxide": (5, 15), "chlorine": (0.5, 2)}


def pad(strip, residual):
    """The band a strip shows: from halfway to the pad below to halfway to the pad above."""
    at = min(range(len(strip)), key=lambda i: abs(strip[i] - residual))
    low = 0.0 if at == 0 else (strip[at - 1] + strip[at]) / 2
    high = math.inf if at == len(strip) - 1 else (strip[at] + strip[at + 1]) / 2
    return low, high


def follow(oxidant, calibration, factor, demand, computed, band, maximum=None, steps=6):
    """Set, read, ask again: readings needed until it says stop, the residual, every setting."""
    low, high = TARGETS[oxidant]
    feed = {
        "oxidant": oxidant,
        "flow": q(10, "gpm"),
        "strength": q(144 * calibration, "g/L"),
        "feeder_output": q(10, "gpd"),
        "target_low": q(low, "mg/L"),
        "target_high": q(high, "mg/L"),
        "computed_setting": q(computed, "percent"),
        "maximum_dose": None if maximum is None else q(maximum, "mg/L"),
        "feeder_checked": True,
    }
    answer = dial_in(**feed)
    readings, tried = [], []
    for count in range(1, steps + 1):
        at = answer.next_setting.magnitude
        tried.append(at)
        residual = max(0.0, factor * calibration * at - demand)
        readings.append(Reading(at, *band(residual)))
        clear = factor * calibration * at >= demand
        answer = dial_in(**feed, reading=readings, iron_clear=clear, odour_clear=clear)
        if answer.stop:
            return count, residual, tried
    return None, residual, tried


def test_calibration_of_the_simulation():
    answer = dial_in(
        oxidant="chlorine",
        flow=q(10, "gpm"),
        strength=q(144 * 0.5, "g/L"),
        feeder_output=q(10, "gpd"),
        target_low=q(1, "mg/L"),
        target_high=q(2, "mg/L"),
        computed_setting=q(20, "percent"),
    )
    assert answer.slope.magnitude == pytest.approx(0.5)


@st.composite
def waters(draw, oxidant, largest_demand):
    """A well: true slope and demand, and a computed setting within half to double of the need."""
    calibration = draw(st.sampled_from([0.25, 0.5, 1.0, 2.0]))
    factor = draw(st.floats(0.6, 1.3))
    middle = sum(TARGETS[oxidant]) / 2
    reach = min(largest_demand, 95 * factor * calibration - middle)
    demand = draw(st.floats(0, reach))
    need = (middle + demand) / (factor * calibration)
    computed = min(100.0, need * draw(st.floats(0.5, 2)))
    return calibration, factor, demand, computed


def reached(oxidant, water, band):
    """The start and at most five further settings; the residual true to a quarter of the band."""
    low, high = TARGETS[oxidant]
    count, residual, tried = follow(oxidant, *water, band)
    assert count is not None, tried
    margin = 0.25 * (high - low)
    assert low - margin <= residual <= high + margin
    assert all(0 < at <= 100 for at in tried)


@THOROUGH
@given(water=waters("peroxide", 30))
def test_peroxide_reaches_the_target_with_a_strip(water):
    reached("peroxide", water, lambda residual: pad(STRIPS["peroxide"], residual))


@THOROUGH
@given(water=waters("chlorine", 12))
def test_chlorine_reaches_the_target_with_a_strip(water):
    reached("chlorine", water, lambda residual: pad(STRIPS["chlorine"], residual))


@THOROUGH
@given(
    oxidant_water=st.one_of(
        st.tuples(st.just("peroxide"), waters("peroxide", 30)),
        st.tuples(st.just("chlorine"), waters("chlorine", 12)),
    ),
    noise=st.lists(st.tuples(st.floats(0.02, 1), st.floats(0, 1)), min_size=6, max_size=6),
)
def test_any_band_noise_up_to_the_width_of_the_target(oxidant_water, noise):
    """Bands of any width up to the target's, the true residual anywhere inside."""
    oxidant, water = oxidant_water
    widest = TARGETS[oxidant][1] - TARGETS[oxidant][0]
    bands = iter(noise)

    def band(residual):
        width, share = next(bands)
        below = residual - share * width * widest
        return max(0.0, below) if residual > 0 else 0.0, below + width * widest + 0.01

    reached(oxidant, water, lambda residual: tuple(max(x, 0.0) for x in band(residual)))


@THOROUGH
@given(
    oxidant=st.sampled_from(["peroxide", "chlorine", "permanganate"]),
    settings_=st.lists(st.floats(0.1, 100), min_size=0, max_size=5),
    lows=st.lists(st.floats(0, 100), min_size=5, max_size=5),
    widths=st.lists(st.one_of(st.floats(0, 100), st.just(math.inf)), min_size=5, max_size=5),
    turnovers=st.lists(st.floats(0, 6), min_size=5, max_size=5),
    maximum=st.floats(1, 200),
    clear=st.sampled_from([None, True, False]),
)
def test_whatever_was_read_the_limits_hold(
    oxidant, settings_, lows, widths, turnovers, maximum, clear
):
    """Nonsense readings included: 0 to 100 percent, the largest dose, the step, the clear tap."""
    readings = [
        Reading(s, low, low + width, turned)
        for s, low, width, turned in zip(settings_, lows, widths, turnovers, strict=False)
    ]
    answer = dial_in(
        oxidant=oxidant,
        reading=readings,
        flow=q(8, "gpm"),
        strength=q(71.6, "g/L"),
        feeder_output=q(17, "gpd"),
        target_low=q(1, "mg/L"),
        target_high=q(5, "mg/L"),
        maximum_dose=q(maximum, "mg/L"),
        computed_setting=q(20, "percent"),
        iron_clear=clear,
        odour_clear=clear,
    )
    at = answer.next_setting.magnitude
    ceiling = min(100, maximum / G) + 1e-9
    assert 0 < at <= ceiling
    assert answer.next_dose.magnitude <= maximum + 1e-9
    if readings:
        last = readings[-1].setting
        assert at <= 1.5 * last + 1e-9
        if last <= ceiling:
            assert at >= (last if clear is False else 0.5 * last) - 1e-9
    assert not (answer.stop and clear is not True)
