"""Forked children that say one thing, and a pytest plugin that remembers what failed."""

from __future__ import annotations

import json
import os
import resource
import signal
from collections.abc import Callable
from typing import Any

from . import copied_database

#: of the clock, on a busy machine
PATIENCE = 3 * 3600
#: of the processor, for one test; a change may make what it runs endless
ONE_TEST = 60
#: begins what a child says that did not come as far as a test
BROKEN = "pytest ended"
OPTIONS = (
    *("-x", "-q", "-p", "no:cacheprovider", "-p", "no:randomly", "--assert=plain"),
    *("--tb=native", "-W", "ignore::pytest.PytestAssertRewriteWarning"),
    # long ones too, where they are near
    *("-m", "not browser and not postgres and not redis and not second_reference and not system"),
)


class Witness:
    """Remembers which tests failed, the first one first; no test takes longer than `seconds`."""

    def __init__(self, seconds: int = ONE_TEST) -> None:
        self.names: list[str] = []
        self.seconds = seconds

    def pytest_runtest_logstart(self):
        used = resource.getrusage(resource.RUSAGE_SELF)
        end = int(used.ru_utime + used.ru_stime) + 1 + self.seconds
        resource.setrlimit(resource.RLIMIT_CPU, (end, resource.RLIM_INFINITY))

    def pytest_configure(self, config):
        config.pluginmanager.register(copied_database)  # after what it replaces

    def pytest_runtest_logreport(self, report):
        if report.failed:
            self.names.append(report.nodeid)

    def pytest_collectreport(self, report):
        if report.failed:
            self.names.append(f"{report.nodeid} (import)")


def in_child(work: Callable[[], Any], *, seconds: int) -> Any:
    """What a forked child returns; it is quiet, and ends even if a search does not.

    `seconds` are of the processor: a change may make a search endless.
    """
    told, tell = os.pipe()
    child = os.fork()
    if not child:
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, resource.RLIM_INFINITY))
        signal.alarm(PATIENCE)
        quiet = os.open(os.devnull, os.O_WRONLY)
        os.dup2(quiet, 1)
        os.dup2(quiet, 2)
        try:
            said = work()
        except BaseException as error:
            said = f"{BROKEN} with {type(error).__name__}: {error}"
        with os.fdopen(tell, "w") as answer:
            json.dump(said, answer)
        os._exit(0)
    os.close(tell)
    with os.fdopen(told) as answer:
        said = answer.read()
    os.waitpid(child, 0)
    return json.loads(said) if said else "no end"
