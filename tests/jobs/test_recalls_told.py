"""Recalls: who is told, when one is closed, and what is read of it."""

import csv
from io import BytesIO, StringIO

import openpyxl
import pytest
from django.urls import reverse

from jobs.errors import BadEntry, WrongState
from jobs.models import (
    OutboxMail,
    RecalledPiece,
    RecallTold,
    SiteTenure,
)
from tests import factories as make
from tests.calls import worklist
from tests.conftest import NOW
from tests.recalls import (
    BY_PHONE,
    WORDS,
    called_back,
    marked,
    once,
    page,
    piece_of,
    replaced,
    settled,
    softener,
    states,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("rules_at_now")]


# --- told ----------------------------------------------------------------------------------------


def tell(client, recall, site, customer, **said):
    sent = {"person": f"{site.pk}-{customer.pk}", "whom": "C. Weir", **BY_PHONE, **said, **once()}
    return client.post(reverse("recall-tell", args=[recall.pk, site.pk]), sent)


def holder(part):
    return SiteTenure.objects.get(site=part.train.site, is_contact=True).customer


def untold(client, recall):
    return page(client, recall).context["counts"].untold


def test_the_worklist_counts_houses_until_each_is_told(dispatcher_client):
    part, other = softener("R-120", "In"), softener("R-121", "Next")
    recall = called_back(dispatcher_client)
    assert 'recall, not told <b class="late">2</b>' in worklist(dispatcher_client)
    assert tell(dispatcher_client, recall, part.train.site, holder(part)).status_code == 302
    assert 'recall, not told <b class="late">1</b>' in worklist(dispatcher_client)
    told = RecallTold.objects.get()
    assert (told.whom, told.number, told.customer) == ("C. Weir", "607-555-0142", holder(part))
    tell(dispatcher_client, recall, other.train.site, holder(other))
    assert "recall, not told" not in worklist(dispatcher_client)


def test_a_voice_mail_is_not_told(dispatcher_client):
    part = softener("R-120")
    recall = called_back(dispatcher_client)
    answer = tell(dispatcher_client, recall, part.train.site, holder(part), read_back="")
    assert answer.status_code == 422
    assert not RecallTold.objects.exists()


def test_owner_and_tenant_are_each_told(dispatcher_client):
    part = softener("R-120")
    site = part.train.site
    tenant = make.make_tenure(
        site=site, customer=make.make_customer(email=""), part="tenant", is_contact=False
    ).customer
    recall = called_back(dispatcher_client)
    tell(dispatcher_client, recall, site, holder(part))
    assert untold(dispatcher_client, recall) == 1
    tell(dispatcher_client, recall, site, tenant)
    assert untold(dispatcher_client, recall) == 0


def letters(client, recall):
    return client.post(reverse("recall-letters", args=[recall.pk]), follow=True)


def test_a_letter_goes_to_each_with_an_address_once_and_who_has_none_is_called(dispatcher_client):
    softener("R-120", "Mail")
    softener("R-121", "None", email="")
    recall = called_back(dispatcher_client)
    assert not OutboxMail.objects.filter(template="part_recalled").exists()
    assert "1 letter written" in letters(dispatcher_client, recall).content.decode()
    assert "0 letters written" in letters(dispatcher_client, recall).content.decode()
    (mail,) = OutboxMail.objects.filter(template="part_recalled")
    assert mail.customer.name == "Of Mail"
    assert untold(dispatcher_client, recall) == 1


def test_a_letter_that_went_nowhere_tells_nobody(dispatcher_client):
    softener("R-120")
    recall = called_back(dispatcher_client)
    letters(dispatcher_client, recall)
    assert untold(dispatcher_client, recall) == 0
    OutboxMail.objects.filter(template="part_recalled").update(state="dead")
    assert untold(dispatcher_client, recall) == 1
    assert 'recall, not told <b class="late">1</b>' in worklist(dispatcher_client)


# --- closed --------------------------------------------------------------------------------------


def close(client, recall):
    return client.post(reverse("recall-close", args=[recall.pk]), once())


