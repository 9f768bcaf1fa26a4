"""Contacts of a house: landlord and tenant, who is told what, and what of it was kept."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from jobs.mail.links import AnswerClaim, answer_token
from jobs.models import Customer, OutboxMail, SiteTenure, Visit, VisitTold
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from jobs.workflows.records import close_record
from jobs.workflows.visit_answers import answer
from tests.acts import booked, moved, opened, sold
from tests.calls import opened as opened_call
from tests.calls import sent as sent_call
from tests.calls import shown
from tests.conftest import NOW
from tests.factories import make_customer, make_site, make_staff, make_train, next_number
from tests.jobs.mail.letters import text_of
from tests.jobs.workflows.sending import Postbox, send
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db
TODAY = company_day(NOW)
NINE = at_hour(TODAY + timedelta(days=1), 9)
BY_MAIL = ["Rhoda Lark", "Ada Vole"]


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


def person(name, **fields):
    number = next_number()
    usual = {"kind": "person", "mail_wanted": "on", "email": f"person{number}@example.com"}
    usual |= {"name": name, "phone": f"518-555-01{number % 100:02d}"} | fields
    return {f"customer-{key}": value for key, value in usual.items()}


def added(client, site, part, *ticks, **who):
    sent = {"part": part, "from_on": f"{TODAY:%Y-%m-%d}", "once": f"key-{next_number()}"}
    where = reverse("contact-new", args=[site.pk])
    return client.post(where, sent | dict.fromkeys(ticks, "on") | who)


def changed(client, tenure, *ticks, **more):
    sent = {"part": tenure.part, "version": tenure.version, "once": f"key-{next_number()}"}
    where = reverse("contact-edit", args=[tenure.pk])
    return client.post(where, sent | dict.fromkeys(ticks, "on") | more)


def ended(client, tenure, on=TODAY):
    sent = {"on": f"{on:%Y-%m-%d}", "once": f"key-{next_number()}"}
    return client.post(reverse("contact-end", args=[tenure.pk]), sent)


def of(name):
    return SiteTenure.objects.get(customer__name=name)


@pytest.fixture
def let(dispatcher_client):
    """The landlord is called first; the tenant is told of visits as well."""
    house = make_site(customer=make_customer(name="Rhoda Lark"), street="3 Otter Lane")
    sent = added(dispatcher_client, house, "tenant", "told_visits", **person("Ada Vole"))
    assert sent.status_code == 302
    return house


def visit_at(site, at=NINE):
    return booked(
        opened(make_train(site=site), "service"), make_staff("technician"), at=at, now=NOW
    )


def letters(visit, template=None):
    rows = OutboxMail.objects.filter(visit=visit, mail_class="customer").order_by("pk")
    rows = rows.filter(template=template) if template else rows
    return [row.customer.name for row in rows]


def worklist(client):
    return " ".join(client.get(reverse("worklist")).content.decode().split())


def house_page(client, site):
    return " ".join(client.get(reverse("site-detail", args=[site.pk])).content.decode().split())


def test_each_who_is_told_of_visits_gets_every_letter_by_name_with_the_reason(let):
    visit = visit_at(let)
    assert letters(visit, "visit_confirmation") == BY_MAIL
    first, second = visit.mails.order_by("pk")
    for mail, who, part, other in (
        (first, "Rhoda Lark", "owner", "tenant"),
        (second, "Ada Vole", "tenant", "owner"),
    ):
        text = text_of(send(mail, Postbox(), at=NOW))
        assert f"Dear {who}," in text
        assert f"You get this as {part} of 3 Otter Lane, Kestrel Ford." in text
        assert f"Told as well: {other}." in text
    moved(visit, at=NINE + timedelta(days=2), now=NOW)
    assert letters(visit, "visit_moved") == BY_MAIL


def test_one_person_in_two_parts_gets_one_letter(let, dispatcher_client):
    tenant = of("Ada Vole").customer
    sent = added(dispatcher_client, let, "neighbour", "told_visits", "has_key", known=tenant.pk)
    assert sent.status_code == 302
    assert letters(visit_at(let)) == BY_MAIL
    again = added(dispatcher_client, let, "neighbour", known=tenant.pk)
    assert again.status_code == 422
    assert "is noted as neighbour of this house already" in again.content.decode()


def test_who_has_no_mail_needs_a_call_and_is_ticked_by_name(let, dispatcher_client):
    tenant = of("Ada Vole")
    Customer.objects.filter(pk=tenant.customer_id).update(email="")
    visit = visit_at(let)
    send(visit.mails.get(), Postbox(), at=NOW)  # the landlord knows
    page = worklist(dispatcher_client)
    assert "Ada Vole" in page
    assert "no mail address on file" in page
    where = reverse("visit-tell", args=[visit.pk])
    call = dispatcher_client.get(where).content.decode()
    assert tenant.customer.phone.as_national in call
    sent = {"sequence": visit.sequence, "customer": tenant.customer_id, "whom": "Ada Vole"}
    sent |= {"number": "518-555-0170", "read_back": "on", "once": "told"}
    assert dispatcher_client.post(where, sent).status_code == 302
    told = VisitTold.objects.filter(visit=visit, how="telephone")
    assert [(row.customer.name, row.whom) for row in told] == [("Ada Vole", "Ada Vole")]
    assert "no mail address on file" not in worklist(dispatcher_client)
    page = dispatcher_client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    assert "Rhoda Lark: told by mail" in " ".join(page.split())
    assert "Ada Vole: told by telephone" in " ".join(page.split())


def test_the_tenant_answers_by_the_link_of_the_own_letter(let):
    visit, tenant = visit_at(let), of("Ada Vole").customer
    claim = AnswerClaim(visit.pk, visit.sequence, tenant.pk)
    answer(token=answer_token(claim), choice="confirm", now=NOW)
    assert list(VisitTold.objects.values_list("customer__name", "how")) == [("Ada Vole", "answer")]


def test_who_joins_is_written_to_about_visits_ahead_and_nobody_else_again(let, dispatcher_client):
    visit = visit_at(let)
    joined = added(dispatcher_client, let, "caretaker", "told_visits", **person("Milo Reeve"))
    assert joined.status_code == 302
    assert letters(visit) == [*BY_MAIL, "Milo Reeve"]
    changed(dispatcher_client, of("Milo Reeve"), "told_visits", "has_key")
    assert letters(visit) == [*BY_MAIL, "Milo Reeve"]


def test_who_is_unticked_gets_no_letter_that_still_waits(let, dispatcher_client):
    visit = visit_at(let)
    changed(dispatcher_client, of("Ada Vole"))
    send(visit.mails.get(customer__name="Rhoda Lark"), Postbox(), at=NOW)
    left = send(visit.mails.get(customer__name="Ada Vole"), Postbox(), at=NOW)
    assert (left.state, left.last_error) == ("skipped", "Somebody else is told at this house now.")


def test_called_first_and_pays_move_and_who_was_first_stays_told(let, dispatcher_client):
    changed(dispatcher_client, of("Rhoda Lark"), "is_contact", "pays")
    changed(dispatcher_client, of("Ada Vole"), "is_contact", "pays")
    landlord, tenant = of("Rhoda Lark"), of("Ada Vole")
    assert (tenant.is_contact, tenant.pays) == (True, True)
    assert (landlord.is_contact, landlord.pays, landlord.told_visits) == (False, False, True)
    refused = changed(dispatcher_client, tenant)
    assert "Somebody is called first" in refused.content.decode()
    assert of("Ada Vole").is_contact


def test_of_two_who_change_at_once_the_second_sees_the_first(let, dispatcher_client):
    tenant = of("Ada Vole")
    changed(dispatcher_client, tenant, "told_visits", "has_key")
    late = changed(dispatcher_client, tenant, "told_visits", "pays")
    assert late.status_code == 409
    assert (of("Ada Vole").has_key, of("Ada Vole").pays) == (True, False)


def test_a_contact_ends_with_its_day_and_is_told_nothing_more(let, dispatcher_client):
    refused = ended(dispatcher_client, of("Rhoda Lark"))
    assert "Say first who is called instead" in refused.content.decode()
    ahead = ended(dispatcher_client, of("Ada Vole"), on=TODAY + timedelta(days=1))
    assert "The day lies ahead" in ahead.content.decode()
    before = ended(dispatcher_client, of("Ada Vole"), on=TODAY - timedelta(days=1))
    assert "choose that day or a later one" in before.content.decode()
    assert ended(dispatcher_client, of("Ada Vole")).status_code == 302
    assert of("Ada Vole").until_on == TODAY
    assert letters(visit_at(let)) == ["Rhoda Lark"]
    assert f"former tenant until {TODAY:%-d %B %Y}" in house_page(dispatcher_client, let)


def test_nobody_joins_on_a_day_that_lies_ahead(let, dispatcher_client):
    sent = person("Milo Reeve") | {"from_on": f"{TODAY + timedelta(days=1):%Y-%m-%d}"}
    refused = added(dispatcher_client, let, "builder", **sent)
    assert refused.status_code == 422
    assert not Customer.objects.filter(name="Milo Reeve").exists()


def test_the_record_reaches_owner_and_tenant_ticked_or_not(dispatcher_client):
    call_command("load_rules", verbosity=0)
    record, visit, lead = make_ready()
    owner = SiteTenure.objects.get(site=record.site).customer
    added(dispatcher_client, record.site, "tenant", **person("Ada Vole"))
    added(dispatcher_client, record.site, "neighbour", **person("Milo Reeve"))
    close_record(record=record, visit=visit, by=lead, now=NOW)
    told = OutboxMail.objects.filter(template="record_summary").order_by("pk")
    assert [mail.customer.name for mail in told] == [owner.name, "Ada Vole"]
    texts = [text_of(send(mail, Postbox(), at=NOW)) for mail in told]
    assert f"You get this as tenant of {record.site.street}" in texts[1]


def test_a_tenant_who_calls_and_says_it_back_leaves_the_letter_to_the_landlord(
    let, dispatcher_client
):
    """The tenant wants no letter besides; the landlord was not on the telephone."""
    make_staff("technician")
    typed = opened_call(dispatcher_client) | {"house": str(let.pk), "asked": "on"}
    number = of("Rhoda Lark").customer.phone.as_national  # they share a telephone
    typed |= {"caller": "Ada Vole", "number": number, "symptom": "The tap hums."}
    typed = {**shown(dispatcher_client, **typed), **typed, "told": "call", "do": "visit"}
    sent_call(dispatcher_client, **typed)
    visit = Visit.objects.get()
    told = VisitTold.objects.get()
    assert (told.customer.name, told.whom, told.how) == ("Ada Vole", "Ada Vole", "telephone")
    assert letters(visit) == ["Rhoda Lark"]
    added(dispatcher_client, let, "caretaker", "told_visits", **person("Milo Reeve"))
    assert letters(visit) == ["Rhoda Lark", "Milo Reeve"]  # none to who said it back


def test_who_is_told_of_visits_later_hears_of_those_ahead(let, dispatcher_client):
    visit = visit_at(let)
    added(dispatcher_client, let, "caretaker", **person("Milo Reeve"))
    assert letters(visit) == BY_MAIL
    changed(dispatcher_client, of("Milo Reeve"), "told_visits")
    assert letters(visit) == [*BY_MAIL, "Milo Reeve"]


def test_a_sale_asks_who_leaves_and_tells_the_new_owner_of_visits(let, dispatcher_client):
    added(dispatcher_client, let, "neighbour", "has_key", **person("Milo Reeve"))
    visit = visit_at(let)
    page = dispatcher_client.get(reverse("tenure-change", args=[let.pk]))
    ticked = {
        row.customer.name
        for row in SiteTenure.objects.filter(pk__in=page.context["form"].fields["ending"].initial)
    }
    assert ticked == set(BY_MAIL)  # the neighbour with the key stays
    buyer = make_customer(name="Una Sedge")
    sold(let, on=TODAY, to=buyer, ending=[of("Rhoda Lark")])
    assert of("Ada Vole").until_on is None
    assert letters(visit, "visit_confirmation") == [*BY_MAIL, "Una Sedge"]


def test_house_and_search_name_part_telephone_and_key(let, dispatcher_client):
    added(dispatcher_client, let, "neighbour", "has_key", **person("Milo Reeve"))
    page = house_page(dispatcher_client, let)
    for said in ("Has a key", "Told of visits, told of notices and results", "Nobody is noted as"):
        assert said.lower() in page.lower()
    found = dispatcher_client.get(reverse("search"), {"q": "Ada Vole"}).content.decode()
    assert "name of Ada Vole, tenant" in " ".join(found.split())
