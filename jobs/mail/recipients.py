"""Who is written to. Nobody without an address, nobody who has said no."""

from __future__ import annotations

from datetime import date

from django.contrib.auth.models import User

from equipment.models import Site
from jobs.models import Customer, SiteTenure, Visit
from jobs.models.company import company_day


def contact_of_site(site: Site | int, *, on: date) -> Customer | None:
    """The one who is called and mailed about this house on that day."""
    tenure = SiteTenure.objects.at(on).of_site(site).filter(is_contact=True).first()
    return tenure.customer if tenure else None


def contact_of_visit(visit: Visit) -> Customer | None:
    """The contact of the house on the day of the visit; else whoever asked for the work."""
    contact = contact_of_site(visit.job.site_id, on=company_day(visit.starts_at))
    return contact or visit.job.customer


def staff_with(role: str) -> list[User]:
    people = User.objects.filter(is_active=True, groups__name=role).exclude(email="")
    return list(people.order_by("pk"))


def office() -> list[User]:
    """The dispatchers; the owners where nobody else minds the office."""
    return staff_with("dispatcher") or staff_with("owner")
