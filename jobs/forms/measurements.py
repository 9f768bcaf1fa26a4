"""Forms of readings and samples."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from equipment.models import Measurement, Site, Stage, Well
from equipment.quantities import BEHIND, MEASURED, PlaceName, warning_for
from jobs.errors import BadEntry
from jobs.wording.taps import DISINFECTING, OTHER_PLACES
from jobs.workflows.measurements import Reading, Subject, read_figure

from .fields import choice_of, rows_of
from .sites import MomentInput

#: figures read in water, in the order of the table on the site page
WATER = (
    "iron",
    "manganese",
    "sulfide",
    "ammonia",
    "hardness",
    "alkalinity",
    "dissolved_solids",
    "nitrate",
    "ph",
    "temperature",
    "chlorine",
    "peroxide",
)
PLACES = [
    (PlaceName.RAW, "raw water"),
    (PlaceName.AFTER_STAGE, "after a part of the system"),
    (PlaceName.TAP, "kitchen tap, cold"),
    (PlaceName.HOT_TAP, "hot tap"),
    ("drain", "drain"),
    ("", "not about water at a tap"),
]


class MeasurementForm(forms.Form):
    """One figure. `about` says whose it is; an unusual one asks for a second look."""

    about = forms.ChoiceField(label="About")
    quantity_key = forms.ChoiceField(label="What was measured")
    text = forms.CharField(label="Reading", max_length=40, help_text="“< 0.05” is taken as it is.")
    unit = forms.ChoiceField(required=False, label="Unit")
    place = forms.ChoiceField(choices=PLACES, required=False, label="Where")
    place_stage = forms.ModelChoiceField(
        queryset=Stage.objects.none(), required=False, label="After which part"
    )
    origin = forms.ChoiceField(choices=Measurement.Origin.choices, label="Who says so")
    method = forms.CharField(max_length=80, required=False, label="Kit or method")
    measured_at = forms.DateTimeField(widget=MomentInput(), label="When")
    sure = forms.BooleanField(
        required=False, widget=forms.HiddenInput, label="Yes, I checked the figure and its unit"
    )

    def __init__(
        self, *args: Any, site: Site, corrects: Measurement | None = None, **kw: Any
    ) -> None:
        super().__init__(*args, **kw)
        self.subjects = subjects_of(site)
        choice_of(self, "about").choices = [(key, name) for key, (name, _) in self.subjects.items()]
        choice_of(self, "quantity_key").choices = [
            ("Water", [(key, MEASURED[key].label) for key in WATER]),
            (
                "Well, house and system",
                [(k, m.label) for k, m in MEASURED.items() if k not in WATER],
            ),
        ]
        units = sorted({unit for kind in MEASURED.values() for unit in kind.units})
        choice_of(self, "unit").choices = [("", "as usual"), *((unit, unit) for unit in units)]
        rows_of(self, "place_stage").queryset = Stage.objects.fitted().filter(train__site=site)
        self.fields["measured_at"].initial = timezone.localtime(timezone.now())
        if corrects and corrects.place not in {*dict(PLACES), *BEHIND}:
            words = OTHER_PLACES | DISINFECTING
            kept = (corrects.place, words.get(corrects.place, corrects.place).lower())
            choice_of(self, "place").choices = [kept, *PLACES]
        for name in ("quantity_key", "about"):
            self.fields[name].disabled = corrects is not None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        key, text = cleaned.get("quantity_key"), cleaned.get("text")
        if not key or not text:
            return cleaned
        try:
            typed = read_figure(key, text, cleaned.get("unit") or "")
        except BadEntry as refusal:
            self.add_error("text", refusal.message)
            return cleaned
        warning = warning_for(key, typed)
        if warning and not cleaned.get("sure"):
            self.fields["sure"].widget = forms.CheckboxInput()
            self.add_error("sure", f"{warning} Correct the figure, or tick here.")
        if cleaned.get("place") == PlaceName.AFTER_STAGE and not cleaned.get("place_stage"):
            self.add_error("place_stage", "Choose after which part the water was taken.")
        return cleaned

    def subject(self) -> Subject:
        return self.subjects[self.cleaned_data["about"]][1]

    def reading(self) -> Reading:
        data = self.cleaned_data
        return Reading(
            key=data["quantity_key"],
            text=data["text"],
            unit=data["unit"],
            origin=data["origin"],
            place=data["place"],
            place_stage=data["place_stage"],
            method=data["method"],
        )


def subjects_of(site: Site) -> dict[str, tuple[str, Subject]]:
    """What a figure can be about: the house, its wells, the parts of its systems."""
    found: dict[str, tuple[str, Subject]] = {"site": ("the house", site)}
    for well in Well.objects.at_site(site):
        found[f"well-{well.pk}"] = (str(well), well)
    for stage in Stage.objects.fitted().filter(train__site=site).select_related("train"):
        found[f"stage-{stage.pk}"] = (f"{stage}, {stage.train.name}", stage)
    return found
