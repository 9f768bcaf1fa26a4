"""Taking times, and lines with a figure beside its budget."""

import statistics
import time

#: perf_counter, or process_time where the machine is busy with other things
now = time.perf_counter


def count_processor_time():
    """Seconds of this process only. Leaves out what a database server does: SQLite only."""
    global now
    now = time.process_time


def median_seconds(call, rounds):
    """Median of single calls, after one that does not count."""
    call()
    times = []
    for _ in range(rounds):
        started = now()
        call()
        times.append(now() - started)
    return statistics.median(times)


def side_by_side(one, other, rounds):
    """Medians of two calls taken by turns, so that a busy machine slows both alike."""
    one(), other()
    times = ([], [])
    for _ in range(rounds):
        for call, taken in zip((one, other), times, strict=True):
            started = now()
            call()
            taken.append(now() - started)
    return tuple(statistics.median(taken) for taken in times)


def head(title):
    print(f"\n{title}\n{'-' * len(title)}")


def line(what, figure, budget=""):
    print(f"{what:<62} {figure:>22}" + (f"   budget {budget}" if budget else ""), flush=True)
