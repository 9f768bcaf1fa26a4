"""A follow-up rule as plain fields; what is kept as JSON is shown as lists of ticks."""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from django import forms

from equipment.models import Sample, Stage
from jobs.models import FollowUpRule, Job, Visit

from .fields import ModelForm, put_unit, say_optional

JSON_ROWS = forms.Textarea(attrs={"rows": 3, "spellcheck": "false", "class": "code"})


class JsonText(forms.CharField):
    """Names and values as the rules keep them; empty means nothing."""

    widget = JSON_ROWS

    def __init__(self, *, empty: str, **kwargs: Any) -> None:
        self.empty = empty
        super().__init__(required=False, **kwargs)

    def clean(self, value: str | None) -> object:
        try:
            return json.loads(super().clean(value) or self.empty)
        except ValueError as wrong:
            raise forms.ValidationError(
                f'This cannot be read: write it like {{"completed": true}} ({wrong}).'
            ) from wrong


def _ticks(
    label: str, choices: Sequence[tuple[str, str]], help_text: str = ""
) -> forms.MultipleChoiceField:
    return forms.MultipleChoiceField(
        label=label,
        choices=choices,
        required=False,
        help_text=help_text,
        widget=forms.CheckboxSelectMultiple,
    )


class RuleForm(ModelForm[FollowUpRule]):
    job_kind = forms.ChoiceField(
        label="Job to book for it", choices=[("", "none"), *Job.Kind.choices], required=False
    )
    stage_kinds = _ticks("Only for these parts", Stage.Kind.choices, "None ticked: for all.")
    other_conditions = JsonText(label="Other conditions", empty="{}")
    also_on = JsonText(
        label="Also when",
        empty="[]",
        help_text='A list like [{"event": "feeder_left_on", "filter": {"changed": true}}].',
    )
    job_kinds = _ticks("Kept by a visit of these kinds", Job.Kind.choices)
    outcomes = _ticks("that ends", [*Visit.Outcome.choices], "None ticked: however it completes.")
    line_keys = forms.CharField(
        label="and with these lines answered",
        required=False,
        widget=forms.Textarea(attrs={"rows": 3, "class": "code"}),
        help_text="One line each by its key; with | between those of which one is enough.",
    )
    sample_kinds = _ticks("Kept by the result of these samples", Sample.Kind.choices)
    results = _ticks("that says", Sample.Outcome.choices, "None ticked: any result.")
    every_months = forms.IntegerField(
        label="Again every so many months", min_value=1, max_value=120, required=False
    )
    every_days = forms.IntegerField(
        label="or so many days after it was done", min_value=1, max_value=3660, required=False
    )
    why = forms.CharField(label="Why this change", required=False, max_length=100)

    class Meta:
        model = FollowUpRule
        fields = [
            "name",
            "is_active",
            "reason",
            "event",
            "subject",
            "anchor",
            "offset_days",
            "window_before_days",
            "window_after_days",
            "closing",
            "job_kind",
            "minutes",
            "harm",
        ]
        labels = {
            "is_active": "In force",
            "reason": "Why, as shown on the worklist",
            "event": "When",
            "subject": "The promise is about",
            "anchor": "Due on",
            "offset_days": "Due after",
            "window_before_days": "Window begins before",
            "window_after_days": "Window ends after",
            "closing": "Kept by",
            "minutes": "Time to book",
            "harm": "Place on the worklist",
        }
        widgets = {"reason": forms.Textarea(attrs={"rows": 2})}
        help_texts = {"reason": "{day} becomes the day of the event."}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rule, closing = self.instance, self.instance.closing_parameters
        by_result = rule.closing == FollowUpRule.Closing.RESULT
        self.initial = {
            **self.initial,
            "stage_kinds": rule.filter.get("stage_kind", []),
            "other_conditions": _text({k: v for k, v in rule.filter.items() if k != "stage_kind"}),
            "also_on": _text(rule.also_on),
            "job_kinds": closing.get("job_kinds", []),
            "line_keys": "\n".join(
                key if isinstance(key, str) else " | ".join(key)
                for key in closing.get("line_keys", [])
            ),
            "sample_kinds": closing.get("sample_kinds", []),
            ("results" if by_result else "outcomes"): closing.get("outcomes", []),
            "every_months": rule.recurrence.get("every_months"),
            "every_days": rule.recurrence.get("every_days"),
        }
        units = {
            "offset_days": "day",
            "window_before_days": "day",
            "window_after_days": "day",
            "minutes": "min",
        }
        for name, unit in units.items():
            put_unit(self.fields[name], unit)
        say_optional(self)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("every_months") and cleaned.get("every_days"):
            self.add_error("every_days", "Say either months or days, not both.")
        if not isinstance(cleaned.get("other_conditions", {}), dict):
            self.add_error("other_conditions", 'Write it like {"completed": true}.')
        return cleaned

    def rule(self) -> FollowUpRule:
        """The rule as filled in, not saved."""
        cleaned = self.cleaned_data
        rule = self.save(commit=False)
        kinds = {"stage_kind": cleaned["stage_kinds"]} if cleaned["stage_kinds"] else {}
        rule.filter = {**cleaned["other_conditions"], **kinds}
        rule.also_on = cleaned["also_on"]
        rule.closing_parameters = self._closing()
        rule.recurrence = {
            name: cleaned[name] for name in ("every_months", "every_days") if cleaned[name]
        }
        return rule

    def _closing(self) -> dict[str, list[str]]:
        """Only what this way of closing reads."""
        cleaned = self.cleaned_data
        if cleaned["closing"] == FollowUpRule.Closing.VISIT:
            lines = [_alternatives(line) for line in cleaned["line_keys"].splitlines()]
            parts = {
                "job_kinds": cleaned["job_kinds"],
                "outcomes": cleaned["outcomes"],
                "line_keys": [line for line in lines if line],
            }
        elif cleaned["closing"] == FollowUpRule.Closing.RESULT:
            parts = {"sample_kinds": cleaned["sample_kinds"], "outcomes": cleaned["results"]}
        else:
            parts = {}
        return {name: value for name, value in parts.items() if value}

    def groups(self) -> list[tuple[str, str, list[forms.BoundField]]]:
        """The fields under the questions they answer."""
        return [(title, note, [self[name] for name in names]) for title, note, names in QUESTIONS]


QUESTIONS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("What is promised?", "", ("name", "is_active", "reason", "job_kind", "minutes", "harm")),
    ("When does it arise?", "", ("event", "stage_kinds", "other_conditions", "also_on", "subject")),
    (
        "When is it due?",
        "",
        (
            "anchor",
            "offset_days",
            "window_before_days",
            "window_after_days",
            "every_months",
            "every_days",
        ),
    ),
    (
        "What keeps it?",
        "Only the fields of the chosen way are kept.",
        ("closing", "job_kinds", "outcomes", "line_keys", "sample_kinds", "results"),
    ),
    ("Why this change?", "Stands in the history below.", ("why",)),
)
#: where a refusal of the workflow is shown
FIELD_OF = {
    "filter": "other_conditions",
    "closing_parameters": "closing",
    "recurrence": "every_days",
}


def _alternatives(line: str) -> str | list[str]:
    keys = [key.strip() for key in line.split("|") if key.strip()]
    return keys[0] if len(keys) == 1 else keys if keys else ""


def _text(value: object) -> str:
    return json.dumps(value, indent=1) if value else ""
