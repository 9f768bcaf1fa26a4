"""Recalls as people work on them: the pages a browser would send."""

from django.urls import reverse

from equipment.models import Stage
from jobs.models import FollowUp, Recall, RecalledPiece
from tests import factories as make
from tests.forms import filled

WORDS = {
    "title": "Seal in the valve head",
    "what": "kind:softener",
    "marks": "lot",
    "first": "R-114",
    "last": "R-131",
    "reason": "The seal of these lots may tear.",
    "source": "Letter of the supplier of 2 June",
    "caution": "Turn the bypass to BYPASS (untreated) if you hear water run.",
}
BY_PHONE = {"how": "telephone", "number": "607-555-0142", "read_back": "on"}


def softener(lot="", street="", *, email="c@example.com", **fields):
    customer = make.make_customer(name=f"Of {street or lot}", email=email)
    site = make.make_site(street=street or f"House {lot}", customer=customer)
    return make.make_stage(train=make.make_train(site=site), kind="softener", lot=lot, **fields)


def once():
    return {"once": str(make.next_number())}


def called_back(client, **words):
    """The page of a new recall, counted and opened."""
    sent = {**WORDS, **words, **once()}
    first = client.post(reverse("recall-new"), sent)
    assert first.context["form"].errors == {}, first.context["form"].errors
    answer = client.post(reverse("recall-new"), sent | {"seen": "on"})
    assert answer.status_code == 302, answer.context["form"].errors
    return Recall.objects.latest("pk")


def page(client, recall):
    return client.get(reverse("recall-detail", args=[recall.pk]))


def states(client, recall):
    return {row.piece.site.street: row.state for row in page(client, recall).context["rows"]}


def promise(stage):
    return FollowUp.objects.alive().filter(stage=stage, rule__code="f29").first()


def replaced(client, stage, **typed):
    sent = filled(client, "stage-replace", stage) | typed | once()
    assert client.post(reverse("stage-replace", args=[stage.pk]), sent).status_code == 302
    return Stage.objects.latest("pk")


def marked(client, stage, lot):
    sent = filled(client, "stage-marks", stage) | {"lot": lot} | once()
    assert client.post(reverse("stage-marks", args=[stage.pk]), sent).status_code == 302


def settled(client, piece, end, why="looked at it"):
    sent = {"end": end, "why": why, **once()}
    return client.post(reverse("piece-settle", args=[piece.pk]), sent)


def piece_of(stage):
    return RecalledPiece.objects.get(stage=stage)
