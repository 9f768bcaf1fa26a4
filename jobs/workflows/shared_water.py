"""Houses that get the same water: what forbids chlorine or an oxidant at one forbids it at all."""

from __future__ import annotations

from equipment.models import Site, SpecialUse, Train, Well
from jobs.errors import DoNotUseOpen


def houses_on(site: Site, train: Train | None) -> list[Site]:
    """Every house that gets this water, the one that is named first."""
    wells = list(train.wells.all()) if train else []
    if not wells and (only := Well.objects.only_one_at(site)):
        wells = [only]
    return [site, *Site.objects.on_wells(wells).exclude(pk=site.pk)]


def refuse_for_dialysis(*, site: Site, train: Train | None) -> None:
    """Home dialysis at any house on the well, until its clinic has been told."""
    rows = SpecialUse.objects.filter(site__in=houses_on(site, train)).select_related("site")
    blocking = next((use for use in rows if use.blocks_oxidant), None)
    if blocking is None:
        return
    where = "" if blocking.site_id == site.pk else f", at {blocking.site}"
    raise DoNotUseOpen(
        f"Home dialysis on this water{where}: no disinfection and no oxidant until the clinic has "
        "been told. Note on the page of that house who told whom."
    )
