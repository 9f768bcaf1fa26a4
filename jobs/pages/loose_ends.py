"""What is loose besides promises: feeders on without a recheck, mail that needs somebody."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import (
    Count,
    Exists,
    F,
    Max,
    OuterRef,
    QuerySet,
    Subquery,
    TextField,
    Value,
)
from django.db.models.functions import Cast, Concat

from equipment.models import Train
from jobs.models import (
    Act,
    Company,
    FollowUp,
    MailHold,
    OutboxMail,
    PhoneCall,
    RecalledPiece,
    RuleCode,
    Skill,
    Visit,
    VisitWait,
)
from jobs.models.company import company_day
from jobs.wording.licences import TO_RENEW, standing

SHOWN = 20
NEEDING, TOLD_LATER, CALLS, WAITS = "messages", "acts", "calls", "waits"
RECALLS, LEAD, ENDS = "recalls", "lead", "ends "


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
    #: houses at which somebody does not know that something there is called back
    recalls: int = 0
    #: licences that have ended, or end within the days of lead
    licences: int = 0

    def __bool__(self) -> bool:
        return bool(self.feeders or self.mails or self.held or self.acts)


def loose_ends(now: datetime) -> LooseEnds:
    """In two queries, and a third where not all of it is shown."""
    mail, left_on = _mail_that_waits(), feeders_without_recheck()
    licences = _to_renew(mail, company_day(now))
    feeders = list(left_on[:SHOWN])
    return LooseEnds(
        feeders=feeders,
        mails=mail.pop(NEEDING, 0),
        acts=mail.pop(TOLD_LATER, 0),
        callers=mail.pop(CALLS, 0),
        waits=mail.pop(WAITS, 0),
        recalls=mail.pop(RECALLS, 0),
        licences=licences,
        more_feeders=left_on.count() - SHOWN if len(feeders) == SHOWN else 0,
        held=frozenset(mail),
    )


def _mail_that_waits() -> dict[str, int]:
    """What waits for somebody, holds of mail, and how many licences end on which day: one query."""
    needing = OutboxMail.objects.needs_someone().order_by().values(what=Value(NEEDING))
    holds = MailHold.objects.holding().order_by().values(what=F("kind"))
    acts = Act.objects.waiting().order_by().values(what=Value(TOLD_LATER))
    calls = PhoneCall.objects.waiting().order_by().values(what=Value(CALLS))
    waits = VisitWait.objects.standing().order_by().values(what=Value(WAITS))
    recalled = RecalledPiece.objects.open().untold().order_by().values(what=Value(RECALLS))
    lead = Company.objects.order_by().values(what=Value(LEAD))
    last_day = Concat(Value(ENDS), Cast("expires_on", TextField()), output_field=TextField())
    ends = Skill.objects.in_use().exclude(expires_on=None).order_by().values(what=last_day)
    both = needing.annotate(rows=Count("pk")).union(
        holds.annotate(rows=Count("pk")),
        acts.annotate(rows=Count("pk")),
        calls.annotate(rows=Count("pk")),
        waits.annotate(rows=Count("pk")),
        recalled.annotate(rows=Count("site", distinct=True)),
        lead.annotate(rows=Max("licence_lead_days")),
        ends.annotate(rows=Count("pk")),
        all=True,
    )
    return {row["what"]: row["rows"] for row in both}


def _to_renew(found: dict[str, int], on: date) -> int:
    """How many of them have ended or end soon; they are taken out of what was found."""
    lead_days = found.pop(LEAD, None) or Company().licence_lead_days
    ends = {key: found.pop(key) for key in list(found) if key.startswith(ENDS)}
    return sum(
        number
        for key, number in ends.items()
        if _key(date.fromisoformat(key.removeprefix(ENDS)), on, lead_days) in TO_RENEW
    )


def _key(expires_on: date, on: date, lead_days: int) -> str:
    return standing(expires_on, None, on=on, lead_days=lead_days).key


def feeders_without_recheck() -> QuerySet[Train]:
    """Systems whose last visit left the feeder on, with no recheck promised and none ever kept."""
    last = Visit.objects.filter(job__train=OuterRef("pk"), status=Visit.Status.CLOSED)
    kept = [FollowUp.Status.OPEN, FollowUp.Status.BOOKED, FollowUp.Status.DONE]
    promised = FollowUp.objects.filter(
        train=OuterRef("pk"), rule__code=RuleCode.RECHECK, status__in=kept
    )
    ever_on = Visit.objects.left_on().values("job__train")
    return (
        Train.objects.standing()
        .filter(pk__in=ever_on)
        .annotate(
            left=Subquery(
                last.exclude(feeder_left="").order_by("-closed_at", "-pk").values("feeder_left")[:1]
            )
        )
        .filter(~Exists(promised), left=Visit.Feeder.ON)
        .select_related("site")
        .order_by("pk")
    )
