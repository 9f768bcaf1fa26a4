"""Recalls: from the letter of a supplier to the last part that is exchanged."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import FollowUp, LogEntry, Recall
from jobs.workflows.removals import put_back, take_out
from tests import factories as make
from tests.acts import booked, closed, opened
from tests.conftest import NOW
from tests.forms import filled
from tests.recalls import (
    WORDS,
    called_back,
    marked,
    once,
    page,
    piece_of,
    promise,
    replaced,
    settled,
    softener,
    states,
)

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("rules_at_now")]


# --- the list ------------------------------------------------------------------------------------


def test_the_list_holds_what_stands_and_what_nobody_wrote_the_lot_of(dispatcher_client):
    inside, unknown = softener("R-120", "In"), softener("", "Unknown")
    softener("R-200", "Out")
    softener("R-121", "Gone", removed_on=NOW.date())
    make.make_stage(train=inside.train, kind="uv", lot="R-120")
    recall = called_back(dispatcher_client)
    assert states(dispatcher_client, recall) == {"In": "no visit", "Unknown": "to look at"}
    assert promise(inside)
    assert promise(unknown)
    assert "2 houses, 2 pieces" in " ".join(
        page(dispatcher_client, recall).content.decode().split()
    )


def test_how_many_it_would_be_is_said_before_it_is_opened(dispatcher_client):
    softener("R-120")
    answer = dispatcher_client.post(reverse("recall-new"), WORDS | once())
    assert "1 piece at 1 house" in " ".join(answer.content.decode().split())
    assert not Recall.objects.exists()
    assert not FollowUp.objects.exists()


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"what": ""}, "what", "needed"),
        ({"first": ""}, "first", "Say where the range begins."),
        ({"since": "2026-05-02", "until": "2026-05-01"}, "since", "must not be later"),
        ({"caution": ""}, "caution", ""),
        ({"source": ""}, "source", ""),
        ({"title": "x" * 121}, "title", "120"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(dispatcher_client, typed, field, said):
    answer = dispatcher_client.post(reverse("recall-new"), WORDS | typed | {"seen": "on"} | once())
    assert answer.status_code == 422
    assert said in " ".join(answer.context["form"].errors[field])
    assert WORDS["reason"] in answer.content.decode()
    assert not Recall.objects.exists()


def test_one_lot_alone_is_that_lot_and_not_a_piece_of_others(dispatcher_client):
    softener("R-12", "One")
    softener("R-120", "Other")
    recall = called_back(dispatcher_client, first="r-12", last="")
    assert states(dispatcher_client, recall) == {"One": "no visit"}


def test_by_serial_number_a_part_with_a_lot_alone_is_to_be_looked_at(dispatcher_client):
    softener("R-120", "Lot")
    softener("R-120", "Serial", serial="114")
    recall = called_back(dispatcher_client, marks="serial", first="110", last="120")
    assert states(dispatcher_client, recall) == {"Lot": "to look at", "Serial": "no visit"}


def test_without_marks_every_such_part_is_called_back(dispatcher_client):
    softener("", "One")
    recall = called_back(dispatcher_client, first="", last="")
    assert states(dispatcher_client, recall) == {"One": "no visit"}


def test_the_search_hands_over_what_it_asked(dispatcher_client):
    softener("R-120")
    asked = {"what": "kind:softener", "first": "R-114", "last": "R-131"}
    text = dispatcher_client.get(reverse("part-list"), asked).content.decode()
    assert "Call these back" in text
    form = dispatcher_client.get(reverse("recall-new"), asked).context["form"]
    assert {name: form[name].value() for name in asked} == asked


# --- kept in step --------------------------------------------------------------------------------


def test_what_is_fitted_later_joins_the_list(dispatcher_client):
    recall = called_back(dispatcher_client)
    train = make.make_train(site=make.make_site(street="Later"))
    address = f"{reverse('stage-new', args=[train.pk])}?kind=softener"
    form = dispatcher_client.get(address).context["form"]
    sent = {f.html_name: f.value() for f in form if f.value() not in (None, False)}
    vessel, resin = make.make_vessel(), make.make_resin()
    typed = {"lot": "R-131", "vessel": vessel.pk, "resin": resin.pk, "media_volume_ft3": "1"}
    assert dispatcher_client.post(address, sent | typed | once()).status_code == 302
    assert states(dispatcher_client, recall) == {"Later": "no visit"}


def test_replacing_works_it_off_and_keeps_the_promise(dispatcher_client):
    old = softener("R-120", "In")
    recall = called_back(dispatcher_client)
    kept = promise(old)
    replaced(dispatcher_client, old, lot="R-240")
    assert states(dispatcher_client, recall) == {"In": "replaced"}
    kept.refresh_from_db()
    assert (kept.status, kept.ended_reason) == ("done", "replaced")


def test_one_that_is_replaced_by_another_of_them_is_on_the_list_again(dispatcher_client):
    old = softener("R-120", "In")
    recall = called_back(dispatcher_client)
    new = replaced(dispatcher_client, old, lot="R-121")
    assert sorted(recall.pieces.values_list("end", flat=True)) == ["", "replaced"]
    assert promise(new)


def test_the_plate_says_whether_it_is_one_of_them(dispatcher_client):
    other, one = softener("", "Other"), softener("", "One")
    recall = called_back(dispatcher_client)
    marked(dispatcher_client, other, "R-200")
    marked(dispatcher_client, one, "R-120")
    assert states(dispatcher_client, recall) == {"Other": "not one of them", "One": "no visit"}
    assert promise(other) is None
    marked(dispatcher_client, other, "R-114")
    assert states(dispatcher_client, recall)["Other"] == "no visit"
    assert promise(other)


def test_a_system_that_leaves_takes_its_parts_off_and_brings_them_back(dispatcher_client):
    part, by = softener("R-120", "In"), make.make_staff("dispatcher")
    recall = called_back(dispatcher_client)
    take_out(train=part.train, on=NOW.date(), reason="Sold it", by=by, now=NOW)
    assert states(dispatcher_client, recall) == {"In": "taken out"}
    assert promise(part) is None
    put_back(train=part.train, by=by, now=NOW)
    assert states(dispatcher_client, recall) == {"In": "no visit"}
    assert promise(part)


def test_solution_in_tanks_is_called_back_by_its_lot(dispatcher_client, clock):
    train = make.make_train(site=make.make_site(street="Fed"), stages=("feeder",))
    feeder = train.stages.get()
    sent = filled(dispatcher_client, "fill-new", feeder) | {
        "lot": "S-77",
        "product_gal": "2",
        "filled_by": "company",
    }
    dispatcher_client.post(reverse("fill-new", args=[feeder.pk]), sent | once())
    what = {"what": f"product:{feeder.product_id}", "first": "S-70", "last": "S-79"}
    recall = called_back(dispatcher_client, **what)
    assert states(dispatcher_client, recall) == {"Fed": "no visit"}
    clock(NOW + timedelta(hours=1))
    sent = filled(dispatcher_client, "fill-new", feeder) | {
        "lot": "S-78",
        "product_gal": "2",
        "filled_by": "company",
    }
    dispatcher_client.post(reverse("fill-new", args=[feeder.pk]), sent | once())
    assert recall.pieces.open().count() == 2  # what is poured on top mixes with the rest
    piece = recall.pieces.first()
    assert settled(dispatcher_client, piece, "replaced", "emptied and rinsed").status_code == 302
    assert promise(feeder)
    settled(dispatcher_client, recall.pieces.last(), "replaced", "emptied and rinsed")
    assert promise(feeder) is None


# --- the visit -----------------------------------------------------------------------------------


def test_a_visit_that_does_not_exchange_it_gives_the_promise_back(dispatcher_client):
    part, lead = softener("R-120", "In"), make.make_staff("technician")
    recall = called_back(dispatcher_client)
    job = opened(part.train, "repair")
    visit = booked(job, lead, follow_ups=[promise(part)])
    assert states(dispatcher_client, recall) == {"In": "visit booked"}
    closed(visit)
    assert states(dispatcher_client, recall) == {"In": "no visit"}
    assert promise(part).status == "open"


def test_its_promise_is_not_given_up_beside_the_list(dispatcher_client):
    part = softener("R-120")
    called_back(dispatcher_client)
    where = reverse("follow-up-waive", args=[promise(part).pk])
    answer = dispatcher_client.post(where, {"reason": "not worth it", **once()})
    assert answer.status_code == 422
    assert "page of the recall" in answer.content.decode()
    assert promise(part)
    detail = dispatcher_client.get(reverse("follow-up-detail", args=[promise(part).pk]))
    assert WORDS["title"] in detail.content.decode()
    assert where not in detail.content.decode()


# --- by hand -------------------------------------------------------------------------------------


def test_only_the_owner_gives_up_and_a_part_is_replaced_at_its_house(
    dispatcher_client, owner_client
):
    part = softener("R-120", "In")
    recall = called_back(dispatcher_client)
    piece = piece_of(part)
    for end in ("given_up", "replaced", ""):
        assert settled(dispatcher_client, piece, end).status_code == 422
    assert settled(owner_client, piece, "given_up", "no").status_code == 422
    assert promise(part)
    assert settled(owner_client, piece, "given_up", "They will not let us in.").status_code == 302
    assert states(dispatcher_client, recall) == {"In": "given up"}
    assert promise(part) is None
    assert settled(owner_client, piece, "not_there").status_code == 422


def test_what_was_said_by_mistake_is_taken_back(dispatcher_client):
    part = softener("R-120", "In")
    recall = called_back(dispatcher_client)
    settled(dispatcher_client, piece_of(part), "not_there")
    back = reverse("piece-back", args=[piece_of(part).pk])
    assert dispatcher_client.post(back, {"why": "no", **once()}).status_code == 422
    assert dispatcher_client.post(back, {"why": "the other house", **once()}).status_code == 302
    assert states(dispatcher_client, recall) == {"In": "no visit"}
    assert promise(part)
    entry = LogEntry.objects.get(verb="recalled_again")
    assert entry.reason == "the other house"


def test_a_part_that_left_is_not_put_back_on_the_list(dispatcher_client):
    old = softener("R-120", "In")
    called_back(dispatcher_client)
    replaced(dispatcher_client, old, lot="R-240")
    back = reverse("piece-back", args=[piece_of(old).pk])
    assert dispatcher_client.post(back, {"why": "a mistake", **once()}).status_code == 422
