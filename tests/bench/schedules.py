"""Random schedules of two phones at the real door: rows against acts."""

import time
from importlib.util import find_spec

from .clock import head, line


def show(count):
    head(f"{count} schedules of cuts, kills, double taps and two phones")
    if not find_spec("playwright"):
        print("not run: needs the group browser (make pictures)")
        return
    from tests.browser.phone import UNDER_WAY
    from tests.browser.product import running
    from tests.browser.schedules import run
    from tests.browser.visitors import open_browser

    with running() as product:
        pk, uuid, lead, user = product.rows(UNDER_WAY)[0]
        job = {"pk": pk, "uuid": str(uuid), "lead": lead, "user": user}
        begun = time.monotonic()
        with open_browser() as browser:
            found = run(browser, product, job, range(count))
    said(found, time.monotonic() - begun)


def said(found, seconds):
    line("schedules", f"{found.schedules} in {seconds:.0f} s")
    line("acts typed", f"{found.typed}")
    line("how the office judged them", _counts(found.states))
    line("what happened", _counts(found.events))
    line("lost", f"{found.lost}", "0")
    line("with two effects", f"{found.doubled}", "0")
    line("judged otherwise here and there", f"{found.other}", "0")


def _counts(counter):
    return ", ".join(f"{name} {count}" for name, count in sorted(counter.items()))
