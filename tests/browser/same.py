"""Generated records read by the browser's Python, in a page that has what a phone unpacks."""

import contextlib
import functools
import http.server
import json
import shutil
import threading
from datetime import timedelta
from pathlib import Path

from jobs.management.commands.build_phone import address_of
from jobs.phone import building, runtime
from jobs.phone.compiling import compiled
from tests.conftest import NOW
from tests.jobs.fieldwork.generated import random_facts
from tests.jobs.phone.unpacked import calls_of, on_server

SCRIPT = Path(runtime.__file__).parents[1] / "static" / "jobs" / "worker.js"
MINUTE = timedelta(minutes=1)
#: until the browser's Python answers, and for one record, on a busy machine
START_S, RECORD_S = 240, 60
#: starts the worker; each question is given up after so long
PAGE = """async ([files, patience]) => {
  const worker = new Worker("/worker.js", { type: "module" });
  const open = new Map();
  worker.onmessage = ({ data }) => open.get(data.id)(data);
  let id = 0;
  window.ask = (act, given, seconds) => new Promise((done, failed) => {
    id += 1;
    open.set(id, ({ said, error }) => (error ? failed(new Error(error)) : done(said)));
    setTimeout(() => failed(new Error(`no answer to ${act}`)), seconds * 1000);
    worker.postMessage({ id, act, ...given });
  });
  await window.ask("start", files, patience);
}"""
ASK = """async ([calls, seconds]) => {
  const said = [];
  for (const [act, text] of calls) said.push(await window.ask(act, { text }, seconds));
  return said;
}"""


@contextlib.contextmanager
def served(folder):
    """What a phone unpacks, and the runtime, at an address of their own."""
    names = building.build(folder, address_of, compiled)
    shutil.copy(SCRIPT, folder / "worker.js")
    (folder / "runtime").symlink_to(runtime.HERE)
    (folder / "index.html").write_text("<!doctype html><title>Same</title>")
    handler = functools.partial(Quiet, directory=str(folder))
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}", names
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


class Quiet(http.server.SimpleHTTPRequestHandler):
    extensions_map = {
        **http.server.SimpleHTTPRequestHandler.extensions_map,
        ".mjs": "text/javascript",
        ".wasm": "application/wasm",
    }

    def log_message(self, *args):
        """Nobody reads it."""


def differing(browser, folder, numbers):
    """(pieces of HTML compared, those that differ) of these records; every second one metric."""
    pieces, different = 0, []
    with served(folder) as (address, names):
        context = browser.new_context(base_url=address)
        page = context.new_page()
        page.goto("/index.html")
        files = {
            "runtime": "/runtime/",
            "standard": f"/{names[building.STANDARD_ZIP]}",
            "field": f"/{names[building.FIELD_ZIP]}",
            "templates": f"/{names[building.TEMPLATES_ZIP]}",
        }
        page.evaluate(PAGE, [files, START_S])
        for number in numbers:
            compared, unlike = _of_record(page, number)
            pieces += compared
            different += unlike
        context.close()
    return pieces, different


def _of_record(page, number):
    facts, now = random_facts(number), NOW + number * MINUTE
    how = {"system": ("us", "metric")[number % 2], "whole": False}
    calls = [[name, json.dumps(given)] for name, given in calls_of(facts, now, **how)]
    there = [json.loads(said or "null") for said in page.evaluate(ASK, [calls, RECORD_S])]
    here = on_server(facts, now, **how)
    assert len(here) == len(there)
    unlike = [
        (number, name, part, other.get(name))
        for mine, other in zip(here[1:], there[1:], strict=True)
        for name, part in mine.items()
        if other.get(name) != part or mine.keys() != other.keys()
    ]
    return sum(len(part) for part in here[1:]), unlike
