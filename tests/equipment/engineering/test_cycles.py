"""The longest cycle of a timer pump: what must hold. Worked cases stand in published/dosing.csv."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.registry import compute

QUICK = settings(max_examples=30, derandomize=True, deadline=None)
BASE = {
    "longest_cycle": "60 s",
    "cycle_step": "5 s",
    "on_share": "20 percent",
    "flow": "8 gpm",
    "mixing_volume": "40 gal",
    "largest_swing": "25 percent",
}
RUN = {"usual_run": "85 s", "restart": "on"}


def cycle(**changes):
    return compute("timer-cycle", **{**BASE, **changes})[1]


def seconds(answer):
    return answer.cycle.magnitude


def test_a_pump_that_never_stops_feeds_without_a_swing():
    always = cycle(on_share="100 percent", mixing_volume="0 gal", **RUN)
    assert (seconds(always), always.swing_at_longest.magnitude) == (60, 0)


def test_a_timer_that_goes_on_is_not_shortened_for_the_run():
    assert seconds(cycle(**RUN)) < seconds(cycle(usual_run="85 s", restart="continues"))


def test_a_restart_that_nobody_knows_counts_as_one_that_starts_anew():
    assert seconds(cycle(usual_run="85 s")) == seconds(cycle(**RUN))


def test_without_a_run_it_says_so():
    assert any("not known" in text for text in cycle().warnings)
    assert cycle(**RUN).warnings == ()


def test_where_no_cycle_is_short_enough_the_shortest_is_named():
    bare = cycle(mixing_volume="0 gal")
    assert seconds(bare) == 5
    assert any("Even the shortest" in text for text in bare.warnings)


@QUICK
@given(
    share=st.floats(1, 99),
    volume=st.floats(1, 200),
    bound=st.floats(1, 60),
    length=st.floats(20, 900),
)
def test_it_is_the_longest_mark_inside(share, volume, bound, length):
    """Each mark tried by `dose-ripple`, and every run from that length to one cycle more."""
    answer = cycle(
        on_share=f"{share} percent",
        mixing_volume=f"{volume} gal",
        largest_swing=f"{bound} percent",
        usual_run=f"{length} s",
        restart="on",
    )
    chosen = seconds(answer)
    shares = {"on_share": f"{share} percent", "flow": "8 gpm", "mixing_volume": f"{volume} gal"}

    def swings(mark):
        ripple = compute("dose-ripple", cycle_length=f"{mark} s", **shares)[1]
        runs = [length + part * mark / 16 for part in range(17)]
        off = [
            abs(
                compute(
                    "dose-ripple",
                    cycle_length=f"{mark} s",
                    run_time=f"{run} s",
                    restart=how,
                    **shares,
                )[1].mean_ratio
                - 1
            )
            for run in runs
            for how in ("on", "off")
        ]
        return max(ripple.peak_ratio - 1, 1 - ripple.trough_ratio), max(off)

    steady, run = swings(chosen)
    if answer.swing.magnitude <= bound:
        assert max(steady, run) * 100 <= bound + 1e-6
    if chosen < 60:
        longer = swings(chosen + 5)[0]
        by_run = (1 - share / 100) * (chosen + 5) / length
        assert max(longer, by_run) * 100 > bound - 1e-6


@pytest.mark.parametrize("changes", [{"on_share": "0 percent"}, {"largest_swing": "0 percent"}])
def test_nothing_is_no_share_and_no_bound(changes):
    with pytest.raises(Exception, match="must be"):
        cycle(**changes)
