"""Generated records by the office and the browser's Python: every panel, gate and advice."""

import tempfile
import time
from importlib.util import find_spec
from pathlib import Path

from jobs.phone import runtime

from .clock import head, line


def show(records):
    head("The same figures in the office and in a browser")
    if not find_spec("playwright") or not runtime.is_whole():
        print("not compared: needs the group browser and Python for the browser (make pictures)")
        return
    from tests.browser.same import differing
    from tests.browser.visitors import open_browser

    begun = time.monotonic()
    with tempfile.TemporaryDirectory(prefix="bench-") as folder, open_browser() as browser:
        pieces, different = differing(browser, Path(folder), range(records))
    line("generated records", str(records))
    line("pieces of HTML compared", f"{pieces:,}")
    line("of them not the same, byte for byte", str(len(different)), "0")
    line("taken", f"{time.monotonic() - begun:.0f} s")
    for number, name, mine, other in different[:5]:
        print(f"\nrecord {number}, {name}\n  office  {mine}\n  browser {other}")
