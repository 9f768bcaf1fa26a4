"""Forms of a well: its identity, and the measured or told figures beside it."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.utils import timezone

from equipment.models import Measurement, Site, Well
from equipment.on_file import OnFile
from equipment.quantities import MEASURED, in_unit, warning_for
from jobs.errors import BadEntry
from jobs.models.company import company_day
from jobs.workflows.measurements import Reading, read_figure

from .fields import rows_of
from .sites import DayInput, EditedForm

#: what is asked about a well with its pump and pressure tank, and about its house
WELL_FIGURES = (
    "total_depth",
    "static_level",
    "pumping_level",
    "casing_diameter",
    "casing_depth",
    "casing_2_diameter",
    "stored_water",
    "pump_depth",
    "well_yield",
    "pump_flow",
    "pressure_tank_volume",
    "precharge",
    "cut_in",
    "cut_out",
    "drawdown_volume",
    "refill_time",
)
HOUSE_FIGURES = ("tap_flow", "peak_flow", "people", "bathrooms", "daily_use", "altitude")
ORIGINS = [
    choice for choice in Measurement.Origin.choices if choice[0] != Measurement.Origin.LABORATORY
]


class WellForm(EditedForm[Well]):
    class Meta:
        model = Well
        fields = [
            "tag",
            "kind",
            "status",
            "control",
            "drilled_on",
            "driller",
            "pump_note",
            "head_in_pit",
            "casing_is_true_inside",
            "also_serves",
            "notes",
        ]
        widgets = {"drilled_on": DayInput(), "notes": forms.Textarea(attrs={"rows": 2})}
        labels = {
            "kind": "How it was made",
            "control": "How the well pump is controlled",
            "also_serves": "Other houses on this well",
        }

    def __init__(self, *args: Any, site: Site, is_office: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site, self.is_office = site, is_office
        served = rows_of(self, "also_serves")
        nearby = Site.objects.filter(town=site.town).exclude(pk=site.pk)
        kept = self.instance.also_serves.values_list("pk", flat=True) if self.instance.pk else []
        served.queryset = (nearby | Site.objects.filter(pk__in=kept)).distinct()
        if not is_office or not nearby.exists():  # houses of others are for the office
            del self.fields["also_serves"]

    def clean_drilled_on(self) -> date | None:
        day: date | None = self.cleaned_data["drilled_on"]
        if day and day > company_day(timezone.now()):
            raise forms.ValidationError("The day of drilling lies ahead.")
        return day

    def clean_tag(self) -> str:
        """Two wells with one tag are a slip of the pen, or the same well."""
        tag: str = self.cleaned_data["tag"].strip()
        same = Well.objects.filter(tag__iexact=tag).exclude(pk=self.instance.pk or 0).first()
        if tag and same and not self.is_office:
            raise forms.ValidationError("Another well has this tag: look again, or ask the office.")
        if tag and same:
            raise forms.ValidationError(
                f"The well at {same.site} has this tag. If it serves this house too, say so there."
            )
        return tag


class Row:
    """One line of the table: what, the boxes, and what is known today."""

    def __init__(self, form: FiguresForm, key: str, known: Measurement | None) -> None:
        self.kind = MEASURED[key]
        self.known = known
        self.value, self.origin = form[key], form[f"{key}_origin"]
        self.unit = form[f"{key}_unit"] if self.kind.units else None
        self.warning = form.warnings.get(key, "")


class FiguresForm(forms.Form):
    """Boxes stay empty unless there is something new; nothing known is overwritten."""

    def __init__(
        self, *args: Any, site: Site, well: Well | None, system: str, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.warnings: dict[str, str] = {}
        self.well_figures: list[Reading] = []
        self.house_figures: list[Reading] = []
        self.known = known_figures(site, well)
        for key in (*WELL_FIGURES, *HOUSE_FIGURES):
            kind = MEASURED[key]
            self.fields[key] = forms.CharField(required=False, label=kind.label, max_length=40)
            if kind.units:
                self.fields[f"{key}_unit"] = forms.ChoiceField(
                    required=False,
                    label=f"Unit of {kind.label.lower()}",
                    choices=[(name, name) for name in kind.units],
                    initial=kind.unit_for(system),
                )
            self.fields[f"{key}_origin"] = forms.ChoiceField(
                required=False,
                label=f"Who says so: {kind.label.lower()}",
                choices=ORIGINS,
                initial=Measurement.Origin.OWNER_SAYS,
            )

    @property
    def well_rows(self) -> list[Row]:
        return [Row(self, key, self.known.get(key)) for key in WELL_FIGURES]

    @property
    def house_rows(self) -> list[Row]:
        return [Row(self, key, self.known.get(key)) for key in HOUSE_FIGURES]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self.well_figures, self.house_figures = [], []
        for key in (*WELL_FIGURES, *HOUSE_FIGURES):
            text = (cleaned.get(key) or "").strip()
            if not text:
                continue
            unit = cleaned.get(f"{key}_unit") or MEASURED[key].unit
            try:
                self.warnings[key] = warning_for(key, read_figure(key, text, unit))
            except BadEntry as refusal:
                self.add_error(key, refusal.message)
                continue
            origin = cleaned.get(f"{key}_origin") or Measurement.Origin.OWNER_SAYS
            figures = self.well_figures if key in WELL_FIGURES else self.house_figures
            figures.append(Reading(key, text, unit, origin=origin))
        return cleaned

    def texts(self) -> dict[str, str]:
        """Every figure as the calculations take it: typed if typed, else as it is known."""
        found = {
            key: f"{row.value:g} {MEASURED[key].unit}".strip()
            for key, row in self.known.items()
            if row.value is not None
        }
        for key in (*WELL_FIGURES, *HOUSE_FIGURES):
            typed = str(self.data.get(self.add_prefix(key), "")).strip()
            if typed:
                unit = self.data.get(self.add_prefix(f"{key}_unit"), "")
                found[key] = typed if not typed[-1].isdigit() else f"{typed} {unit}".strip()
        return found


def known_figures(site: Site, well: Well | None) -> dict[str, Measurement]:
    """What is known of the well and of its house; of a new well nothing is."""
    on_file = OnFile(site, wells=[well or Well()])
    rows = {key: on_file.row(key) for key in (*WELL_FIGURES, *HOUSE_FIGURES)}
    return {key: row for key, row in rows.items() if row}


def shown(row: Measurement, system: str) -> tuple[str, str]:
    """A kept figure with its unit, in the units of the person."""
    kind = MEASURED.get(row.quantity_key)
    if row.value is None or kind is None:
        return row.text, ""
    unit = kind.unit_for(system)
    if row.entered and row.entered_unit == unit:
        return row.entered, unit
    sign = "" if row.comparator == "=" else f"{row.comparator} "
    ends = [row.value] if row.other_end is None else sorted((row.value, row.other_end))
    figures = [f"{in_unit(row.quantity_key, end, unit):.4g}" for end in ends]
    return f"{sign}{' to '.join(figures)}", unit
