"""Figures worked out on the phone at each key: the office's own, and the office where it cannot."""

import re

import pytest

from .product import poll
from .visitors import PHONE

pytestmark = pytest.mark.runtime

#: the start-up under way, and who is on it
UNDER_WAY = """
import json
from jobs.models import ChecklistRecord, Visit
record = ChecklistRecord.objects.filter(closed_at=None, steps__isnull=False).first()
visit = Visit.objects.filter(job=record.job, status="on_site").get()
print(json.dumps({"record": record.pk, "lead": visit.lead.username}))
"""
STATE = "document.documentElement.dataset.python || ''"
#: glasses, states of lines and what must pass as the page shows them, without the mark
SHOWN = """() => {
  const shown = {};
  for (const part of document.querySelectorAll(".measure, #gates, #answers [id^='s-']")) {
    const copy = part.cloneNode(true);
    for (const mark of copy.querySelectorAll(".worked-out")) mark.remove();
    for (const more of copy.querySelectorAll("details")) more.open = false;
    shown[part.id] = copy.innerHTML.replace(/\\d\\d:\\d\\d/g, "").trim();
  }
  return shown;
}"""
FROM_THE_OFFICE = """async (address) => {
  const made = document.createElement("div");
  made.innerHTML = await (await fetch(address)).text();
  return made.firstElementChild.outerHTML;
}"""
MARKED = "#{} > .worked-out"
#: what Python is asked; while `held`, as by a slow phone, it hears nothing of a page's figures
SLOW = """
  window.asked = [];
  window.held = null;
  const really = Worker.prototype.postMessage;
  Worker.prototype.postMessage = function (told, ...more) {
    if (told.act === "live") window.asked.push(told);
    const go = () => really.call(this, told, ...more);
    if (told.act === "live" && window.held) window.held.push(go);
    else go();
  };
"""
ASKED = "window.asked.length"
RELEASED = "() => { const held = window.held; window.held = null; held.forEach((go) => go()); }"
LAST_ASKED = """(line) => JSON.parse(window.asked.at(-1).text).acts
  .map((act) => act.payload).find((said) => said.line === line).text"""


@pytest.fixture
def under_way(product):
    return product.ask(UNDER_WAY)


@pytest.fixture
def opened(visit, under_way):
    """opened(...) -> the dial-back page on a phone, and the addresses it has asked for."""

    def start(prepare=lambda context: None, state="ready"):
        person = visit(under_way["lead"], size=PHONE)
        prepare(person.context)
        asked = []
        person.page.on("request", lambda request: asked.append(request.url))
        person.page.goto(f"/records/{under_way['record']}/dial-back/")
        if state:
            poll(lambda: person.page.evaluate(STATE) == state, 120)
        return person.page, asked

    return start


def box(page, name):
    return page.locator(f"#answers [name='{name}']")


def worked_out(page, part):
    poll(lambda: page.locator(MARKED.format(part)).count())
    return page.evaluate(SHOWN)


def test_what_follows_the_keys_is_what_the_office_says_once_it_is_kept(opened):
    page, asked = opened()
    flow = box(page, "tap-flow")
    before, as_it_was = flow.input_value(), page.evaluate(SHOWN)
    flow.fill("2.5")  # not left: nothing has been sent yet
    typed = worked_out(page, "turnover")
    assert typed["turnover"] != as_it_was["turnover"]
    assert not [url for url in asked if url.endswith("/answer/")]
    with page.expect_response(lambda answer: answer.url.endswith("/answer/")) as kept:
        flow.blur()
    assert kept.value.status == 200
    page.reload()
    assert page.locator(".worked-out").count() == 0
    assert page.evaluate(SHOWN) == typed
    with page.expect_response(lambda answer: answer.url.endswith("/answer/")):
        box(page, "tap-flow").fill(before)
        box(page, "tap-flow").blur()


def test_what_it_starts_with_is_compiled_and_comes_packed(opened):
    answers = {}

    def listen(context):
        context.on("response", lambda answer: answers.setdefault(answer.url, answer.headers))

    opened(listen)
    zips = {url.rpartition("/")[2]: said for url, said in answers.items() if url.endswith(".zip")}
    assert sorted(name.partition(".")[0] for name in zips) == ["field", "standard", "templates"]
    for name, said in zips.items():
        assert (said.get("content-encoding") == "br") == (not name.startswith("standard")), name
        assert "immutable" in said["cache-control"], name


