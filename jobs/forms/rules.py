"""A follow-up rule as plain fields; what is kept as JSON is shown as lists of ticks."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from equipment.models import Sample
from jobs.models import FollowUpRule, Job, Visit

from .fields import ModelForm, put_unit, say_optional
from .rule_ways import MOST, OF_SAMPLES, asked_of, initial_of, way_fields, ways_filled


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
            "reason",
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
            "reason": "Why, as shown on the worklist",
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
        for number in self.numbers():
            self.fields.update(way_fields(number))
        self.initial = {
            **self.initial,
            **initial_of(rule),
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

    def numbers(self) -> range:
        """Occasions on the page: those of the rule, or those that were sent, and one more."""
        sent = [n for n in range(MOST) if self.data.get(f"way{n}_event")]
        known = max(sent) + 1 if sent else 1 + len(self.instance.also_on)
        return range(min(known + 1, MOST))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("every_months") and cleaned.get("every_days"):
            self.add_error("every_days", "Say either months or days, not both.")
        return cleaned

    def rule(self) -> FollowUpRule:
        """The rule as filled in, not saved."""
        cleaned = self.cleaned_data
        rule = self.save(commit=False)
        self.filled = [n for n in self.numbers() if cleaned.get(f"way{n}_event")]
        first, *rule.also_on = ways_filled(cleaned, self.filled)
        rule.event, rule.filter = first["event"], first["filter"]
        rule.closing_parameters = self._closing()
        rule.recurrence = {
            name: cleaned[name] for name in ("every_months", "every_days") if cleaned[name]
        }
        return rule

    def place_of(self, field: str) -> str:
        """The box that a refusal of the workflow is about."""
        word, _, name = field.partition("_")
        if not word.startswith("way") or not word[3:].isdigit():
            return FIELD_OF.get(field, field)
        number = self.filled[int(word[3:])]
        of_sample = self.cleaned_data[f"way{number}_event"] in OF_SAMPLES
        return f"way{number}_{'result' if name == 'outcome' and of_sample else name}"

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
        """The fields under the questions they answer; occasions stand apart."""
        return [(title, note, [self[name] for name in names]) for title, note, names in QUESTIONS]

    def occasions(
        self,
    ) -> list[tuple[forms.BoundField, list[forms.BoundField], list[forms.BoundField]]]:
        """(what happens, conditions that stand, those that could): none that means nothing then."""
        shown = []
        for number in self.numbers():
            event, *rest = [self[name] for name in way_fields(number)]
            asked = {f"way{number}_{name}" for name in asked_of(str(event.value() or ""))}
            if number and event.value():
                asked |= {f"way{number}_working_days", f"way{number}_window_after_days"}
            stand = [field for field in rest if field.errors or field.value()]
            could = [field for field in rest if field.name in asked and field not in stand]
            shown.append((event, stand, could))
        return shown


class EndRuleForm(forms.Form):
    standing = forms.ChoiceField(
        label="Promises that are open",
        choices=[
            ("stand", "stay as they were promised; each is kept once more and not again"),
            ("give_up", "are given up today, with the reason below"),
        ],
        widget=forms.RadioSelect,
        initial="stand",
    )
    reason = forms.CharField(label="Why the rule ends", max_length=100)

    def __init__(self, *args: Any, rule: FollowUpRule, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not rule.is_active:
            self.fields.clear()

    def ending(self) -> dict[str, Any]:
        typed = self.cleaned_data
        return {"give_up": typed["standing"] == "give_up", "reason": typed["reason"]}


QUESTIONS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    ("What is promised?", "", ("name", "reason", "job_kind", "minutes", "harm", "subject")),
    (
        "When is it due?",
        "For a refill and for the end of a run the day is worked out at each part, and “Due after” "
        "is not read; the window of a run's end is three to six weeks on.",
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
FIELD_OF = {"filter": "way0_event", "closing_parameters": "closing", "recurrence": "every_days"}


def _alternatives(line: str) -> str | list[str]:
    keys = [key.strip() for key in line.split("|") if key.strip()]
    return keys[0] if len(keys) == 1 else keys if keys else ""
