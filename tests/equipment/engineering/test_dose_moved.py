"""When a dose has moved: setting times strength by more than ten percent (common practice)."""

import pytest

from equipment.engineering.oxidant.feeding import (
    DOSE_MOVED_PERCENT,
    Feed,
    dose_has_moved,
    dose_moved_percent,
    dose_per_percent,
)

#: before (setting, strength), after, percent moved
CASES = [
    ((30, 70), (30, 70), 0),
    ((30, 70), (33, 70), 10),
    ((30, 70), (34, 70), 100 * 4 / 30),
    ((30, 70), (26, 70), 100 * 4 / 30),
    ((30, 70), (30, 35), 50),
    ((30, 70), (60, 35), 0),
    ((30, 70), (33, 63), 1),
    ((30, None), (30, 70), 0),
    ((30, 70), (36, None), 20),
    ((None, None), (30, 70), 100),
    ((0, 70), (30, 70), 100),
    ((30, 70), (0, 70), 100),
    ((0, 70), (0, 70), 0),
    ((30, 70), (None, 70), 0),
]


@pytest.mark.parametrize(("before", "after", "percent"), CASES)
def test_it_moves_as_setting_times_strength(before, after, percent):
    moved = dose_moved_percent(Feed(*before), Feed(*after))
    assert moved == pytest.approx(percent)
    assert dose_has_moved(Feed(*before), Feed(*after)) is (percent > DOSE_MOVED_PERCENT)


@pytest.mark.parametrize(("before", "after", "percent"), CASES[:7])
def test_it_is_the_applied_dose_that_moves(before, after, percent):
    """8 gpm, 17 gpd: whatever flow and pump, the dose goes as the product of the two."""
    old, new = (
        dose_per_percent(8, strength, 17) * setting for setting, strength in (before, after)
    )
    assert abs(new - old) / old * 100 == pytest.approx(percent)


@pytest.mark.parametrize(("setting", "moved"), [(33, False), (34, True), (26, True), (27, False)])
def test_more_than_a_tenth_is_a_move(setting, moved):
    """10 percent: common practice, no source."""
    assert dose_has_moved(Feed(30, 70), Feed(setting, 70)) == moved
