"""To who heard of a notice that was meant for another house: it was a mistake, and ours."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from jobs.mail import standing
from jobs.mail.kind import Content, Kind
from jobs.mail.writing import LONGEST_TRY, Letter, to_each
from jobs.models import Company, Customer, DoNotUse, NoticeTold, OutboxMail
from jobs.schedule.hours import day_words, zone_of
from jobs.wording.names import person

WENT = (OutboxMail.State.SENT, OutboxMail.State.UNKNOWN, OutboxMail.State.SENDING)


def write(*, notices: Sequence[DoNotUse], now: datetime) -> OutboxMail | None:
    """One letter for all that end in one act; nobody who never heard of it is troubled."""
    notice = notices[0]
    letter = Letter(
        f"notice:{notice.pk}:taken-back",
        KIND,
        {"notice": notice.pk, "site": notice.site_id},
        useful_until=now + LONGEST_TRY,
    )
    return to_each(letter, people=heard_of(*notices), site=notice.site, now=now)


def heard_of(*notices: DoNotUse) -> list[Customer]:
    """Who was told by name, and who had a letter about a visit meanwhile: it says what stands."""
    told = NoticeTold.objects.filter(notice__in=notices, is_taken_back=False).values("customer")
    houses = set().union(*(notice.houses for notice in notices))
    letters = OutboxMail.objects.filter(
        state__in=WENT,
        visit__job__site__in=houses,
        sent_at__gte=min(notice.opened_at for notice in notices),
    )
    named = Customer.objects.filter(pk__in=told)
    return list((named | Customer.objects.filter(pk__in=letters.values("customer"))).order_by("pk"))


def _read(mail: OutboxMail) -> DoNotUse:
    rows = DoNotUse.objects.select_related("site", "lifted_by")
    return rows.get(pk=mail.context["notice"])


def _objection(mail: OutboxMail, now: datetime) -> str:
    return ""


def _content(mail: OutboxMail, company: Company) -> Content:
    notice = _read(mail)
    assert notice.lifted_by
    context = {
        "site": notice.site,
        "day": day_words(notice.opened_at, zone_of(notice.site)),
        "what": notice.get_level_display().lower(),
        "why": notice.taken_back_why,
        "who": person(notice.lifted_by),
        "notices": standing.notices_of(notice.site_id),
    }
    return Content(context)


KIND = Kind(__name__, _content, _objection)
