"""The server is really gone: the day opens from the phone, and figures follow the keys."""

import pytest

from .product import poll
from .test_numbers_on_the_phone import STATE, UNDER_WAY, box, worked_out
from .visitors import PHONE, Visitor

pytestmark = pytest.mark.runtime

CARRIES = "document.getElementById('take-along').dataset.carries || ''"
FROM_KIT = ".from-kit"


@pytest.fixture
def phone(browser, server):
    found = server.ask(UNDER_WAY)
    person = Visitor(browser, server.url, size=PHONE, is_cut=True).sign_in(found["lead"])
    person.record, person.name = found["record"], found["lead"]
    yield person
    person.close()
    assert person.trouble == []


def take_along(page):
    """As it stands now, also over a kit that is there already."""
    page.goto("/my-day/")
    poll(lambda: page.locator("#take-along [data-said]").inner_text())
    before = page.evaluate(CARRIES)
    page.locator("[data-take]").click()
    return poll(lambda: (made := page.evaluate(CARRIES)) != before and made, 60)


def ready(page):
    poll(lambda: page.evaluate(STATE) == "ready", 180)


def test_a_day_that_was_taken_along_opens_without_the_server(phone, server):
    page = phone.page
    take_along(page)
    server.stop()
    page.goto("/my-day/")
    assert "No signal: this page is as of" in page.locator(FROM_KIT).inner_text()
    page.goto(f"/records/{phone.record}/dial-back/")
    flow = box(page, "tap-flow")
    before = flow.input_value()
    ready(page)
    flow.fill("2.5")
    typed = worked_out(page, "turnover")
    page.goto(f"/records/{phone.record}/")
    assert "still open" in page.locator("h1").inner_text()
    page.goto("/records/999999/")
    assert "not on this phone" in page.locator("h1").inner_text()
    server.start()
    phone.sign_in(phone.name)  # a demo gives its people their password anew when it starts
    page.goto(f"/records/{phone.record}/dial-back/")
    assert page.locator(FROM_KIT).count() == 0
    # what was typed without signal was not sent, and stands in its box again
    assert before != "2.5"
    poll(lambda: box(page, "tap-flow").input_value() == "2.5")
    ready(page)
    box(page, "tap-flow").fill("2.50")
    assert worked_out(page, "turnover") == typed
