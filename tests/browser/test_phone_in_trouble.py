"""A phone with the day on it and something missing: room, WebAssembly, an answer, the office."""

import os
import signal

import pytest

from .apart import KEEPS, STATE
from .phone import UNDER_WAY, Phone
from .product import poll
from .test_without_signal import take_along
from .visitors import PHONE

pytestmark = pytest.mark.runtime

EVICT = """async () => {
  for (const name of await caches.keys()) await caches.delete(name);
  for (const each of await indexedDB.databases()) indexedDB.deleteDatabase(each.name);
}"""
SITE = "SELECT j.site_id, v.id FROM jobs_visit v JOIN jobs_job j ON j.id = v.job_id WHERE {}"
RAISED = "SELECT reason FROM jobs_donotuse WHERE site_id = {} AND reason = '{}'"
#: so that other stories find the house as it was
UNSAID = """
from jobs.models import DoNotUse
DoNotUse.objects.filter(reason={reason!r}).delete()
"""
#: of the dial-back, and no figure of that glass rests on it
OTHER_BOX = "lot"
#: what stood in the glass of the turnovers after each change: words, figure
WATCH = """() => {
  const glass = document.getElementById("turnover");
  window.stood = [];
  const note = () => window.stood.push([
    Boolean(glass.querySelector(".worked-later")), glass.querySelector(".answer").innerText]);
  const all = { childList: true, subtree: true, characterData: true };
  new MutationObserver(note).observe(glass, all);
}"""
REASON = "a pipe of the neighbour drains into the well"


@pytest.fixture
def job(product):
    pk, uuid, lead, user = product.rows(UNDER_WAY)[0]
    return {"pk": pk, "uuid": str(uuid), "lead": lead, "user": user}


@pytest.fixture
def unsaid(product):
    yield
    product.ask(UNSAID.format(reason=REASON))


@pytest.fixture
def phone(visit, job, product):
    """With the day on it."""

    def start(prepare=""):
        person = visit(job["lead"], size=PHONE, is_cut=True)
        if prepare:
            person.context.add_init_script(prepare)
        take_along(person.page)
        return Phone(person, job, product)

    return start


def test_what_a_browser_has_cleared_is_said_and_nothing_is_said_to_be_sent(phone):
    phone = phone()
    phone.page.goto("/static/jobs/mark.svg")  # a page that holds nothing open
    phone.page.evaluate(EVICT)
    phone.page.goto("/my-day/")
    place = phone.page.locator("#take-along")
    poll(lambda: "carries nothing any more" in place.inner_text())
    assert "everything that was typed and not sent" in place.inner_text()
    assert "sent" not in phone.line()
    assert phone.rows() == []


def test_without_webassembly_entries_are_kept_and_sent(phone):
    phone = phone("delete window.WebAssembly")
    phone.cut()
    phone.page.goto(f"/records/{phone.job['pk']}/dial-back/")
    phone.ready()
    glass = phone.page.locator("#turnover")
    before = glass.inner_text()
    text = phone.leave("tap-flow", "1.13")  # so slow that the three turnovers are not over yet
    assert phone.kept(text)["state"] == "waiting"
    poll(lambda: "Not sent. Kept on this phone" in phone.said())
    poll(lambda: glass.inner_text().endswith("worked out anew when there is signal again."))
    assert glass.inner_text().startswith(before)
    phone.cut(False)
    assert phone.settled(text)["state"] == "kept"
    poll(lambda: "when there is signal again" not in glass.inner_text())
    poll(lambda: glass.inner_text() != before)
    assert phone.answer() == [text, phone.answer()[1]]
    assert phone.effects(phone.row(text)) == ["kept"]


def test_words_that_a_figure_comes_later_stand_until_it_stands(phone):
    """From the first moment without those words the glass holds what the office worked out."""
    phone = phone("delete window.WebAssembly")
    phone.cut()
    phone.page.goto(f"/records/{phone.job['pk']}/dial-back/")
    phone.ready()
    glass = phone.page.locator("#turnover")
    before = glass.locator(".answer").inner_text()
    first, second = phone.leave(OTHER_BOX), phone.leave("tap-flow")
    assert phone.kept(second)["state"] == "waiting"
    poll(lambda: glass.locator(".worked-later").count())
    phone.page.evaluate(WATCH)
    phone.cut(False)
    assert phone.settled(first)["state"] == phone.settled(second)["state"] == "kept"
    poll(lambda: not glass.locator(".worked-later").count())
    after = glass.locator(".answer").inner_text()
    assert after != before
    _, figure = next(row for row in phone.page.evaluate("window.stood") if not row[0])
    assert figure == after


def web_server(product):
    """The process that answers, which the command has started."""
    family = product.process.pid
    children = [int(pid) for pid in os.listdir("/proc") if pid.isdigit()]
    for pid in children:
        try:
            with open(f"/proc/{pid}/stat", encoding="utf-8") as stat:
                parent = int(stat.read().rsplit(")", 1)[1].split()[1])
            with open(f"/proc/{pid}/cmdline", encoding="utf-8") as line:
                said = line.read()
        except OSError:
            continue
        if parent == family and "config.web_server" in said:
            return pid
    raise LookupError("no web server")


def test_a_line_that_says_nothing_is_left_alone_and_each_entry_has_one_effect(phone, product):
    phone = phone()
    phone.open()
    poll(lambda: phone.page.evaluate(STATE) == "ready", 180)
    server = web_server(product)
    os.kill(server, signal.SIGSTOP)
    try:
        first = phone.leave("tap-flow")
        poll(lambda: "Not sent. Kept on this phone" in phone.said(), 20)
        second = phone.leave("tap-flow")
        poll(lambda: phone.row(second), 20)
    finally:
        os.kill(server, signal.SIGCONT)
    states = [phone.settled(text)["state"] for text in (first, second)]
    assert states == ["kept", "kept"]
    assert phone.answer()[0] == second
    assert phone.effects(phone.row(first), phone.row(second)) == ["kept", "kept"]


def test_a_notice_that_is_raised_without_signal_says_that_nobody_knows(phone, product, unsaid):
    phone = phone()
    site, number = product.rows(
        SITE.format(f"v.status = 'on_site' AND v.lead_id = {phone.job['user']}")
    )[0]
    phone.cut()
    page = phone.page
    page.goto(f"/visits/{number}/")
    page.get_by_role("link", name="The water must not be used").click()
    page.wait_for_url(f"**/sites/{site}/notices/new/")
    poll(lambda: page.evaluate(KEEPS) == "yes")
    page.get_by_label("What must not be done").select_option("no_use")
    page.get_by_label("Why").fill(REASON)
    page.get_by_role("button", name="Open the notice").click()
    red = page.locator(".raised-here")
    red.wait_for()
    assert "The office does not know yet" in red.inner_text()
    page.goto(f"/sites/{site}/")  # the page of the house as well
    page.locator(".raised-here").wait_for()
    assert product.rows(RAISED.format(site, REASON)) == []
    page.goto("/my-day/")
    page.locator(".raised-here").wait_for()
    phone.cut(False)
    poll(lambda: product.rows(RAISED.format(site, REASON)), 60)
    page.goto("/my-day/")
    poll(lambda: page.evaluate(KEEPS) == "yes")
    assert page.locator(".raised-here").count() == 0
