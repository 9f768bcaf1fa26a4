"""Who was told before the chlorine went in: on paper, corrected, and before the way was asked."""

import html
import re

import pytest
from django.urls import reverse

from equipment.models import SpecialUse
from jobs.models import Document, OutboxMail, PourTold, RecordCorrection
from jobs.workflows.pouring import all_told
from jobs.workflows.telling import Adult
from tests.closings import disinfection
from tests.conftest import NOW, signed_in
from tests.factories import make_customer, make_site, make_staff
from tests.jobs.test_customer_paper import printed
from tests.migrating import migrated
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db
TOLD_AT = "2026-06-10T10:00"
RIGHT = {"whom": "S. Okafor", "how": "telephone", "number": "607-555-0143", "read_back": "on"}
RIGHT |= {"told_at": TOLD_AT, "reason": "the brother took the telephone"}


def words(answered):
    said = re.sub(r"<[^>]+>", " ", answered.content.decode())
    return " ".join(html.unescape(said).split())


def put_right(client, record, site, **typed):
    where = reverse("record-correct", args=[record.pk]) + f"?told={site.pk}"
    return client.post(where, RIGHT | typed, follow=True)


@pytest.fixture
def closed(clock):
    """A disinfection whose well serves a neighbour as well."""
    neighbour = make_site(customer=make_customer(name="M. Okafor", phone="+16075550143"))
    record = disinfection(neighbours=[neighbour])
    clock(record.closed_at)
    return record, neighbour, signed_in(record.closed_by)


def test_both_houses_stand_on_the_print_and_the_customer_reads_no_neighbour(closed):
    record, neighbour, client = closed
    sheet = words(client.get(reverse("record-print", args=[record.pk])))
    said = "C. Prudhomme told at the house, said it back, June 10, 2026, 10:00 am"
    assert "Told before the chlorine went in" in sheet
    for site in (record.site, neighbour):
        assert f"{site} {said}" in sheet
    paper = printed(record)
    assert f"Before the chlorine went in: {said}; the other house on this well: told." in paper


def test_a_neighbour_who_was_told_another_way_is_put_right(closed):
    record, neighbour, client = closed
    choice = words(client.get(reverse("record-correct", args=[record.pk])))
    assert f"Who was told before the chlorine went in: {neighbour}" in choice
    said = words(put_right(client, record, neighbour))
    assert "Version 2:" in said
    sheet = words(client.get(reverse("record-print", args=[record.pk])))
    told = "S. Okafor told by telephone 607-555-0143, said it back, June 10, 2026, 10:00 am"
    assert f"{neighbour} {told}" in sheet
    shown = words(client.get(reverse("record-block", args=[record.pk, "disinfect"])))
    assert "S. Okafor told by telephone 607-555-0143" in shown
    assert PourTold.objects.get(site=neighbour).whom == "C. Prudhomme"
    assert Document.objects.filter(record=record).count() == 2
    assert OutboxMail.objects.filter(template="record_corrected").count() == 1
    paper = printed(record)
    assert "told by telephone, said it back" in paper
    for name in ("Okafor", "0143"):
        assert name not in paper
        assert name not in RecordCorrection.objects.get().after
    told = dict(RIGHT, whom="T. Okafor")
    put_right(client, record, neighbour, **told)
    again = words(client.get(reverse("record-print", args=[record.pk])))
    assert "T. Okafor told" in again
    assert "S. Okafor" not in again


def test_the_household_reads_who_was_told_in_its_own_house(closed):
    record, _, client = closed
    put_right(client, record, record.site, whom="A. Prudhomme", how="door")
    paper = printed(record)
    assert "A. Prudhomme told at the house, said it back, June 10, 2026, 10:00 am instead" in paper


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"whom": " "}, "whom"),
        ({"number": ""}, "number"),
        ({"read_back": ""}, "read_back"),
        ({"told_at": "2026-06-20T10:00"}, "told_at"),
        ({"told_at": "2026-06-01T10:00"}, "told_at"),
        ({"how": "door", "number": "", "whom": "C. Prudhomme"}, "reason"),
        ({"reason": " "}, "reason"),
    ],
)
def test_what_cannot_have_been_told_is_refused_at_its_field(closed, wrong, field):
    record, neighbour, client = closed
    page = put_right(client, record, neighbour, **wrong)
    assert page.status_code == 422
    assert list(page.context["form"].errors) == [field]
    assert not RecordCorrection.objects.exists()


def test_a_house_that_was_never_told_of_cannot_be_corrected(closed):
    record, _, client = closed
    assert put_right(client, record, make_site()).status_code == 404
    stranger = signed_in(make_staff("technician"))
    assert put_right(stranger, record, record.site).status_code in (403, 404)


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_who_was_told_before_the_update_keeps_the_name_and_no_way_is_made_up():
    record, _, lead = make_house()
    answer(record, lead, "disinfect-scope", "here")
    told = {record.site_id: Adult("C. Prudhomme", "", is_asked=False)}
    all_told(record=record, told=told, by=lead, now=NOW)
    with migrated("jobs", "0065_call_again_on"):
        pass
    row = PourTold.objects.get()
    assert (row.whom, row.how, row.number, row.told_at) == ("C. Prudhomme", "", "", None)
    shown = signed_in(lead).get(reverse("record-block", args=[record.pk, "disinfect"]))
    assert "C. Prudhomme told, way not noted" in words(shown)
    assert not SpecialUse.objects.exists()