def test_a_panel_that_is_typed_over_asks_the_office_nothing_and_says_the_same(opened, under_way):
    page, asked = opened()
    panel = page.locator("form.panel", has=page.locator("#feed-setting"))
    if panel.locator("details.aside").count():
        panel.locator("details.aside > summary").click()
    panel.locator("[name='feed-setting~dose']").fill("31 mg/L")
    worked_out(page, "feed-setting")
    page.wait_for_timeout(600)
    assert not [url for url in asked if "/panel/" in url]
    address = f"/records/{under_way['record']}/panel/feed-setting/?page=dial-back"
    there = page.evaluate(FROM_THE_OFFICE, f"{address}&feed-setting~dose=31+mg%2FL")
    assert page.locator("#feed-setting > div").evaluate("part => part.outerHTML") == there
    panel.locator("[name='feed-setting~dose']").fill("thirty")
    poll(
        lambda: (
            "thirty" in page.locator("#feed-setting").inner_text()
            or page.locator("#feed-setting .waiting").count()
        )
    )


def test_a_line_that_does_not_pass_says_so_before_it_is_kept(opened, under_way):
    page, asked = opened()
    page.goto(f"/records/{under_way['record']}/baseline/")
    poll(lambda: page.evaluate(STATE) == "ready", 120)
    iron = box(page, "tap-iron")
    before = iron.input_value()
    iron.fill("0.4")
    poll(lambda: "Does not pass" in page.locator("#s-tap-iron").inner_text())
    assert "Failed." in page.locator("#gates").inner_text()
    iron.fill("0.2")
    poll(lambda: "Passed." in page.locator("#s-tap-iron").inner_text())
    iron.fill(before)
    assert not [url for url in asked if url.endswith("/answer/")]


def test_nothing_is_fetched_elsewhere_or_twice_and_the_page_comes_first(opened, product):
    page, asked = opened()
    assert {re.match(r"https?://[^/]+", url)[0] for url in asked} == {product.url}
    wasm = [url for url in asked if url.endswith(".wasm")]
    assert len(wasm) <= 1
    first = page.evaluate(
        """() => {
          const start = performance.getEntriesByType("resource")
            .filter((entry) => /\\/jobs\\/worker/.test(entry.name))[0].startTime;
          return [performance.getEntriesByType("navigation")[0].loadEventEnd, start];
        }"""
    )
    assert first[0] <= first[1]


def test_a_slow_phone_works_out_what_stands_and_no_key_before_it(opened):
    """Counted; how many milliseconds it takes is for `python -m tests.bench phone`."""
    page, _ = opened(lambda context: context.add_init_script(SLOW))
    flow = box(page, "tap-flow")
    before, asked = flow.input_value(), page.evaluate(ASKED)
    page.evaluate("() => { window.held = []; }")
    flow.fill("2.6")
    poll(lambda: page.evaluate(ASKED) == asked + 1)
    for figure in ("2.7", "2.8", "2.9", "3.1"):
        flow.fill(figure)
        page.wait_for_timeout(60)  # longer than a key is waited for
    assert page.evaluate(ASKED) == asked + 1, "one question is under way, however many keys"
    page.evaluate(RELEASED)
    poll(lambda: page.evaluate(ASKED) == asked + 2)
    assert page.evaluate(LAST_ASKED, "tap-flow") == "3.1"
    shown = worked_out(page, "turnover")
    with page.expect_response(lambda answer: answer.url.endswith("/answer/")):
        flow.blur()
    page.reload()
    assert page.evaluate(SHOWN)["turnover"] == shown["turnover"]
    assert page.evaluate(ASKED) <= 2, "once as it opens, once where something waits"
    with page.expect_response(lambda answer: answer.url.endswith("/answer/")):
        flow.fill(before)
        flow.blur()


def panel_from_the_office(page, asked):
    """Types over a figure of a panel and takes what comes."""
    panel = page.locator("form.panel", has=page.locator("#feed-setting"))
    if panel.locator("details.aside").count():
        panel.locator("details.aside > summary").click()
    with page.expect_response(lambda answer: "/panel/feed-setting/" in answer.url) as answered:
        panel.locator("[name='feed-setting~dose']").fill("32 mg/L")
    assert answered.value.status == 200
    poll(lambda: page.locator("#feed-setting .answer:not(.waiting)").count())
    assert page.locator(".worked-out").count() == 0


def test_a_browser_without_webassembly_has_the_office(opened):
    page, asked = opened(
        lambda context: context.add_init_script("delete globalThis.WebAssembly"), state=""
    )
    panel_from_the_office(page, asked)
    assert page.evaluate(STATE) == ""
    assert not [url for url in asked if "/runtime/" in url]


def test_python_that_does_not_come_up_is_tried_twice_and_then_left(opened):
    tries = []

    def answer(route):
        tries.append(route.request.url)
        route.fulfill(status=404)

    page, asked = opened(
        lambda context: context.route("**/static/phone/templates.*", answer), state="failed"
    )
    poll(lambda: page.evaluate(STATE) and len(tries) == 2, 120)
    poll(lambda: page.evaluate(STATE) == "failed", 120)
    panel_from_the_office(page, asked)


def test_what_is_typed_before_it_is_ready_goes_to_the_office(opened):
    page, asked = opened(state="")
    panel_from_the_office(page, asked)
    poll(lambda: page.evaluate(STATE) == "ready", 120)
