"""Taking times, and lines with a figure beside its budget."""

import statistics
import time
from pathlib import Path

#: perf_counter, or processor time where the machine is busy with other things
now = time.perf_counter
#: server processes that answer without help of others
_alone: set[int] = set()


def count_processor_time():
    """Seconds of this process and of the server's process that answers it, on this machine.

    What a server hands to further processes is not seen, so it is asked not to.
    """
    global now
    now = _processor_time


def _processor_time():
    from django.db import connection

    if connection.vendor != "postgresql":
        return time.process_time()
    connection.ensure_connection()
    pid = connection.connection.info.backend_pid
    if pid not in _alone:
        connection.cursor().execute("SET max_parallel_workers_per_gather = 0")
        _alone.add(pid)
    spent = Path(f"/proc/{pid}/schedstat").read_text()
    return time.process_time() + int(spent.split()[0]) / 1e9


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
