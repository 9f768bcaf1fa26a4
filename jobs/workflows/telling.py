"""Keeping that a customer was told of a visit: by a letter, by telephone, by an answer."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import ResultTold
from jobs.errors import BadEntry, VisitChanged
from jobs.mail.about import TELLING_THE_VISIT
from jobs.mail.recipients import told_of_visit
from jobs.mail.visits import tellings_to
from jobs.models import Customer, OutboxMail, Visit, VisitTold

from .log import log

How = ResultTold.How
MAY_HAVE_LEFT = (
    OutboxMail.State.CLAIMED,
    OutboxMail.State.SENDING,
    OutboxMail.State.SENT,
    OutboxMail.State.UNKNOWN,
)


@dataclass(frozen=True)
class Adult:
    """An adult of a house who was told of its water and said it back."""

    whom: str
    how: str
    number: str = ""
    read_back: bool = False
    #: False: by a page that asked for the name alone
    is_asked: bool = True

    def check(self) -> None:
        """A name, the number where it was a call, and the words said back; nothing less is told."""
        if not self.whom.strip():
            raise BadEntry("Say the name of the adult who was told.", field="whom")
        if not self.is_asked:
            return
        if self.how not in How.values:
            raise BadEntry("By telephone or at the house; a voice mail is not told.", field="how")
        if self.how == How.TELEPHONE and not self.number.strip():
            raise BadEntry("Say which number you called.", field="number")
        if not self.read_back:
            raise BadEntry("Told is what they said back to you.", field="read_back")

    @property
    def kept(self) -> dict[str, str]:
        """Name, way and number as rows keep them."""
        number = self.number.strip()[:30] if self.how == How.TELEPHONE else ""
        return {"whom": self.whom.strip()[:120], "how": self.how, "number": number}


@dataclass(frozen=True)
class Call:
    """An adult of the house on the telephone, who said back what was told."""

    whom: str
    number: str
    read_back: bool
    #: for whom of the house it counts
    customer: Customer | None = None


@transaction.atomic
def tell_by_telephone(
    *, visit: Visit, sequence: int, call: Call, by: User, now: datetime
) -> VisitTold:
    """What stood on the page was told; refused where the visit is another by now.

    It counts for the contact that is named, else for whoever is called first at the house.
    """
    visit = (
        Visit.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=visit.pk)
    )
    if visit.sequence != sequence:
        raise VisitChanged("The visit changed while you telephoned: tell them how it stands now.")
    for name, said in (
        ("whom", "Say the name of the adult you spoke to."),
        ("number", "Say which number you called."),
    ):
        if not getattr(call, name).strip():
            raise BadEntry(said, field=name)
    if not call.read_back:
        raise BadEntry(
            "Told is what they said back to you. A voice mail is not told: note the call instead.",
            field="read_back",
        )
    told = VisitTold.objects.create(
        visit=visit,
        customer=call.customer or next(iter(told_of_visit(visit).people), None),
        sequence=visit.sequence,
        how=VisitTold.How.TELEPHONE,
        at=now,
        by=by,
        whom=call.whom.strip()[:120],
        number=call.number.strip()[:30],
        read_back=True,
        **_facts(visit),
    )
    log(verb="visit_told", subject=visit, by=by, now=now, site=visit.job.site)
    return told


def told_by_mail(*, mail: OutboxMail, now: datetime, by: User | None = None) -> None:
    """The mail server took a letter about a visit, or `by` decided that it was seen; once each."""
    if (
        mail.template not in TELLING_THE_VISIT
        or mail.visit_id is None
        or "from" not in mail.context
    ):
        return
    context = mail.context
    VisitTold.objects.get_or_create(
        mail=mail,
        defaults={
            "visit_id": mail.visit_id,
            "customer": mail.customer,
            "sequence": context["sequence"],
            "how": VisitTold.How.MAIL,
            "at": now,
            "by": by,
            "arrive_from": datetime.fromisoformat(context["from"]),
            "arrive_until": datetime.fromisoformat(context["until"]),
            "lead_id": context["lead"],
        },
    )


def told_by_answer(*, visit: Visit, customer: Customer, now: datetime) -> None:
    """Who answers our letter has read it, whatever the mail server said."""
    known = tellings_to(visit, customer).filter(sequence=visit.sequence)
    if not known.exists():
        VisitTold.objects.create(
            visit=visit,
            customer=customer,
            sequence=visit.sequence,
            how=VisitTold.How.ANSWER,
            at=now,
            **_facts(visit),
        )


def known_again(*, visit: Visit, now: datetime) -> set[int]:
    """To whom it stands again as they were told, and nothing else can have reached them.

    Kept as told. A letter of the change between that still waits finds the visit changed, and does
    not leave.
    """
    facts, again = _facts(visit), set()
    for customer in told_of_visit(visit).people:
        known = tellings_to(visit, customer).last()
        if known is None or any(getattr(known, name) != value for name, value in facts.items()):
            continue
        went = OutboxMail.objects.filter(visit=visit, state__in=MAY_HAVE_LEFT, customer=customer)
        if any(mail.context.get("sequence", 0) > known.sequence for mail in went):
            continue
        how = VisitTold.How.STILL
        kept = {"sequence": visit.sequence, "how": how, "at": now, **facts}
        VisitTold.objects.create(visit=visit, customer=customer, **kept)
        again.add(customer.pk)
    return again


def _facts(visit: Visit) -> dict[str, object]:
    return {
        "arrive_from": visit.arrive_from,
        "arrive_until": visit.arrive_until,
        "lead_id": visit.lead_id,
    }
