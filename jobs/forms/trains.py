"""Forms of a system and its parts."""

from __future__ import annotations

from collections.abc import MutableMapping
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.db.models import QuerySet
from django.http import QueryDict
from django.utils import timezone

from equipment.assessments import Aims, facts_of
from equipment.engineering.plan.conflicts import feeder_conflicts
from equipment.engineering.plan.facts import Conflict, Facts
from equipment.models import Site, Stage, Train, Well
from jobs.models.company import company_day
from jobs.wording.names import person
from jobs.workflows.trains import Marks

from .fields import ModelChoiceField, ModelForm, put_hidden, put_unit, rows_of, say_optional
from .sites import DayInput, EditedForm

#: which boxes of a part belong to which kind
STAGE_FIELDS: dict[str, tuple[str, ...]] = {
    Stage.Kind.FEEDER: ("feed_pump", "product", "solution_tank_gal"),
    Stage.Kind.RETENTION: ("retention_tank",),
    Stage.Kind.FILTER: ("vessel", "medium", "bed_depth_in", "media_volume_ft3", "parallel_count"),
    Stage.Kind.NEUTRALIZER: ("vessel", "medium", "bed_depth_in", "media_volume_ft3"),
    Stage.Kind.SOFTENER: (
        "vessel",
        "resin",
        "media_volume_ft3",
        "salt_dose_lb_ft3",
        "is_metered",
        "parallel_count",
    ),
}
#: without these a part cannot be computed with
NEEDED: dict[str, tuple[str, ...]] = {
    Stage.Kind.FEEDER: ("feed_pump", "product"),
    Stage.Kind.RETENTION: ("retention_tank",),
    Stage.Kind.FILTER: ("vessel", "medium"),
    Stage.Kind.SOFTENER: ("vessel", "resin"),
}


def staff(*roles: str) -> QuerySet[User]:
    """People to choose from, by last name."""
    return (
        User.objects.filter(is_active=True, groups__name__in=roles or ["technician", "owner"])
        .distinct()
        .order_by("last_name", "first_name", "username")
    )


class PersonField(ModelChoiceField[User]):
    def label_from_instance(self, obj: User) -> str:
        return person(obj)


def whole_figures(initial: MutableMapping[str, Any]) -> None:
    """15 in the box, not 15.0."""
    for name, value in initial.items():
        if isinstance(value, float) and value.is_integer():
            initial[name] = int(value)


#: what the report of callbacks rests on: not for whoever's work it counts
WHOSE_WORK = ("is_inherited", "designed_by", "installed_by", "installed_on", "handed_over_on")


