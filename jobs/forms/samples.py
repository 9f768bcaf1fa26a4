"""Forms of samples: the bottle, the result, and who was told of it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from equipment.models import Measurement, ResultTold, Sample, Site, Stage, Well
from equipment.quantities import MEASURED
from jobs.errors import BadEntry
from jobs.models import Company, Customer
from jobs.models.company import company_day
from jobs.schedule.laboratory import Laboratory
from jobs.workflows.measurements import Reading, read_figure
from jobs.workflows.samples import Result, named_place
from jobs.workflows.telling import Adult

from .fields import ModelForm, choice_of, put_unit, rows_of
from .sites import DayInput, MomentInput

LABORATORY_FIGURES = (
    "iron",
    "manganese",
    "hardness",
    "alkalinity",
    "dissolved_solids",
    "nitrate",
    "ph",
)
YES_NO = {"yes": True, "no": False}


def yes_or_no(label: str, yes: str, no: str, help_text: str = "") -> forms.TypedChoiceField:
    """Yes, no, or not noted: three answers."""
    return forms.TypedChoiceField(
        choices=[("", "not noted"), ("yes", yes), ("no", no)],
        coerce=YES_NO.get,
        empty_value=None,
        required=False,
        label=label,
        help_text=help_text,
    )


class SampleForm(ModelForm[Sample]):
    residual_free = yes_or_no(
        "No oxidant in the water when taken",
        "yes, tested",
        "no, still some",
        "Strip for what is fed here. Without it a bacteria sample lifts nothing.",
    )

    class Meta:
        model = Sample
        fields = [
            "kind",
            "well",
            "taken_at",
            "place",
            "place_stage",
            "tap_name",
            "residual_free",
            "bottle",
            "laboratory",
        ]
        widgets = {"taken_at": MomentInput()}
        labels = {
            "place": "At which tap",
            "place_stage": "After which part",
            "tap_name": "Name of the tap",
            "taken_at": "Taken",
        }
        help_texts = {
            "place": (
                "“Do not drink” is lifted by the raw tap, ahead of the dosing pump, and the "
                "kitchen tap. Other places are kept and lift nothing."
            ),
            "place_stage": "Only where it was taken after a part of the system.",
            "tap_name": "Only for another tap, as the household calls it: upstairs bath.",
        }

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_of(self, "well").queryset = Well.objects.at_site(site)
        parts = Stage.objects.fitted().with_catalog().filter(train__site=site)
        rows_of(self, "place_stage").queryset = parts
        offered = [c for c in Sample.Place.choices if c[0] != Sample.Place.WRITTEN]
        choice_of(self, "place").choices = [("", "choose"), *offered]
        self.initial["taken_at"] = timezone.localtime(timezone.now())
        today = company_day(timezone.now())
        self.fields["laboratory"].help_text = Laboratory.load(Company.load(), today).said

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        told = cleaned.get("place_stage"), cleaned.get("tap_name") or ""
        try:
            place = named_place(cleaned.get("place") or "", *told)
        except BadEntry as refusal:
            if refusal.field not in self.errors:
                self.add_error(refusal.field, refusal.message)
        else:
            cleaned["place_stage"], cleaned["tap_name"] = place
        return cleaned


class KnowsForm(forms.Form):
    """An adult of a house knows it from us."""

    whom = forms.CharField(
        max_length=120,
        label="Adult you spoke to",
        help_text="By name. A message or a letter that somebody may have opened is not told.",
    )
    how = forms.ChoiceField(choices=ResultTold.How.choices, widget=forms.RadioSelect, label="How")
    number = forms.CharField(
        max_length=30,
        required=False,
        label="Number you called",
        help_text="Empty where you spoke at the house.",
    )
    read_back = forms.BooleanField(
        required=False, label="They said it back to me; voice mail is not told"
    )
    told = ("whom", "how", "number", "read_back")

    def adult(self) -> Adult:
        return Adult(**{name: self.cleaned_data[name] for name in self.told})

    def beside(self) -> dict[str, Any]:
        """What was typed besides who was told."""
        return {name: said for name, said in self.cleaned_data.items() if name not in self.told}


class ToldForm(KnowsForm):
    """Who of which house knows of a result."""

    field_order = ("person",)
    person = forms.ChoiceField(
        label="For whom it counts",
        help_text="Each who must be told is told for themselves.",
        widget=forms.RadioSelect,
        error_messages={"required": "Choose whom you called."},
    )

    def __init__(self, *args: Any, people: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice_of(self, "person").choices = people
        if len(people) == 1:
            self.fields["person"].initial = people[0][0]

    def counts_for(self) -> dict[str, Any]:
        """House and contact, as they were chosen."""
        site, _, customer = self.cleaned_data["person"].partition("-")
        return {
            "site": Site.objects.get(pk=site),
            "customer": Customer.objects.filter(pk=customer).first(),
        }


class ResultForm(forms.Form):
    """What the laboratory wrote. The person signed in is the one who read it."""

    outcome = forms.ChoiceField(
        choices=[c for c in Sample.Outcome.choices if c[0] != Sample.Outcome.WAITING],
        widget=forms.RadioSelect,
        label="What did the laboratory find",
        help_text="Coliform or E. coli opens “do not drink” at once, for every house on the well.",
    )
    result_on = forms.DateField(widget=DayInput(), label="Day of the result")
    received_at = forms.DateTimeField(
        widget=MomentInput(),
        required=False,
        label="The laboratory had the bottle",
        help_text="As its sheet says; 30 hours after sampling at most, or it lifts nothing.",
    )
    is_accredited = yes_or_no(
        "Accredited for this test", "yes, its sheet says so", "no", "A number stands on the sheet."
    )
    note = forms.CharField(max_length=200, required=False, label="Remark")

    def __init__(self, *args: Any, sample: Sample, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.figures: list[Reading] = []
        plain = sample.kind in (Sample.Kind.BACTERIA, Sample.Kind.FUEL)
        self.figure_keys = () if plain else LABORATORY_FIGURES
        for key in self.figure_keys:
            kind = MEASURED[key]
            self.fields[key] = forms.CharField(required=False, max_length=40, label=kind.label)
            put_unit(self.fields[key], kind.unit)
        self.fields["result_on"].initial = company_day(timezone.now())

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self.figures = []
        for key in self.figure_keys:
            text = (cleaned.get(key) or "").strip()
            if not text:
                continue
            try:
                read_figure(key, text)
            except BadEntry as refusal:
                self.add_error(key, refusal.message)
                continue
            unit, origin = MEASURED[key].unit, Measurement.Origin.LABORATORY
            self.figures.append(Reading(key, text, unit, origin=origin))
        return cleaned

    def result(self) -> Result:
        data = self.cleaned_data
        return Result(
            outcome=data["outcome"],
            on=data["result_on"],
            received_at=data["received_at"],
            is_accredited=data["is_accredited"],
            figures=self.figures,
            note=data["note"],
        )
