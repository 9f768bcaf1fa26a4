"""Holds of mail as the page of messages shows them."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Q

from jobs.models import MailHold, OutboxMail
from jobs.workflows.mail_holds import in_doubt, kept_back


@dataclass(frozen=True)
class ShownHold:
    hold: MailHold
    waiting: int
    doubtful: int

    @property
    def stands(self) -> bool:
        return self.hold.ended_at is None and self.hold.held_at is not None


def holds() -> list[ShownHold]:
    """Those that keep mail back, and outages that left doubts about several messages."""
    open_doubts = Q(mails__state=OutboxMail.State.UNKNOWN, mails__seen_at=None)
    rows = MailHold.objects.annotate(doubtful=Count("mails", filter=open_doubts))
    holding = Q(ended_at=None) & ~Q(held_at=None)
    return [
        ShownHold(
            row,
            waiting=0 if row.ended_at else kept_back(row).count(),
            doubtful=in_doubt(row).count(),
        )
        for row in rows.filter(holding | Q(doubtful__gt=1))
    ]
