"""The right answer to one line of a closed record, and why."""

from __future__ import annotations

from typing import Any

from django import forms

from equipment.quantities import MEASURED
from jobs.fieldwork.asked import Item
from jobs.fieldwork.kinds import LineKind
from jobs.workflows.corrections import Right


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
        self.fields["reason"] = forms.CharField(
            label="Why it is corrected",
            max_length=300,
            help_text="It is printed, and the customer reads it.",
            error_messages={"required": "Say why it is corrected: the customer reads it."},
        )

    def right(self) -> Right:
        told = self.cleaned_data
        return Right(told["text"], told["reason"], told.get("unit", ""))
