"""What stands beside a call: who was found, the house, and calls that wait or were kept."""

from __future__ import annotations

from datetime import datetime

from equipment.models import Site
from jobs.models import Customer, PhoneCall, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.search.find import search
from jobs.search.hits import Hit

from .notices import notices_of

#: houses that are read while somebody talks
MOST_FOUND = 8
#: calls that a page shows
MOST_SHOWN = 8
#: calls on the worklist; the list of calls has all
MOST_WAITING = 12


def found(q: str, *, chosen: Site | None, today: datetime) -> dict[str, object]:
    """Houses and customers that answer, the one that is chosen first."""
    hits = search(q, Site.objects.all(), today=company_day(today))
    kept = [hit for hit in hits if chosen is None or hit.site != chosen]
    if chosen:
        holder = SiteTenure.objects.contacts([chosen.pk], company_day(today)).get(chosen.pk)
        kept = [Hit(chosen, holder, ["chosen"]), *kept]
    return {"hits": kept[:MOST_FOUND], "more": max(len(kept) - MOST_FOUND, 0), "q": q.strip()}


def house_of(site: Site | None, *, now: datetime) -> dict[str, object]:
    """What is said of a house while somebody talks."""
    if site is None:
        return {}
    visits = Visit.objects.filter(job__site=site).with_job()
    return {
        "tenures": SiteTenure.objects.at(company_day(now)).to_call(site),
        "notices": notices_of(site, now=now),
        "coming": list(visits.to_come().order_by("starts_at")[:3]),
        "last": visits.filter(status=Visit.Status.CLOSED).order_by("-starts_at").first(),
        "calls": calls_of_house(site)[:3],
    }


def calls_of_house(site: Site) -> list[PhoneCall]:
    return list(PhoneCall.objects.at_site(site).with_people()[:MOST_SHOWN])


def calls_of_customer(customer: Customer) -> list[PhoneCall]:
    return list(PhoneCall.objects.filter(customer=customer).with_people()[:MOST_SHOWN])


def waiting_calls() -> list[PhoneCall]:
    """What the office owes callers, longest due first."""
    return list(PhoneCall.objects.waiting().with_people()[:MOST_WAITING])