class TrainForm(EditedForm[Train]):
    """Conflicts between feeder, pump and injection point are shown, and stops need a tick."""

    designed_by = PersonField(queryset=User.objects.none(), required=False, label="Planned by")
    installed_by = PersonField(queryset=User.objects.none(), required=False, label="Fitted by")
    seen = forms.BooleanField(
        required=False,
        widget=forms.HiddenInput,
        label="I read this: nobody switches the dosing pump on before it is put right",
    )
    conflicts: list[Conflict]

    class Meta:
        model = Train
        fields = [
            "name",
            "wells",
            "injection",
            "retention_side",
            "switching",
            "circuit_voltage",
            "plumbing_volume_gal",
            "is_inherited",
            "designed_by",
            "installed_by",
            "installed_on",
            "handed_over_on",
            "notes",
        ]
        widgets = {
            "wells": forms.CheckboxSelectMultiple,
            "installed_on": DayInput(),
            "handed_over_on": DayInput(),
            "notes": forms.Textarea(attrs={"rows": 2}),
        }
        labels = {
            "wells": "Wells it takes water from",
            "circuit_voltage": "Voltage of the circuit",
            "plumbing_volume_gal": "Water in the pipes of the house",
        }

    def __init__(self, *args: Any, site: Site, is_office: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.site = site
        self.conflicts = []
        rows_of(self, "wells").queryset = Well.objects.at_site(site)
        for name in ("designed_by", "installed_by"):
            rows_of(self, name).queryset = staff()
        put_unit(self.fields["plumbing_volume_gal"], "gal")
        put_unit(self.fields["circuit_voltage"], "V")
        for name in () if is_office else WHOSE_WORK:
            del self.fields[name]
        whole_figures(self.initial)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self.conflicts = feeder_conflicts(self._facts(cleaned))
        if any(conflict.is_red for conflict in self.conflicts):
            self.fields["seen"].widget = forms.CheckboxInput()
            if not cleaned.get("seen"):
                self.add_error("seen", "Read the stop above, put it right or tick here.")
        return cleaned

    def _facts(self, cleaned: dict[str, Any]) -> Facts:
        """The system as typed, with what is on file of its parts and wells."""
        typed = Train(
            pk=self.instance.pk,
            site=self.site,
            switching=cleaned.get("switching") or "",
            injection=cleaned.get("injection") or "",
            circuit_voltage=cleaned.get("circuit_voltage"),
        )
        return facts_of(typed, Aims(), wells=list(cleaned.get("wells") or []))


class StageForm(ModelForm[Stage]):
    """One part. Its kind is chosen first (in the address), then only its own boxes are asked."""

    fitted_by = PersonField(queryset=User.objects.none(), required=False, label="Fitted by")

    class Meta:
        model = Stage
        fields = [
            "position",
            "label",
            "serial",
            "lot",
            "feed_pump",
            "product",
            "solution_tank_gal",
            "vessel",
            "medium",
            "retention_tank",
            "resin",
            "media_volume_ft3",
            "bed_depth_in",
            "parallel_count",
            "is_metered",
            "salt_dose_lb_ft3",
            "fitted_on",
            "fitted_by",
        ]
        widgets = {"fitted_on": DayInput()}
        labels = {
            "position": "Place in the order of the water",
            "label": "Name on the drawing",
            "serial": "Serial number",
            "lot": "Lot or batch",
            "solution_tank_gal": "Solution tank",
            "media_volume_ft3": "Volume of the bed",
            "bed_depth_in": "Depth of the bed",
            "salt_dose_lb_ft3": "Salt for each regeneration",
        }

    def __init__(self, *args: Any, kind: str, replacing: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fields = self.fields
        own = STAGE_FIELDS.get(kind, ())
        every = {name for names in STAGE_FIELDS.values() for name in names}
        for name in every - set(own):
            del fields[name]
        if replacing:
            del fields["position"]
        for name in NEEDED.get(kind, ()):
            fields[name].required = True
        for name in ("feed_pump", "product", "vessel", "medium", "retention_tank", "resin"):
            if name in fields:
                _narrow(rows_of(self, name), is_active=True)
        if kind == Stage.Kind.FEEDER:
            _narrow(rows_of(self, "product"), for_feeding=True)
        for name, unit in UNITS.items():
            if name in fields:
                put_unit(fields[name], unit)
        rows_of(self, "fitted_by").queryset = staff()
        self.initial["fitted_on"] = company_day(timezone.now())
        whole_figures(self.initial)


def _narrow(field: forms.ModelChoiceField[Any], **wanted: bool) -> None:
    assert field.queryset is not None
    field.queryset = field.queryset.filter(**wanted)


UNITS = {
    "solution_tank_gal": "gal",
    "media_volume_ft3": "ft3",
    "bed_depth_in": "in",
    "salt_dose_lb_ft3": "lb/ft3",
}


class TakeOutForm(forms.Form):
    """The whole system leaves the house."""

    on = forms.DateField(widget=DayInput(), label="Taken out on")
    reason = forms.CharField(
        max_length=300, label="Why", help_text="Kept with the system, for whoever asks later."
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = company_day(timezone.now())


class MarksForm(forms.Form):
    """What stands on the plate of a part; what the page showed travels with it."""

    serial = forms.CharField(max_length=60, required=False, label="Serial number")
    lot = forms.CharField(
        max_length=60,
        required=False,
        label="Lot or batch",
        help_text="As on the plate or the bag; of a bed that of its media.",
    )
    seen_serial = forms.CharField(widget=forms.HiddenInput, required=False)
    seen_lot = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, data: QueryDict | None, *, stage: Stage) -> None:
        self.stage = stage
        now = {"serial": stage.serial, "lot": stage.lot}
        seen = {f"seen_{name}": value for name, value in now.items()}
        super().__init__(data, initial={**now, **seen})
        say_optional(self, "may stay empty", ("serial", "lot"))

    def take_what_stands(self) -> None:
        """After both were shown, sending the form again is meant."""
        kept = Stage.objects.get(pk=self.stage.pk)
        put_hidden(self, "seen_serial", kept.serial)
        put_hidden(self, "seen_lot", kept.lot)

    def typed(self) -> Marks:
        return Marks(self.cleaned_data["serial"], self.cleaned_data["lot"])

    def seen(self) -> Marks:
        return Marks(self.cleaned_data["seen_serial"], self.cleaned_data["seen_lot"])


class EndStageForm(forms.Form):
    fitted_on = forms.DateField(widget=DayInput(), label="Taken out on")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["fitted_on"].initial = company_day(timezone.now())
