"""What is charged for a job, how much, and which invoice it stands on. No invoices are written."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, EditedMeanwhile, WrongState
from jobs.models import Job
from jobs.wording.figures import dollars

from .log import log

#: a slip of the keyboard rather than an amount: common practice, no source
MOST_CENTS = 10_000_000


@dataclass(frozen=True)
class Charge:
    kind: str
    cents: int | None = None
    invoice_ref: str = ""
    note: str = ""


def charge_of(job: Job) -> Charge:
    return Charge(job.charge_kind, job.cost_cents, job.invoice_ref, job.charge_note)


@transaction.atomic
def charge_job(*, job: Job, charge: Charge, seen: Charge, by: User, now: datetime) -> Job:
    """Keep what is charged; `seen` is what the page showed, the second of two savers is told."""
    row = Job.objects.select_for_update(of=("self",)).select_related("site").get(pk=job.pk)
    _check(row, charge)
    if charge == charge_of(row):
        return row
    if seen != charge_of(row):
        raise EditedMeanwhile(
            "Somebody else saved this meanwhile. Look at both, then save again.",
            differences=_differences(charge, charge_of(row)),
        )
    row.charge_kind, row.cost_cents = charge.kind, charge.cents
    row.invoice_ref, row.charge_note = charge.invoice_ref, charge.note
    row.save()
    log(
        verb="charged",
        subject=row,
        by=by,
        now=now,
        site=row.site,
        reason=charge.note,
        charge=charge.kind,
    )
    return row


def _check(job: Job, charge: Charge) -> None:
    if job.status == Job.Status.CANCELLED:
        raise WrongState("This job was cancelled: nothing is charged for it.")
    if charge.kind not in Job.Charge.values:
        raise BadEntry("Choose one of those offered.", field="charge_kind")
    if charge.cents is not None and not 0 <= charge.cents <= MOST_CENTS:
        raise BadEntry(f"At most {MOST_CENTS // 100:,} dollars, please.", field="amount")
    if charge.kind in Job.NOT_CHARGED:
        if charge.invoice_ref:
            raise BadEntry("What is not charged stands on no invoice.", field="invoice_ref")
        if not charge.note:
            raise BadEntry("Say why nothing is charged.", field="charge_note")
    elif charge.note:
        raise BadEntry("This is charged: there is nothing to explain.", field="charge_note")
    if charge.invoice_ref and charge.cents is None:
        raise BadEntry("Say how much stands on the invoice.", field="amount")


def _differences(ours: Charge, kept: Charge) -> list[tuple[str, str, str]]:
    words = (
        ("What is charged", ours.kind, kept.kind),
        ("Amount", dollars(ours.cents), dollars(kept.cents)),
        ("Reference of the invoice", ours.invoice_ref, kept.invoice_ref),
        ("Why nothing is charged", ours.note, kept.note),
    )
    return [row for row in words if row[1] != row[2]]
