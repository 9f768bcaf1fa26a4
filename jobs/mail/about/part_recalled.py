"""To a household: a part, or what was filled in, is called back; what to do until we come."""

from __future__ import annotations

from datetime import datetime

from equipment.models import Site
from jobs.mail import standing
from jobs.mail.kind import Content, Kind
from jobs.mail.writing import LONGEST_TRY, Letter, to_customer
from jobs.models import Company, Customer, OutboxMail, Recall, RecalledPiece


def write(*, recall: Recall, site: Site, customer: Customer, now: datetime) -> OutboxMail | None:
    """Once for each recall, house and contact."""
    letter = Letter(
        f"recall:{recall.pk}:site:{site.pk}",
        KIND,
        {"recall": recall.pk, "site": site.pk},
        useful_until=now + LONGEST_TRY,
    )
    return to_customer(letter, customer=customer, site=site, now=now)


def _pieces(mail: OutboxMail) -> list[RecalledPiece]:
    rows = RecalledPiece.objects.open().filter(
        recall=mail.context["recall"], site=mail.context["site"]
    )
    return list(rows.select_related("stage", "fill__product"))


def _objection(mail: OutboxMail, now: datetime) -> str:
    return "" if _pieces(mail) else "Nothing at this house is called back any more."


def _content(mail: OutboxMail, company: Company) -> Content:
    context = {
        "recall": Recall.objects.get(pk=mail.context["recall"]),
        "site": Site.objects.get(pk=mail.context["site"]),
        "pieces": [piece.said for piece in _pieces(mail)],
        "notices": standing.notices_of(int(mail.context["site"])),
    }
    return Content(context)


KIND = Kind(__name__, _content, _objection)
