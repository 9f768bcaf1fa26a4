"""Forms of notices and fills."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from equipment.engineering.names import Oxidant
from equipment.engineering.oxidant.pump_setting import FIGURES, LIMITS
from equipment.models import Fill, Site, Stage, Well
from jobs.fieldwork.kinds import NEEDS_SAMPLES
from jobs.models import DoNotUse
from jobs.wording.pump_settings import LABELS
from jobs.workflows.notices import Ended, OutOfPipes

from .fields import put_unit, rows_of
from .sites import MomentInput


class NoticeForm(forms.Form):
    level = forms.ChoiceField(choices=DoNotUse.Level.choices, label="What must not be done")
    cause = forms.ChoiceField(
        choices=DoNotUse.Cause.choices,
        label="Because of",
        help_text="It decides what lifts the notice: bacteria by samples, after a flood also "
        "nitrate and fuel; an oxidant by readings; something else by what is found out about it.",
    )
    well = forms.ModelChoiceField(
        queryset=Well.objects.none(),
        required=False,
        label="Which well",
        help_text="Bacteria belong to a well and to every house on it.",
    )
    reason = forms.CharField(
        max_length=200,
        label="Why",
        help_text="For example: the well was flooded on Sunday.",
        error_messages={"required": "Say why the water must not be used."},
    )

    def __init__(self, *args: Any, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        wells = Well.objects.at_site(site)
        rows_of(self, "well").queryset = wells
        self.only = Well.objects.only_one_at(site)
        if self.only or not wells:
            del self.fields["well"]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if "well" not in self.fields:
            cleaned["well"] = self.only
        elif self._needs_a_well(cleaned) and not cleaned.get("well"):
            self.add_error("well", "Choose the well: bacteria belong to it.")
        return cleaned

    def _needs_a_well(self, told: dict[str, Any]) -> bool:
        return told.get("level") != DoNotUse.Level.NO_USE or told.get("cause") in NEEDS_SAMPLES


def milligrams(label: str, help_text: str, *, required: bool = True) -> forms.FloatField:
    field = forms.FloatField(
        min_value=0, max_value=2000, label=label, help_text=help_text, required=required
    )
    put_unit(field, "mg/L")
    return field


OXIDANTS = [
    (Oxidant.CHLORINE.value, "Chlorine"),
    (Oxidant.PEROXIDE.value, "Peroxide"),
    (Oxidant.PERMANGANATE.value, "Permanganate: enter 0 where no pink is seen in a white cup"),
]


class TakeBackForm(forms.Form):
    """Why a notice stands at the wrong house."""

    reason = forms.CharField(
        max_length=300,
        label="What went wrong",
        help_text="The household reads it. For example: two houses of one name, the other one was "
        "flooded.",
        widget=forms.Textarea(attrs={"rows": 2}),
        error_messages={"required": "Say why, in ten letters or more."},
    )


class LiftForm(forms.Form):
    """On what a notice is lifted: readings, or what was found out; samples are judged."""

    what = forms.CharField(
        max_length=300,
        label="What was found out, and how it shows that the cause is gone",
        help_text="What was read or tested, where, with its figure. For example: nitrate 4 mg/L at "
        "the kitchen tap by the laboratory, paper of 3 May.",
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"required": "Say what was found out and shows that it is over."},
    )
    said_by = forms.CharField(
        max_length=120,
        label="Who read or said it",
        help_text="A laboratory, the health department, a supplier, one of us.",
        error_messages={"required": "Say who read or said it."},
    )
    found_at = forms.DateTimeField(label="When", widget=MomentInput())
    oxidant = forms.ChoiceField(
        choices=OXIDANTS, label="What is read at the taps", initial=Oxidant.CHLORINE, required=False
    )
    high = milligrams(
        "First: high-range strip, cold tap",
        "Chlorine only: a strong one reads as zero on a low strip.",
        required=False,
    )
    cold = milligrams("Then: low-range reading, cold tap", "At the farthest tap.")
    hot = milligrams("And at the hot tap", "After the heater has been flushed.", required=False)
    no_hot = forms.BooleanField(
        required=False, label="No hot water here, or the heater was bypassed"
    )

    def __init__(self, *args: Any, notice: DoNotUse, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.is_read, self.is_said = notice.is_read_at_taps, notice.is_ended_in_words
        for name, may_stay_open in MAY_STAY_OPEN.items():
            self.fields[name].optional = may_stay_open  # type: ignore[attr-defined]
        left_out = () if self.is_said else IN_WORDS
        left_out += () if self.is_read else AT_TAPS
        for name in left_out:
            del self.fields[name]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if self.is_read and cleaned.get("hot") is None and not cleaned.get("no_hot"):
            self.add_error("hot", "Read the hot tap too, or say that there is none.")
        cleaned["oxidant"] = cleaned.get("oxidant") or Oxidant.CHLORINE.value
        is_chlorine = self.is_read and cleaned["oxidant"] == Oxidant.CHLORINE
        if is_chlorine and cleaned.get("high") is None and "high" not in self.errors:
            self.add_error("high", "Read the high-range strip first.")
        return cleaned

    def reading(self) -> OutOfPipes | None:
        if not self.is_read:
            return None
        data = self.cleaned_data
        hot = None if data["no_hot"] else data["hot"]
        return OutOfPipes(data["high"], data["cold"], hot, data["oxidant"])

    def ended(self) -> Ended | None:
        if not self.is_said:
            return None
        data = self.cleaned_data
        return Ended(what=data["what"], said_by=data["said_by"], at=data["found_at"])


#: said beside the question
MAY_STAY_OPEN = {
    "oxidant": "chlorine unless chosen",
    "high": "for chlorine",
    "hot": "unless there is none",
}
IN_WORDS: tuple[str, ...] = ("what", "said_by", "found_at")
AT_TAPS: tuple[str, ...] = ("oxidant", "high", "cold", "hot", "no_hot")


def gallons(label: str) -> forms.FloatField:
    field = forms.FloatField(required=False, min_value=0, max_value=500, label=label)
    put_unit(field, "gal")
    return field


AS_IT_WAS = "Empty: as it was. Another strength moves the dose."


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
    figures: tuple[str, ...] = ()

    def __init__(self, *args: Any, stage: Stage, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.stage = stage
        moment = timezone.localtime().replace(second=0, microsecond=0, tzinfo=None)
        self.fields["at"].initial = moment
        put_unit(self.fields["strength_g_l"], "g/L")
        put_unit(self.fields["salt_lb"], "lb")
        self._ask_setting()
        for name in self._not_asked():
            del self.fields[name]

    def _ask_setting(self) -> None:
        """The figures that this pump is set by; a softener has none."""
        if self.stage.kind != Stage.Kind.FEEDER:
            return
        pump = self.stage.feed_pump
        self.figures = FIGURES[pump.head if pump else ""]
        for name in self.figures:
            low, high = LIMITS[name]
            label, unit = LABELS[name]
            self.fields[name] = forms.FloatField(
                required=False, min_value=low, max_value=high, label=f"{label} left"
            )
            put_unit(self.fields[name], unit)
        self.fields[self.figures[0]].help_text = AS_IT_WAS

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

    def poured(self) -> dict[str, Any]:
        """As the workflow takes it: the figures of the pump setting are one value."""
        data = dict(self.cleaned_data)
        figures = {name: data.pop(name, None) for name in self.figures}
        left = {name: value for name, value in figures.items() if value is not None}
        return data | {"setting_left": left or None}
