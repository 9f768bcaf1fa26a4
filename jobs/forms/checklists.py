"""One line of a checklist, as the owner may change it."""

from __future__ import annotations

from typing import Any

from django import forms

from equipment.quantities import MEASURED
from jobs.models import ChecklistLine

from .fields import ModelForm, put_unit, say_optional

FIGURES = (ChecklistLine.Kind.QUANTITY, ChecklistLine.Kind.NUMBER)
LIMITS = ("hard_min", "hard_max", "warn_min", "warn_max")


class LineForm(ModelForm[ChecklistLine]):
    class Meta:
        model = ChecklistLine
        fields = ["label", "hint", "required", "may_skip", *LIMITS]
        labels = {
            "label": "What is asked",
            "hint": "Hint below it",
            "required": "Must be answered",
            "hard_min": "Refused below",
            "hard_max": "Refused above",
            "warn_min": "Asks for a second look below",
            "warn_max": "Asks for a second look above",
        }
        widgets = {"hint": forms.Textarea(attrs={"rows": 2})}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        say_optional(self)
        if self.instance.kind not in FIGURES:
            for name in LIMITS:
                del self.fields[name]
            return
        measured = MEASURED.get(self.instance.quantity_key)
        for name in LIMITS:
            put_unit(self.fields[name], measured.unit if measured else "")