def test_it_is_closed_when_each_house_is_worked_off_and_opened_again_with_a_reason(
    dispatcher_client, owner_client
):
    part = softener("R-120", "In")
    recall = called_back(dispatcher_client)
    answer = close(owner_client, recall)
    assert answer.status_code == 422
    assert "1 house of this list is not worked off" in answer.content.decode()
    replaced(dispatcher_client, part, lot="R-240")
    assert close(dispatcher_client, recall).status_code == 403
    assert close(owner_client, recall).status_code == 302
    recall.refresh_from_db()
    assert recall.closed_at
    later = softener("", "Later")
    marked(dispatcher_client, later, "R-120")
    assert not RecalledPiece.objects.filter(stage=later).exists()
    again = reverse("recall-again", args=[recall.pk])
    assert owner_client.post(again, {"why": "", **once()}).status_code == 422
    assert owner_client.post(again, {"why": "another letter", **once()}).status_code == 302
    assert states(dispatcher_client, recall) == {"In": "replaced", "Later": "no visit"}


def test_a_closed_recall_writes_to_nobody(dispatcher_client, owner_client):
    recall = called_back(dispatcher_client)
    close(owner_client, recall)
    assert "is closed" in letters(dispatcher_client, recall).content.decode()


def test_taking_back_in_a_closed_recall_opens_it(dispatcher_client, owner_client):
    part = softener("R-120")
    recall = called_back(dispatcher_client)
    settled(dispatcher_client, piece_of(part), "not_there")
    close(owner_client, recall)
    back = reverse("piece-back", args=[piece_of(part).pk])
    assert dispatcher_client.post(back, {"why": "it is there", **once()}).status_code == 302
    recall.refresh_from_db()
    assert recall.closed_at is None


# --- read ----------------------------------------------------------------------------------------


def test_files_hold_the_list(dispatcher_client):
    softener("R-120", "In")
    recall = called_back(dispatcher_client)
    where = reverse("recall-file", args=[recall.pk])
    text = dispatcher_client.get(where).content.decode("utf-8-sig")
    above, rest = text.split("\n", 1)
    assert WORDS["title"] in above
    (row,) = csv.DictReader(StringIO(rest))
    assert (row["Lot"], row["Told"], row["State"]) == ("R-120", "no", "no visit")
    book = dispatcher_client.get(where, {"as": "xlsx"}).content
    assert openpyxl.load_workbook(BytesIO(book)).sheetnames == ["Recall"]
    assert dispatcher_client.get(where, {"as": "doc"}).status_code == 400


def test_the_list_of_all_says_how_many_are_left(dispatcher_client, owner_client):
    part = softener("R-120")
    recall = called_back(dispatcher_client)
    (row,) = dispatcher_client.get(reverse("recall-list")).context["rows"]
    assert (row.recall, row.houses, row.left) == (recall, 1, 1)
    replaced(dispatcher_client, part, lot="R-240")
    (row,) = dispatcher_client.get(reverse("recall-list")).context["rows"]
    assert (row.houses, row.left) == (1, 0)


@pytest.mark.parametrize("rows", [3, 40])
def test_the_page_asks_as_often_however_long_the_list(
    dispatcher_client, rows, django_assert_max_num_queries
):
    for number in range(rows):
        softener("R-120", f"House {number}")
    recall = called_back(dispatcher_client)
    with django_assert_max_num_queries(17):
        page(dispatcher_client, recall)


def test_a_technician_reads_no_recall(dispatcher_client, technician_client):
    recall = called_back(dispatcher_client)
    for name, args in (("recall-list", []), ("recall-new", []), ("recall-detail", [recall.pk])):
        assert technician_client.get(reverse(name, args=args)).status_code == 403


def test_workflows_refuse_what_no_page_offers(dispatcher_client):
    from jobs.workflows import recalls
    from tests.acts import spoken_to

    part, by = softener("R-120"), make.make_staff("owner")
    recall = called_back(dispatcher_client)
    adult = spoken_to("C. Weir")
    with pytest.raises(WrongState, match="Nothing at this house"):
        recalls.tell(recall=recall, site=make.make_site(), adult=adult, by=by, now=NOW)
    with pytest.raises(BadEntry, match="Choose how"):
        recalls.settle(piece=piece_of(part), end="gone", why="looked", by=by, now=NOW)
