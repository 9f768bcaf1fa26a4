"""The dispatcher at 1280 pixels: find, book, and keep a promise in at most four actions."""

import re
import time
from datetime import datetime, timedelta

import icalendar

from .product import poll
from .stories import keeps
from .visitors import DESK, PHONE
from .walking import LAPTOP, WHOLE_ROWS

DAY = """
import json
from django.utils import timezone
from jobs.models.company import company_day
from jobs.schedule.working_days import add_working_days
print(json.dumps(add_working_days(company_day(timezone.now()), 6).isoformat()))
"""
FREE = """
import json
from django.utils import timezone
from jobs.models import FollowUp
from jobs.models.company import company_day
row = FollowUp.objects.filter(
    rule__code="f1", status="open", visit=None, snoozed_until=None,
    window_from__lte=company_day(timezone.now()),
).order_by("due_on").first()
print(json.dumps(row.pk))
"""
CONFIRMED = """
SELECT mail.recipient FROM jobs_outboxmail mail
JOIN jobs_followup promise ON promise.visit_id = mail.visit_id
WHERE promise.id = {} AND mail.template = 'visit_confirmation'
"""


class Counted:
    """Clicks, choices and submits, and the seconds they took."""

    def __init__(self):
        self.actions, self.begun = 0, time.monotonic()
        #: times a page asked whether something unlikely is meant
        self.asked_twice = 0

    def __call__(self, act):
        self.actions += 1
        act()

    @property
    def seconds(self):
        return time.monotonic() - self.begun


def letter_to(product, address, subject):
    found = [
        m for m in product.letters() if m["To"] == address and m["Subject"].startswith(subject)
    ]
    return found[-1] if found else None


def calendar_of(letter):
    """The one appointment of the calendar file in a letter."""
    (part,) = [p for p in letter.walk() if p.get_content_type() == "text/calendar"]
    calendar = icalendar.Calendar.from_ical(part.get_payload(decode=True))
    (event,) = calendar.walk("VEVENT")
    return event


def answer_link(letter):
    """The page about this one visit, for somebody without an account."""
    text = letter.get_body(("plain",)).get_content()
    return re.search(r"https?://\S+(/v/(?!stop)\S+)", text)[1]


def test_find_with_a_slip_and_book_a_start_up(visit, product):
    day = product.ask(DAY)
    page = visit("marit", size=DESK).page
    page.get_by_placeholder("Telephone, street").fill("Ansl Marlpitt")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name="117 Quillmarsh Lane").first.click()
    assert "Ansel Marlpit" in page.locator("main").inner_text()
    assert page.locator("svg").count() >= 2  # the well, and the system in a line
    page.get_by_role("link", name="Book a visit").click()
    page.locator("[name=kind]").select_option("startup")
    lead = page.locator("[name=lead] option", has_text="Juniper").get_attribute("value")
    page.locator("[name=lead]").select_option(lead)
    page.locator("[name=day]").fill(day)
    page.locator("[name=start]").fill("10:00")
    page.get_by_label("No, something else").check()  # work here was finished within the year
    page.get_by_role("button", name="Book the visit").click()
    page.wait_for_url("**/visits/*/")
    assert "Start-up" in page.locator("h1").inner_text()

    letter = poll(lambda: letter_to(product, "ansel.marlpit@example.com", "Visit on "))
    event = calendar_of(letter)
    begins = event["DTSTART"].dt
    assert (begins.date().isoformat(), begins.hour, begins.minute) == (day, 10, 0)
    assert event["DTEND"].dt - begins >= timedelta(minutes=15)
    assert "117 Quillmarsh Lane" in str(event["LOCATION"])

    customer = visit(size=PHONE, script=False).page
    customer.goto(answer_link(letter))
    customer.get_by_role("button", name="Yes, that suits me").click()
    customer.wait_for_load_state()
    page.reload()
    assert "confirmed" in page.locator("dt:has-text('Customer told') + dd").inner_text()


def test_book_the_recheck_in_at_most_four_actions(visit, product, capsys):
    promise = product.ask(FREE)
    page = visit("marit", size=DESK).page
    page.goto("/worklist/")
    row = page.locator("tr", has=page.locator(f"a[href='/promises/{promise}/']"))
    act = Counted()
    act(row.get_by_role("link", name="Book").click)
    act(page.locator("input[type=radio]").nth(1).check)
    act(page.get_by_role("button", name="Book this time").click)
    page.get_by_text("Booked: Recheck").wait_for()
    with capsys.disabled():
        print(f"\nrecheck booked: {act.actions} actions, {act.seconds:.1f} s of a machine's hand")
    keeps("recheck from the list", act, product.rows(CONFIRMED.format(promise)))
    assert "booked" in row.inner_text()
    row.get_by_role("link", name="See visit").click()
    assert page.locator(f"main a[href='/promises/{promise}/']").count() == 1


HERE = "() => document.activeElement.closest('tr')?.innerText ?? ''"


def test_the_list_by_its_letters(visit):
    page = visit("marit", size=DESK).page
    page.set_viewport_size(LAPTOP)
    page.goto("/worklist/")
    assert page.evaluate(WHOLE_ROWS) >= 6
    page.keyboard.press("j")
    first = page.evaluate(HERE)
    assert first == page.locator("#rows tbody tr:has(td.acts-cell)").first.inner_text()
    page.keyboard.press("j")
    assert page.evaluate(HERE) != first
    page.keyboard.press("k")
    assert page.evaluate(HERE) == first
    page.locator("#keys > summary").click()
    page.locator("#keys-on").uncheck()
    page.reload()
    page.keyboard.press("j")
    assert page.evaluate(HERE) == ""  # turned off on this device until it is ticked again
    page.locator("#keys > summary").click()
    page.locator("#keys-on").check()
    page.get_by_placeholder("Telephone, street").press_sequentially("jbk")
    assert page.get_by_placeholder("Telephone, street").input_value() == "jbk"
    page.goto("/worklist/")
    page.keyboard.press("b")
    page.keyboard.press("Enter")
    page.wait_for_url("**/book/")  # two keys from the open list


def test_each_reminder_carries_its_calendar_file(product):
    def reminders():
        return [m for m in product.letters() if m["Subject"].startswith("Reminder:")]

    for letter in poll(reminders):
        event = calendar_of(letter)
        assert isinstance(event["DTSTART"].dt, datetime)
        assert event["STATUS"] == "CONFIRMED"
        assert str(event["ATTENDEE"]) == f"mailto:{letter['To']}"
