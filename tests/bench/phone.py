"""Figures on the phone: bytes, time until Python answers, from key to number, memory.

A demo of its own and a headless Chromium. The browser's own brake on a page's processor does not
reach its worker: "4x" and "6x" hold the whole renderer, page and Python, for all but a fourth or a
sixth of each fiftieth of a second (SIGSTOP). Slices as long as the work itself would measure the
brake: a tenth of a second adds up to 75 ms to whatever takes longer than 25.
"""

import os
import signal
import statistics
import time
from contextlib import contextmanager, suppress
from importlib.util import find_spec
from pathlib import Path
from threading import Event, Thread

from jobs.phone import runtime
from jobs.phone.building import BROTLI, FIELD_ZIP, TEMPLATES_ZIP, packed_in

from .clock import head, line
from .memory import pss_kib

KEYS = 12
BRAKES = (1, 4, 6)
SLICE_S = 0.02
#: renderers are looked for anew, seconds
LOOK_S = 1.0
#: until Python answers, seconds: budgets of our own
FIRST_NUMBERS_S = {1: 8, 4: 20}
KEY_TO_NUMBER_MS = 150
#: notes when a key went down and when the page had taken the answer in
WATCH = """() => {
  window.keyed = 0;
  window.took = [];
  document.addEventListener("input", () => { window.keyed = performance.now(); }, true);
  const seen = () => window.took.push(performance.now() - window.keyed);
  new MutationObserver(seen).observe(
    document.documentElement, { attributes: true, attributeFilter: ["data-worked-out"] });
}"""

WITHOUT = "delete window.WebAssembly"
LOADED = "performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd"


def show():
    head("Figures on a technician's phone")
    if not find_spec("playwright") or not runtime.is_whole():
        print("not measured: needs the group browser and Python for the browser (make pictures)")
        return
    from tests.browser.product import running
    from tests.browser.visitors import open_browser

    with running() as product:
        transfer(product.data_dir / "phone")
        with open_browser() as browser:
            for word, prepare in (("with", ""), ("without", WITHOUT)):
                first_page(browser, product, word, prepare)
            for brake in BRAKES:
                with held_back(brake):
                    measure(browser, product, brake)


def transfer(packed):
    zips = {name: sent(packed / called) for name, called in packed_in(packed).items()}
    files = [name for name in runtime.sums() if name not in (runtime.LOCK, runtime.STANDARD)]
    whole = sum(sent(runtime.HERE / name) for name in files) + sum(zips.values())
    line("first transfer", f"{whole / 1e6:.2f} MB", "< 7 MB")
    line("of it our code and templates", f"{(zips[FIELD_ZIP] + zips[TEMPLATES_ZIP]) / 1e6:.2f} MB")


def sent(path):
    """Bytes: with brotli where that lies beside it."""
    beside = path.with_name(f"{path.name}{BROTLI}")
    return (beside if beside.exists() else path).stat().st_size


def measure(browser, product, brake):
    from tests.browser.product import poll
    from tests.browser.test_numbers_on_the_phone import STATE, UNDER_WAY
    from tests.browser.visitors import PHONE, Visitor

    found = product.ask(UNDER_WAY)
    person = Visitor(browser, product.url, size=PHONE).sign_in(found["lead"])
    page = person.page
    page.goto("/my-day/")
    before = memory_mib()
    begun = time.monotonic()
    page.goto(f"/records/{found['record']}/dial-back/")
    poll(lambda: page.evaluate(STATE) == "ready", 240)
    most = FIRST_NUMBERS_S.get(brake)
    budget = f"< {most} s" if most else ""
    line(f"page opened to first numbers, {brake}x", f"{time.monotonic() - begun:.1f} s", budget)
    page.evaluate(WATCH)
    flow = page.locator("#answers [name='tap-flow']")
    for number in range(KEYS):
        flow.fill(f"{2 + number / 10:.1f}")
        poll(lambda done=number + 1: len(page.evaluate("window.took")) >= done)
    took = statistics.median(page.evaluate("window.took"))
    budget = f"< {KEY_TO_NUMBER_MS} ms" if most else ""
    line(f"key to number, {brake}x", f"{took:.0f} ms", budget)
    line(f"memory more, {brake}x", f"{memory_mib() - before:.0f} MiB", "< 150 MiB")
    person.close()


def first_page(browser, product, word, prepare):
    """A page of a record until it has drawn something and its script works, median of five."""
    from tests.browser.test_numbers_on_the_phone import UNDER_WAY
    from tests.browser.visitors import PHONE, Visitor

    found = product.ask(UNDER_WAY)
    person = Visitor(browser, product.url, size=PHONE).sign_in(found["lead"])
    if prepare:
        person.context.add_init_script(prepare)
    took = []
    for _ in range(5):
        person.page.goto(f"/records/{found['record']}/dial-back/", wait_until="load")
        took.append(person.page.evaluate(LOADED))
    person.close()
    line(f"first page {word} the runtime", f"{statistics.median(took):.0f} ms")


@contextmanager
def held_back(brake):
    """Renderers of this program's browser run for one part of so many."""
    if brake == 1:
        yield
        return
    over = Event()
    holder = Thread(target=_hold, args=(brake, over))
    holder.start()
    try:
        yield
    finally:
        over.set()
        holder.join()


def _hold(brake, over):
    held, looked = [], 0.0
    while not over.wait(SLICE_S / brake):
        if time.monotonic() - looked > LOOK_S:
            held, looked = renderers(), time.monotonic()
        _tell(held, signal.SIGSTOP)
        over.wait(SLICE_S * (1 - 1 / brake))
        _tell(held, signal.SIGCONT)


def _tell(processes, word):
    for pid in processes:
        with suppress(ProcessLookupError):
            os.kill(pid, word)


def renderers():
    found = []
    for pid in descendants(os.getpid()):
        with suppress(OSError):
            if b"--type=renderer" in (Path("/proc") / str(pid) / "cmdline").read_bytes():
                found.append(pid)
    return found


def memory_mib():
    """Of the browser this program has started, with all its processes."""
    return sum(pss_kib(Path("/proc") / str(pid)) for pid in descendants(os.getpid())) / 1024


def descendants(root):
    """Browser processes below a process."""
    parents = {}
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            said = (folder / "stat").read_text().rpartition(")")
            parents[int(folder.name)] = (int(said[2].split()[1]), said[0].partition("(")[2])
        except (OSError, ValueError, IndexError):
            continue
    below, grown = {root}, True
    while grown:
        more = {pid for pid, (parent, _) in parents.items() if parent in below} - below
        below |= more
        grown = bool(more)
    return [pid for pid in below if parents.get(pid, (0, ""))[1].startswith("chrom")]
