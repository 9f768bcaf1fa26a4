"""Landlord and tenant, at 1280 pixels: the tenant becomes a contact, a visit is booked, both know.

Actions and seconds of a machine's hand; the letters that went, each with the reason it says.
"""

import re

import pytest

from .product import poll
from .stories import keeps
from .test_call_story import booked, choose, say, something_else
from .test_dispatcher_story import Counted
from .visitors import DESK

MOST_TO_ADD, MOST_TO_TELL = 8, 4
HOUSE = "70 Wickenpool Street"
LETTERS = """
import json
from jobs.models import OutboxMail
rows = OutboxMail.objects.filter(visit__job__site__street="70 Wickenpool Street")
rows = rows.filter(mail_class="customer", template="visit_confirmation").order_by("pk")
print(json.dumps([[row.pk, row.customer.name, row.recipient, row.state] for row in rows]))
"""
TOLD = """
import json
from jobs.models import VisitTold
rows = VisitTold.objects.filter(visit__job__site__street="70 Wickenpool Street", how="telephone")
print(json.dumps([[row.customer.name, row.whom, row.number] for row in rows.order_by("pk")]))
"""
OWNER = """
import json
from jobs.models import SiteTenure
row = SiteTenure.objects.open().get(site__street="70 Wickenpool Street", part="owner")
print(json.dumps([row.customer.name, row.customer.email]))
"""


@pytest.fixture
def desk(visit):
    page = visit("marit", size=DESK).page
    page.get_by_placeholder("Telephone, street").fill(HOUSE)
    page.get_by_role("button", name="Find").click()
    page.get_by_role("link", name=HOUSE).first.click()
    return page, Counted()


def add_tenant(page, act):
    """Without a mail address: told by telephone."""
    act(page.get_by_role("link", name="add a contact").click)
    act(lambda: page.locator("[name=part]").select_option("tenant"))
    act(page.locator("[name=told_visits]").check)
    act(lambda: page.locator("[name=customer-name]").fill("Perrin Withy"))
    act(lambda: page.locator("[name=customer-phone]").fill("518-555-0189"))
    act(page.get_by_role("button", name="Add the contact").click)
    page.get_by_text("Perrin Withy is a contact of this house now").wait_for()


def book(page, act):
    act(page.get_by_role("link", name="Worklist").first.click)
    act(page.get_by_role("link", name="Take a call").click)
    choose(page, act, HOUSE, HOUSE)
    say(page, act, "Water tastes of salt since Friday.")
    with page.expect_response("**/call/house/"):  # the house stands anew beside the questions
        act(page.locator("[name=asked]").check)
    something_else(page, act)
    act(page.locator("label", has_text="By mail: ").click)
    booked(page, act)


def test_landlord_and_tenant_both_know_of_a_visit(desk, product, capsys):
    page, act = desk
    landlord, address = product.ask(OWNER)
    before = {row[0] for row in product.ask(LETTERS)}
    add_tenant(page, act)
    to_add = act.actions
    assert to_add <= MOST_TO_ADD
    contacts = page.locator(".contacts").inner_text()
    assert "Perrin Withy" in contacts
    assert "No mail address: needs a call" in contacts
    book(page, act)
    pk = page.url.rstrip("/").rpartition("/")[2]
    sent = poll(lambda: [r for r in product.ask(LETTERS) if r[0] not in before and r[3] == "sent"])
    assert [row[1:3] for row in sent] == [[landlord, address]]
    mails = [mail for mail in product.letters() if mail["To"] == address]
    texts = [mail.get_body(("plain",)).get_content() for mail in mails]
    (reason,) = {said[0] for text in texts if (said := re.search(r"You get this as .*", text))}
    assert reason.startswith(f"You get this as owner of {HOUSE}")
    assert "Told as well: tenant." in reason
    page.goto("/worklist/?show=calls")
    row = page.locator("tr", has_text="Perrin Withy", has=page.locator(f"a[href*='/{pk}/']"))
    assert "no mail address on file" in row.inner_text()
    told_from = act.actions
    act(row.get_by_role("link", name="Tell them").click)
    assert page.locator("[name=customer]:checked").count() == 1
    assert page.locator("[name=number]").input_value() == "(518) 555-0189"
    act(lambda: page.locator("[name=whom]").fill("Perrin Withy"))
    act(page.locator("[name=read_back]").check)
    act(page.get_by_role("button", name="They know.").click)
    page.wait_for_url("**/worklist/")
    assert ["Perrin Withy", "Perrin Withy", "(518) 555-0189"] in product.ask(TOLD)
    page.goto("/worklist/?show=calls")
    assert row.count() == 0
    assert act.actions - told_from <= MOST_TO_TELL
    with capsys.disabled():
        print(
            f"\nlandlord and tenant: {to_add} actions to add the tenant, {act.actions} in all, "
            f"{act.seconds:.1f} s; letters: {[[row[1], reason] for row in sent]}"
        )
    keeps("landlord and tenant", act, sent)


def test_a_tenant_who_calls_is_found_with_the_part(desk):
    page, act = desk
    if not page.get_by_text("Perrin Withy").count():
        add_tenant(page, act)
    page.goto("/worklist/")
    page.get_by_role("link", name="Take a call").click()
    page.locator("#q").fill("5550189")
    found = page.locator("#found label", has_text=HOUSE).first
    found.wait_for()
    assert "Perrin Withy, tenant" in found.inner_text()
