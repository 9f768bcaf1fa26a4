"""What is the same for every letter of a kind, whoever gets it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime

from icalendar import Calendar

from jobs.models import Company, OutboxMail


@dataclass
class Content:
    """What a letter says: the context of its template, and what is attached."""

    context: dict[str, object]
    calendar: Calendar | None = None
    documents: list[tuple[str, bytes]] = field(default_factory=list)


@dataclass(frozen=True)
class Kind:
    """Made once in each module of `jobs/mail/about/`, whose name is the name of the kind.

    `content` reads what the letter says; `objection` says in a sentence why it need not leave
    any more, "" while it still holds. A letter that `opens_an_account` is shown to nobody and not
    kept; one that `tells_the_time` of a visit is as good as a reminder; whoever got one that
    `tells_the_visit` knows how the visit stands.
    """

    module: str
    content: Callable[[OutboxMail, Company], Content]
    objection: Callable[[OutboxMail, datetime], str]
    opens_an_account: bool = False
    tells_the_time: bool = False
    tells_the_visit: bool = False

    @property
    def name(self) -> str:
        return self.module.rpartition(".")[2]

    @property
    def template(self) -> str:
        return f"jobs/emails/{self.name}.html"


def always(mail: OutboxMail, now: datetime) -> str:
    """The objection of a letter that nothing overtakes."""
    return ""
