"""What the page of the table of towns shows."""

from __future__ import annotations

from equipment.models import Site
from equipment.models.sites import street_key
from jobs.models import Company, TownDrive
from jobs.reports.edit_history import changes_of_all


def towns_of() -> dict[str, object]:
    rows = list(TownDrive.objects.all())
    company = Company.load()
    return {
        "rows": [row for row in rows if not row.is_within],
        "within": [row for row in rows if row.is_within],
        "towns": towns_on_file(),
        "company": company,
        "changes": changes_of_all(TownDrive, "minutes"),
    }


def towns_on_file() -> list[str]:
    """Towns of houses that are looked after; one spelling of each."""
    names = Site.objects.active().order_by("town").values_list("town", flat=True).distinct()
    found: dict[str, str] = {}
    for name in names:
        found.setdefault(street_key(name), name)
    return sorted(found.values(), key=str.casefold)
