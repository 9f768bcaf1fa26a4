"""The right answer to one line of a closed record, and why."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.http import QueryDict

from equipment.engineering.errors import EngineeringError
from equipment.engineering.oxidant.pump_setting import SHARE, PumpSetting
from equipment.quantities import MEASURED
from jobs.fieldwork import dial_words as words
from jobs.fieldwork.asked import Item
from jobs.fieldwork.dialling import LABELS, band_read
from jobs.fieldwork.facts import Step, Timer
from jobs.fieldwork.facts_beside import Poured
from jobs.fieldwork.kinds import LineKind
from jobs.fieldwork.offers import span_typed
from jobs.fieldwork.pump import figures_of
from jobs.fieldwork.sheet import Sheet
from jobs.workflows.corrections import Right
from jobs.workflows.step_corrections import RightStep, RightWait
from jobs.workflows.telling_corrections import RightTelling

from .dial_steps import figure
from .fields import put_unit
from .samples import KnowsForm
from .sites import MomentInput


def why() -> forms.CharField:
    return forms.CharField(
        label="Why it is corrected",
        max_length=300,
        help_text="It is printed, and the customer reads it.",
        error_messages={"required": "Say why it is corrected: the customer reads it."},
    )


class CorrectionForm(forms.Form):
    def __init__(self, *args: Any, item: Item, side: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        answer, measured = item.answers.get(side), MEASURED.get(item.line.quantity_key)
        now = answer.text if answer else ""
        self.fields["text"] = forms.CharField(
            label="What is right", required=False, max_length=300, initial=now
        )
        if item.line.kind == LineKind.CHOICE:
            self.fields["text"] = forms.ChoiceField(
                label="What is right", choices=item.line.choices, initial=now
            )
        elif item.line.kind == LineKind.TICK:
            self.fields["text"] = forms.ChoiceField(
                label="What is right",
                choices=[("yes", "yes"), ("", "no")],
                required=False,
                initial=now,
            )
        elif measured:
            self.fields["unit"] = forms.ChoiceField(
                label="Unit",
                choices=[(name, name) for name in measured.units],
                initial=answer.unit if answer and answer.unit else measured.unit,
            )
        self.fields["reason"] = why()

    def right(self) -> Right:
        told = self.cleaned_data
        return Right(told["text"], told["reason"], told.get("unit", ""))


def moment(label: str, *, required: bool = True) -> forms.DateTimeField:
    said = "By the clock of the company."
    return forms.DateTimeField(label=label, required=required, widget=MomentInput(), help_text=said)


def as_told(typed: datetime | None, before: datetime | None) -> datetime | None:
    """A box holds no seconds: left as it stood, it is the moment that was told."""
    if typed and before and typed == before.replace(second=0, microsecond=0):
        return before
    return typed


class StepCorrectionForm(forms.Form):
    """The figures that this pump is set by, what was read, and when."""

    set_at = moment("Set")
    residual = forms.CharField(
        label=words.BAND, required=False, max_length=20, help_text="Such as 5-10, >25 or 8."
    )
    read_at = moment("Read", required=False)
    reason = why()

    def __init__(self, data: QueryDict | None, *, sheet: Sheet, step: Step) -> None:
        self.step, self.figures = step, figures_of(sheet)
        said = words.set_by(self.figures)
        now: dict[str, Any] = {name: step.setting.figure(name) for name in self.figures}
        now |= {"set_at": step.set_at, "read_at": step.read_at, "residual": span_typed(step)}
        super().__init__(data, initial=now)
        asked = {name: figure(name, label=said[name].removesuffix(" now")) for name in self.figures}
        self.fields = asked | self.fields
        for name in self.figures:
            put_unit(self.fields[name], LABELS[name][1])
        put_unit(self.fields["residual"], LABELS["residual"][1])

    def clean_residual(self) -> tuple[float, float | None] | None:
        text = self.cleaned_data["residual"].strip()
        if not text:
            return None
        if text == span_typed(self.step):
            low = self.step.residual_low_mg_l
            return None if low is None else (low, self.step.residual_high_mg_l)
        try:
            return band_read(text)
        except EngineeringError as refusal:
            raise forms.ValidationError(f"{refusal.message}.") from refusal

    def right(self) -> RightStep:
        told = self.cleaned_data
        typed = {name: told[name] for name in self.figures}
        low, high = told["residual"] or (None, None)
        return RightStep(
            setting=PumpSetting(percent=typed.pop(SHARE, 0.0), **typed),
            set_at=as_told(told["set_at"], self.step.set_at) or self.step.set_at,
            read_at=as_told(told["read_at"], self.step.read_at),
            residual_low=low,
            residual_high=high,
            reason=told["reason"],
        )


class WaitCorrectionForm(forms.Form):
    started_at = moment("Began")
    stopped_at = moment("Ended", required=False)
    reason = why()

    def __init__(self, data: QueryDict | None, *, wait: Timer) -> None:
        self.wait = wait
        now = {"started_at": wait.started_at, "stopped_at": wait.stopped_at}
        super().__init__(data, initial=now)

    def right(self) -> RightWait:
        told, wait = self.cleaned_data, self.wait
        return RightWait(
            started_at=as_told(told["started_at"], wait.started_at) or wait.started_at,
            stopped_at=as_told(told["stopped_at"], wait.stopped_at),
            reason=told["reason"],
        )


class TellingCorrectionForm(KnowsForm):
    """Who was told at a house before chlorine went in, by which way and when."""

    told_at = moment("Told")
    reason = why()

    def __init__(self, data: QueryDict | None, *, row: Poured) -> None:
        self.row, told_at = row, row.told_at or row.at
        now = {name: getattr(row, name) for name in self.told}
        super().__init__(data, initial={**now, "told_at": told_at})

    def right(self) -> RightTelling:
        told, before = self.cleaned_data, self.row.told_at or self.row.at
        told_at = as_told(told["told_at"], before) or before
        return RightTelling(adult=self.adult(), told_at=told_at, reason=told["reason"])
