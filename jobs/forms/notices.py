"""Forms of notices and fills."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from equipment.models import Fill, Sample, Stage
from jobs.models import DoNotUse

from .fields import put_unit, rows_of
from .sites import MomentInput


class NoticeForm(forms.Form):
    level = forms.ChoiceField(choices=DoNotUse.Level.choices, label="What must not be done")
    reason = forms.CharField(
        max_length=200,
        label="Why",
        help_text="For example: the well was flooded on Sunday.",
        error_messages={"required": "Say why the water must not be used."},
    )


class LiftForm(forms.Form):
    """On what a notice is lifted: a reading for no use, a negative sample for drinking."""

    sample = forms.ModelChoiceField(
        queryset=Sample.objects.none(),
        label="Negative bacteria sample",
        help_text="Taken after the notice was opened, at the raw tap, no oxidant in it.",
        error_messages={"required": "Choose the negative sample that lifts it."},
    )
    reading = forms.CharField(
        max_length=120,
        label="Reading at the tap that lifts it",
        help_text="For example: free chlorine 0.1 mg/L at the kitchen tap, low-range strip.",
        error_messages={"required": "Give the reading at the tap that lifts it."},
    )

    def __init__(self, *args: Any, notice: DoNotUse, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if notice.level == DoNotUse.Level.NO_USE:
            del self.fields["sample"]
            return
        del self.fields["reading"]
        rows_of(self, "sample").queryset = Sample.objects.filter(
            site=notice.site_id,
            kind=Sample.Kind.BACTERIA,
            outcome=Sample.Outcome.NEGATIVE,
            taken_at__gte=notice.opened_at,
        )


def gallons(label: str) -> forms.FloatField:
    field = forms.FloatField(required=False, min_value=0, max_value=500, label=label)
    put_unit(field, "gal")
    return field


class FillForm(forms.Form):
    """What went into a tank. Salt for a softener, solution for a feeder."""

    at = forms.DateTimeField(label="When", widget=MomentInput())
    filled_by = forms.ChoiceField(choices=Fill.FilledBy.choices, label="By")
    product_gal = gallons("Product poured")
    water_gal = gallons("Water added")
    strength_g_l = forms.FloatField(
        required=False, min_value=0.1, max_value=1000, label="Strength of the mixed solution"
    )
    lot = forms.CharField(max_length=40, required=False, label="Lot on the label")
    level_before_gal = gallons("Level before")
    level_after_gal = gallons("Level after")
    salt_lb = forms.FloatField(required=False, min_value=0, max_value=1000, label="Salt")

    def __init__(self, *args: Any, stage: Stage, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stage = stage
        moment = timezone.localtime().replace(second=0, microsecond=0, tzinfo=None)
        self.fields["at"].initial = moment
        put_unit(self.fields["strength_g_l"], "g/L")
        put_unit(self.fields["salt_lb"], "lb")
        for name in self._not_asked():
            del self.fields[name]

    def _not_asked(self) -> list[str]:
        if self.stage.kind == Stage.Kind.SOFTENER:
            return [
                "product_gal",
                "water_gal",
                "strength_g_l",
                "lot",
                "level_before_gal",
                "level_after_gal",
            ]
        return ["salt_lb"]

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        poured = [data.get(name) for name in ("product_gal", "salt_lb", "level_after_gal")]
        if not any(poured) and not self.errors:
            raise forms.ValidationError("Say how much was poured, or the level after it.")
        before, after = data.get("level_before_gal"), data.get("level_after_gal")
        if before is not None and after is not None and after < before:
            self.add_error("level_after_gal", "The level after a fill is not below the one before.")
        return data
