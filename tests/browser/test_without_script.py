"""Every main action by plain forms: the script of these browsers is off."""

from .answers import STEPS
from .technician import Technician
from .test_technician_story import (
    AFTER_DIAL,
    BEFORE_DIAL,
    BOOKED,
    STANDS,
    arrive_and_begin,
    end_visit,
    refused_close,
)
from .visitors import DESK, PHONE

#: not disinfected today: that way is walked with the script
WITHOUT_CHLORINE = {
    "scope": "media",
    "disinfect-scope": "not_needed",
    "disinfect-why": "negative sample in May",
}


#: six working days on or later, whatever weekday it is: Wren has the afternoon from one on free
DAY = """
import json
from django.utils import timezone
from jobs.models import TechnicianSlot
from jobs.models.company import company_day
from jobs.schedule.working_days import add_working_days
day = add_working_days(company_day(timezone.now()), 6)
held = TechnicianSlot.objects.filter(technician__username="wren")
taken = {company_day(at) for at in held.values_list("quarter_at", flat=True)
         if 13 <= timezone.localtime(at).hour < 16}
while day in taken:
    day = add_working_days(day, 1)
print(json.dumps(day.isoformat()))
"""


def test_the_dispatcher_finds_and_books(visit, product):
    day = product.ask(DAY)
    page = visit("clement", size=DESK, script=False).page
    page.locator("[name=q]").fill("odalis fernquil")
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name="12 Sedgewren Lane").first.click()
    page.get_by_role("link", name="Book a visit").click()
    page.locator("[name=kind]").select_option("service")
    page.locator("[name=day]").fill(day)
    page.locator("[name=start]").fill("13:00")
    lead = page.locator("[name=lead] option", has_text="Wren").get_attribute("value")
    page.locator("[name=lead]").select_option(lead)
    if page.locator("[name=callback][type=radio]").count():
        page.get_by_label("No, something else").check()
    page.get_by_role("button", name="Book the visit").click()
    page.wait_for_url("**/visits/*/")
    assert "Service" in page.locator("h1").inner_text()


def test_the_dispatcher_keeps_a_promise(visit):
    page = visit("clement", size=DESK, script=False).page
    page.goto("/worklist/")
    bookable = page.locator("tr", has=page.locator("a[href$='/book/']")).last
    promise = bookable.locator("a[href^='/promises/']").first.get_attribute("href")
    bookable.get_by_role("link", name="Book").click()
    page.locator("input[type=radio]").first.check()
    page.get_by_role("button", name="Book this time").click()
    page.get_by_text("Booked: ").wait_for()
    page.goto(promise)
    assert page.get_by_role("link", name="See the visit").count() == 1


def test_the_technician_fills_and_closes(visit, product):
    booked = product.ask(BOOKED.format(street="117 Quillmarsh Lane"))
    person = visit(booked["lead"], size=PHONE, script=False)
    page = person.page
    arrive_and_begin(page, booked["visit"])
    technician = Technician(person, product, answers=WITHOUT_CHLORINE)
    assert not technician.live
    for block in BEFORE_DIAL:
        technician.open_block(block)
        technician.fill_block()
    technician.open_block("dial-back")
    panel = page.locator("form.panel", has_text="Strength of the mixed solution")
    panel.get_by_role("button", name="Compute").click()
    assert page.locator(".measure .answer").count() > 0
    technician.fill_block()
    for setting, *seen in (*STEPS, STEPS[-1]):
        technician.set_step(setting)
        technician.hours_pass(3)
        technician.read_step(*seen)
    technician.press(f"{STEPS[-1][0]}")
    technician.fill_block()
    for block in AFTER_DIAL:
        technician.open_block(block)
        technician.fill_block()
    assert refused_close(technician) == []
    technician.press("Close the record")
    stands = product.ask(STANDS.format(record=technician.record))
    assert stands["status"] == "closed"
    assert "f1" in stands["promises"]
    end_visit(page, booked["visit"])


def test_a_refused_form_keeps_what_was_typed(visit, product):
    page = visit("marit", size=DESK, script=False).page
    page.goto("/customers/new/")
    page.locator("[name$=name]").first.fill("Nell Exempel")
    page.locator("[name$=phone]").first.fill("12")
    page.locator("main button.main").click()
    page.wait_for_load_state()
    assert page.locator("[name$=name]").first.input_value() == "Nell Exempel"
    assert page.locator("[name$=phone]").first.input_value() == "12"
    assert page.locator("main .refused .say").count() == 1


def test_the_owner_reads_the_report(visit):
    page = visit("osric", size=DESK, script=False).page
    page.goto("/callbacks/")
    page.locator("[name=window]").last.wait_for(state="attached")
    page.get_by_role("button", name="Count").click()
    judged = page.locator("table.evidence a[href*='what=judgeable']").first
    number = int(judged.inner_text())
    judged.click()
    page.wait_for_load_state()
    assert page.locator("main table tbody tr").count() == number
    with page.expect_download() as kept:
        page.get_by_role("link", name="CSV").first.click()
    assert kept.value.path().stat().st_size > 100
