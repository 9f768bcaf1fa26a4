"""The dispatcher at the telephone, at 1280 pixels: actions and seconds of a machine's hand.

For each story, the letters that went and why: none without a reason.
"""

import pytest

from .product import poll
from .stories import keeps
from .test_dispatcher_story import Counted
from .visitors import DESK, PHONE

LETTERS = """
import json
from jobs.models import OutboxMail
rows = OutboxMail.objects.filter(mail_class="customer").order_by("pk")
print(json.dumps([[r.pk, r.template, r.recipient, r.visit_id] for r in rows]))
"""
HOUSES = """
import json
from datetime import timedelta
from django.utils import timezone
from equipment.models import Site
from jobs.models import *
from jobs.models.company import company_day
today = company_day(timezone.now())
started = Job.objects.filter(kind="startup", index_on__gte=today - timedelta(days=60))
silent = SiteTenure.objects.at(today).filter(is_contact=True, customer__email="")
print(json.dumps({
    "started": list(started.order_by("-index_on").values_list("site__street", flat=True)),
    "silent": [row.site.street for row in silent.select_related("site")],
}))
"""
CALL = """
import json
from jobs.models import PhoneCall
call = PhoneCall.objects.order_by("pk").last()
print(json.dumps({
    "end": call.end, "words": call.words, "kind": call.visit and call.visit.job.kind,
    "told": list(call.visit.tellings.values_list("how", flat=True)) if call.visit else [],
    "answer": call.visit and call.visit.job.callback_answer,
}))
"""
NOTICE = """
import json
from jobs.models import DoNotUse, FollowUp
row = DoNotUse.objects.standing().order_by("pk").last()
due = FollowUp.objects.open().filter(details__event="danger_told", site=row.site_id)
print(json.dumps([row.level, row.cause, sorted(due.values_list("terms__job_kind", flat=True))]))
"""


@pytest.fixture
def desk(visit, product):
    """The page of a call, and what came of it: its letters are those written since."""
    page = visit("marit", size=DESK).page
    page.goto("/worklist/")
    before = {row[0] for row in product.ask(LETTERS)}

    def letters():
        return [row[1:3] for row in product.ask(LETTERS) if row[0] not in before]

    act = Counted()
    act(page.get_by_role("link", name="Take a call").click)
    return page, act, letters


def choose(page, act, text, house):
    act(lambda: page.locator("#q").fill(text))
    act(page.locator("#found label", has_text=house).first.click)
    page.get_by_role("button", name="Book the visit").wait_for()


def say(page, act, words):
    act(lambda: page.locator("[name=symptom]").fill(words))


def said(capsys, story, act, letters):
    with capsys.disabled():
        print(f"\n{story}: {act.actions} actions, {act.seconds:.1f} s; letters: {letters}")
    keeps(story, act, letters)


def booked(page, act):
    """Also where the page asks whether a second visit to the house that day is meant."""
    act(page.get_by_role("button", name="Book the visit").click)
    page.locator("h1:not(:has-text('Who calls')), .look-twice").first.wait_for()
    anyway = page.get_by_role("button", name="Yes, book it anyway")
    if anyway.count():
        act(anyway.click)
        act.asked_twice += 1
    page.wait_for_url("**/visits/*/")


def something_else(page, act):
    """The callback question, where it is asked."""
    if page.locator("[name=callback][type=radio]").count():
        act(page.locator("label", has_text="No, something else").click)


def test_an_unknown_caller_has_a_survey_booked(desk, product, capsys):
    page, act, letters = desk
    choose(page, act, "518-555-0151", "a new house")
    assert page.locator("[name=customer-phone]").input_value() == "(518) 555-0151"
    act(lambda: page.locator("[name=customer-name]").fill("Wilmot Fescue"))
    act(lambda: page.locator("[name=customer-email]").fill("wilmot.fescue@example.com"))
    act(lambda: page.locator("[name=house-street]").fill("41 Plover Bank"))
    act(lambda: page.locator("[name=house-town]").fill("Tarn Hollow"))
    say(page, act, "Brown stains in the sink since they bought the house.")
    act(page.locator("[name=asked]").check)
    booked(page, act)
    call = product.ask(CALL)
    assert (call["end"], call["kind"], call["told"][:1]) == ("visit", "survey", ["telephone"])
    # the day and hours with their calendar file, to the address she said
    assert letters() == [["visit_confirmation", "wilmot.fescue@example.com"]]
    said(capsys, "unknown caller to booked survey", act, letters())


def test_odour_soon_after_a_start_up_is_asked_about_and_not_sure_is_an_answer(
    desk, product, capsys
):
    page, act, letters = desk
    (street, *_) = product.ask(HOUSES)["started"]
    choose(page, act, street, street)
    say(page, act, "Smells of rotten eggs again since Sunday.")
    act(page.locator("[name=asked]").check)
    act(page.locator("label", has_text="Not sure, decided at closing").click)
    act(page.locator("label", has_text="On this call: they said").click)
    booked(page, act)
    call = product.ask(CALL)
    assert (call["answer"], call["told"]) == ("not_sure", ["telephone"])
    assert letters() == []  # said back on the telephone, and no letter was asked for
    said(capsys, "odour after a start-up", act, letters())


def test_a_flooded_well_is_acted_on_before_anything_is_booked(desk, product, capsys):
    page, act, letters = desk
    street = product.ask(HOUSES)["started"][-1]
    choose(page, act, street, street)
    assert not page.get_by_text("Do not turn the well pump on").is_visible()
    act(page.locator("label", has_text="under water").click)
    assert page.get_by_text("Do not turn the well pump on").is_visible()
    act(page.locator("[name=read_out]").check)
    say(page, act, "The creek came over the well in the night.")
    act(page.get_by_role("button", name="Open the notice now").click)
    page.get_by_text("Kept open").first.wait_for()
    assert product.ask(NOTICE) == ["no_drinking", "flood", ["disinfect", "sample"]]
    assert page.locator("[name=symptom]").input_value().startswith("The creek")
    act(page.locator("[name=asked]").check)
    act(lambda: page.locator("[name=kind]").select_option("disinfect"))
    along = page.locator("label[for^=id_along]", has_text="Disinfection after a flood")
    along.wait_for()
    act(along.click)
    poll(lambda: page.locator("[name=along]:checked").count() == 1)
    something_else(page, act)
    page.locator(".openings", has_text="has “Water treatment, journeyman”").wait_for()
    poll(lambda: page.get_by_text("the time shown before").count() == 0)
    booked(page, act)
    # one letter: the visit that was agreed, which says the notice too
    assert [template for template, _ in letters()] == ["visit_confirmation"]
    said(capsys, "flooded well", act, letters())


def test_a_customer_without_mail_is_told_on_the_telephone(desk, product, capsys):
    page, act, letters = desk
    (street, *_) = product.ask(HOUSES)["silent"]
    choose(page, act, street, street)
    assert not page.locator("label", has_text="By mail").count()
    say(page, act, "The salt is used up.")
    act(page.locator("[name=asked]").check)
    something_else(page, act)
    booked(page, act)
    assert product.ask(CALL)["told"] == ["telephone"]
    assert letters() == []
    said(capsys, "phone-only customer", act, letters())


def test_at_a_narrow_screen_nothing_stands_beside_the_page(visit):
    page = visit("marit", size=PHONE).page
    page.goto("/call/?q=Sedgewren")
    page.locator("#found label").first.click()
    page.get_by_role("button", name="Book the visit").wait_for()
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]
