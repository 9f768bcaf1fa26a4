"""What is loose besides promises: feeders on without a recheck, mail that needs somebody."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Exists, F, OuterRef, QuerySet, Subquery, Value

from equipment.models import Train
from jobs.models import Act, FollowUp, MailHold, OutboxMail, PhoneCall, RuleCode, Visit, VisitWait

SHOWN = 20
NEEDING, TOLD_LATER, CALLS, WAITS = "messages", "acts", "calls", "waits"


@dataclass(frozen=True)
class LooseEnds:
    feeders: list[Train]
    mails: int
    #: systems beyond those that are shown
    more_feeders: int = 0
    held: frozenset[str] = frozenset()  # why mail waits for a person
    #: acts that phones told and that were not applied
    acts: int = 0
    #: callers who wait, shown in a list of their own
    callers: int = 0
    #: visits that wait for something, shown in a list of their own
    waits: int = 0

    def __bool__(self) -> bool:
        return bool(self.feeders or self.mails or self.held or self.acts)


def loose_ends() -> LooseEnds:
    """In two queries, and a third where not all of it is shown."""
    mail, left_on = _mail_that_waits(), feeders_without_recheck()
    feeders = list(left_on[:SHOWN])
    return LooseEnds(
        feeders=feeders,
        mails=mail.pop(NEEDING, 0),
        acts=mail.pop(TOLD_LATER, 0),
        callers=mail.pop(CALLS, 0),
        waits=mail.pop(WAITS, 0),
        more_feeders=left_on.count() - SHOWN if len(feeders) == SHOWN else 0,
        held=frozenset(mail),
    )


def _mail_that_waits() -> dict[str, int]:
    """Messages, acts, calls and visits that wait for somebody, and holds of mail, in one query."""
    needing = OutboxMail.objects.needs_someone().order_by().values(what=Value(NEEDING))
    holds = MailHold.objects.holding().order_by().values(what=F("kind"))
    acts = Act.objects.waiting().order_by().values(what=Value(TOLD_LATER))
    calls = PhoneCall.objects.waiting().order_by().values(what=Value(CALLS))
    waits = VisitWait.objects.standing().order_by().values(what=Value(WAITS))
    both = needing.annotate(rows=Count("pk")).union(
        holds.annotate(rows=Count("pk")),
        acts.annotate(rows=Count("pk")),
        calls.annotate(rows=Count("pk")),
        waits.annotate(rows=Count("pk")),
        all=True,
    )
    return {row["what"]: row["rows"] for row in both}


def feeders_without_recheck() -> QuerySet[Train]:
    """Systems whose last visit left the feeder on, with no recheck promised and none ever kept."""
    last = Visit.objects.filter(job__train=OuterRef("pk"), status=Visit.Status.CLOSED)
    kept = [FollowUp.Status.OPEN, FollowUp.Status.BOOKED, FollowUp.Status.DONE]
    promised = FollowUp.objects.filter(
        train=OuterRef("pk"), rule__code=RuleCode.RECHECK, status__in=kept
    )
    return (
        Train.objects.standing()
        .annotate(
            left=Subquery(
                last.exclude(feeder_left="").order_by("-closed_at", "-pk").values("feeder_left")[:1]
            )
        )
        .filter(~Exists(promised), left=Visit.Feeder.ON)
        .select_related("site")
        .order_by("pk")
    )
