"""New carbon takes odour up by itself: a clear tap is no evidence of the dose, an unclear one is.

Common practice, no source.
"""

from .test_dial_in import CLEAR, PEROXIDE, ask, setting

NEW = {"new_carbon": "true"}


def test_a_clear_tap_is_read_as_one_that_nobody_looked_at():
    over = "40:25-50"
    untold, clear = ask(PEROXIDE, over), ask(PEROXIDE, over, **CLEAR, **NEW)
    assert setting(clear) == setting(untold) > setting(ask(PEROXIDE, over, **CLEAR))
    assert "behind new carbon a clear tap proves nothing" in clear.reason
    assert clear.method == "dial-in/4"


def test_so_is_each_reading_before_the_last():
    told = [f"{percent}:{band}" for percent, band in ((40, "25-50"), (24, "10-25"))]
    clear = ask(PEROXIDE, f"{told[0]}:clear", f"{told[1]}:clear", **NEW)
    untold = ask(PEROXIDE, *told)
    assert setting(clear) == setting(untold)


def test_a_tap_that_is_not_clear_counts_as_ever():
    smells = {"iron_clear": "true", "odour_clear": "false"}
    for at in ("40:25-50", "20:5-10"):
        assert setting(ask(PEROXIDE, at, **smells, **NEW)) == setting(ask(PEROXIDE, at, **smells))
        assert not ask(PEROXIDE, at, **smells, **NEW).stop


def test_a_setting_stays_on_its_residual_once_the_tap_was_looked_at():
    at = {"computed_setting": "14 percent"}
    stays = ask(PEROXIDE, "20:5-10", **at, **CLEAR, **NEW)
    assert stays.stop
    assert "smell again at the recheck" in stays.reason
    unsaid = ask(PEROXIDE, "20:5-10", **at, **NEW)
    assert not unsaid.stop
    assert "have not been checked" in unsaid.reason
