"""What is on file for a site: newest readings and settings, each with where it comes from."""

from __future__ import annotations

from datetime import datetime

from django.db.models import Q
from django.utils import timezone

from equipment.models import Measurement, SettingChange, Site, Stage, Well
from equipment.quantities import MEASURED, Known


def day_text(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%-d %b %Y}"


class OnFile:
    """Newest standing rows of a site, its wells and its parts, in two queries."""

    def __init__(
        self, *, site: Site, wells: list[Well], stages: list[Stage], before: datetime
    ) -> None:
        self.stages = stages
        rows = (
            Measurement.objects.standing()
            .filter(Q(site=site) | Q(well__in=wells) | Q(stage__in=stages))
            .filter(measured_at__lte=before)
            .order_by("measured_at", "pk")
        )
        self.readings: dict[tuple[str, str, int | None], Measurement] = {}
        for row in rows:
            self.readings[row.quantity_key, row.place, row.stage_id] = row
        self.settings: dict[tuple[int, str], SettingChange] = {}
        for change in (
            SettingChange.objects.standing().filter(stage__in=stages).order_by("at", "pk")
        ):
            self.settings[change.stage_id, change.name] = change

    def row(self, quantity: str, place: str = "", stage: Stage | None = None) -> Measurement | None:
        return self.readings.get((quantity, place, stage.pk if stage else None))

    def reading(self, quantity: str, place: str = "", stage: Stage | None = None) -> Known | None:
        row = self.row(quantity, place, stage)
        return self.known(row) if row else None

    def known(self, row: Measurement) -> Known | None:
        """The figure of a row with its origin; None where it holds words."""
        if row.value is None:
            return None
        origin = f"{row.get_origin_display()}, {day_text(row.measured_at)}"
        if row.comparator == Measurement.Comparator.BELOW:
            origin += ", not found: the limit is used"
        return Known.of(row.value, MEASURED[row.quantity_key].unit, origin)

    def setting(self, stage: Stage | None, name: str, unit: str) -> Known | None:
        change = self.settings.get((stage.pk, name)) if stage else None
        if change is None or change.new_value is None:
            return None
        return Known.of(change.new_value, unit, f"set {day_text(change.at)}")
