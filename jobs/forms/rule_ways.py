"""The occasions of a rule as plain choices: what happens, and under which conditions it counts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from django import forms

from equipment.models import Sample, Stage
from jobs.fieldwork.dangers import RED
from jobs.models import FACTS_TOLD, FollowUpRule, Job, RuleContent, Visit

from .fields import put_unit

#: occasions of one rule
MOST = 6
EITHER = (("", "either way"), ("yes", "only if so"), ("no", "only if not"))
#: facts of yes and no, as the form asks them
YES_NO = {
    "completed": "The work was completed",
    "changed": "Setting, solution or dosing pump was changed",
    "disinfected": "The well was disinfected",
    "contact_short": "The contact time of a disinfection was too short",
    "is_callback": "It was a callback",
}
TICKS: dict[str, tuple[str, Any]] = {
    "stage_kind": ("Only for these parts", Stage.Kind.choices),
    "job_kind": ("Only for these kinds of job", Job.Kind.choices),
    "sample_kind": ("Only for these samples", Sample.Kind.choices),
    "danger": ("Only where the caller tells", [(key.value, red.title) for key, red in RED.items()]),
    "outcome": ("Only where the visit ended so", Visit.Outcome.choices),
    "result": ("Only where the result says", Sample.Outcome.choices),
}
MOVED = "dose_moved_percent"
#: how soon it is due on a further occasion
SOON = ("working_days", "window_after_days")
OF_SAMPLES = (FollowUpRule.Event.SAMPLE_SENT, FollowUpRule.Event.RESULT_ENTERED)


def way_fields(number: int) -> dict[str, forms.Field]:
    """The boxes of one occasion, by name."""
    none = [] if number == 0 else [("", "no further occasion")]
    made: dict[str, forms.Field] = {
        "event": forms.ChoiceField(
            label="Also when" if number else "When",
            choices=[*none, *FollowUpRule.Event.choices],
            required=number == 0,
        )
    }
    for name, (label, choices) in TICKS.items():
        made[name] = forms.MultipleChoiceField(
            label=label, choices=choices, required=False, widget=forms.CheckboxSelectMultiple
        )
    for name, label in YES_NO.items():
        made[name] = forms.ChoiceField(label=label, choices=EITHER, required=False)
    made[MOVED] = forms.FloatField(
        label="The dose moved by more than", min_value=0, max_value=1000, required=False
    )
    put_unit(made[MOVED], "%")
    if number:
        for name, label in zip(SOON, ("Then due within", "and window ends after"), strict=True):
            made[name] = forms.IntegerField(label=label, min_value=0, max_value=366, required=False)
        put_unit(made["working_days"], "working day")
        put_unit(made["window_after_days"], "day")
    return {f"way{number}_{name}": field for name, field in made.items()}


def initial_of(rule: RuleContent) -> dict[str, Any]:
    """What stands in the boxes when the page is opened."""
    first = {"event": rule.event, "filter": rule.filter}
    found: dict[str, Any] = {}
    for number, way in enumerate([first, *rule.also_on]):
        found[f"way{number}_event"] = way["event"]
        for name, value in way.get("filter", {}).items():
            key = "result" if name == "outcome" and way["event"] in OF_SAMPLES else name
            found[f"way{number}_{key}"] = _shown(value)
        for name in SOON:
            found[f"way{number}_{name}"] = way.get(name)
    return found


def _shown(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict):
        return value["above"]
    return value if isinstance(value, list) else [value]


def ways_filled(cleaned: Mapping[str, Any], numbers: Iterable[int]) -> list[dict[str, Any]]:
    """The occasions as they were filled in."""
    return [_way(cleaned, number) for number in numbers]


def _way(cleaned: Mapping[str, Any], number: int) -> dict[str, Any]:
    def typed(name: str) -> Any:
        return cleaned.get(f"way{number}_{name}")

    wanted: dict[str, Any] = {}
    for name in TICKS:
        if chosen := typed(name):
            fact = "outcome" if name == "result" else name
            one = len(chosen) == 1 and name != "stage_kind"
            wanted[fact] = chosen[0] if one else chosen
    for name in YES_NO:
        if said := typed(name):
            wanted[name] = said == "yes"
    if typed(MOVED) is not None:
        wanted[MOVED] = {"above": typed(MOVED)}
    way: dict[str, Any] = {"event": typed("event"), "filter": wanted}
    for name in SOON:
        if number and typed(name) is not None:
            way[name] = typed(name)
    return way


def asked_of(event: str) -> set[str]:
    """The boxes that mean something when that happens."""
    told = set(FACTS_TOLD.get(event, frozenset()))
    if event in OF_SAMPLES and "outcome" in told:
        told = {*told, "result"} - {"outcome"}
    return told
