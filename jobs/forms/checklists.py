"""Lines of a checklist, as the owner may change or add them."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import slugify

from equipment.quantities import MEASURED
from jobs.models import ChecklistLine, ChecklistTemplate

from .fields import ModelForm, choice_of, put_unit, say_optional

FIGURES = (ChecklistLine.Kind.QUANTITY, ChecklistLine.Kind.NUMBER)
LIMITS = ("hard_min", "hard_max", "warn_min", "warn_max")


class LineForm(ModelForm[ChecklistLine]):
    below = forms.ChoiceField(label="Stands below", required=False)

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
        self.lines = list(self.instance.template.lines.filter(block=self.instance.block))
        self.stood = self._above()
        others = [(line.key, line.label) for line in self.lines if line != self.instance]
        choice_of(self, "below").choices = [("", "first on its page"), *others]
        self.initial["below"] = self.stood
        self.before = {name: getattr(self.instance, name) for name in self._meta.fields or ()}
        say_optional(self, names=[name for name in self.fields if name != "below"])
        say_optional(self, "on its page", names=["below"])
        if self.instance.kind not in FIGURES:
            for name in LIMITS:
                del self.fields[name]
            return
        measured = MEASURED.get(self.instance.quantity_key)
        for name in LIMITS:
            put_unit(self.fields[name], measured.unit if measured else "")

    def _above(self) -> str:
        place = self.lines.index(self.instance)
        return self.lines[place - 1].key if place else ""

    @property
    def changes(self) -> dict[str, object]:
        """What is another value than before."""
        typed = self.cleaned_data
        return {
            name: typed[name]
            for name in self.before
            if typed.get(name, self.before[name]) != self.before[name]
        }

    @property
    def moves_to(self) -> str | None:
        """The line it stands below from now on, None where it stays."""
        wanted = str(self.cleaned_data["below"])
        return None if wanted == self.stood else wanted


class OwnLineForm(forms.Form):
    block = forms.ChoiceField(label="On which page")
    label = forms.CharField(label="What is asked", max_length=160)
    hint = forms.CharField(
        label="Hint below it", max_length=300, required=False, widget=forms.Textarea({"rows": 2})
    )
    kind = forms.ChoiceField(
        label="Answered by",
        choices=[
            (kind.value, kind.label)
            for kind in (
                ChecklistLine.Kind.TICK,
                ChecklistLine.Kind.CHOICE,
                ChecklistLine.Kind.TEXT,
                ChecklistLine.Kind.NUMBER,
            )
        ],
        help_text="A figure of your own has no unit: say the unit in the question.",
    )
    choices = forms.CharField(
        label="Choices",
        required=False,
        widget=forms.Textarea({"rows": 3}),
        help_text="One each line.",
    )
    required = forms.BooleanField(label="Must be answered", required=False)
    may_skip = forms.BooleanField(
        label="May be skipped with a reason", required=False, initial=True
    )
    hard_min = forms.FloatField(label="Refused below", required=False)
    hard_max = forms.FloatField(label="Refused above", required=False)
    warn_min = forms.FloatField(label="Asks for a second look below", required=False)
    warn_max = forms.FloatField(label="Asks for a second look above", required=False)

    def __init__(self, *args: Any, template: ChecklistTemplate, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        pages = template.lines.order_by("position").values_list("block", "block_title")
        choices = list(dict.fromkeys(pages))
        choice_of(self, "block").choices = choices
        self.initial.setdefault("block", choices[-1][0] if choices else "")
        say_optional(self, names=["hint", "choices", *LIMITS])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        is_figure = cleaned.get("kind") == ChecklistLine.Kind.NUMBER
        for name in LIMITS:
            if cleaned.get(name) is not None and not is_figure:
                self.add_error(name, "Only a figure has limits.")
        if cleaned.get("choices") and cleaned.get("kind") != ChecklistLine.Kind.CHOICE:
            self.add_error("choices", "Only a choice has choices.")
        return cleaned

    def asked(self) -> dict[str, object]:
        """The fields of the line."""
        typed = {name: value for name, value in self.cleaned_data.items() if name != "block"}
        words = [word.strip() for word in typed["choices"].splitlines() if word.strip()]
        return {
            **typed,
            "choices": [[slugify(word) or word, word] for word in dict.fromkeys(words)],
        }
