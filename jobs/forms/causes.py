"""Forms of the cause review."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.models import Job
from jobs.reports.callbacks import GROUPS

from .fields import choice_of, say_optional


def cause_choices() -> list[tuple[str, list[tuple[str, str]]]]:
    """Causes under the names of their groups."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for cause in Job.Cause:
        groups.setdefault(GROUPS[cause.value[0]].name, []).append((cause.value, str(cause.label)))
    return list(groups.items())


class CauseForm(forms.Form):
    cause = forms.ChoiceField(label="Cause", error_messages={"required": "Choose the cause."})
    reason = forms.CharField(
        label="Why it is another cause",
        required=False,
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Needed for a change, and for what the customer or others changed.",
    )
    seen = forms.CharField(widget=forms.HiddenInput, required=False)

    def __init__(self, *args: Any, callback: Job, **kwargs: Any) -> None:
        kwargs["initial"] = {"cause": callback.cause, "seen": callback.cause}
        super().__init__(*args, **kwargs)
        choice_of(self, "cause").choices = [("", "choose"), *cause_choices()]
        say_optional(self, "for a change")


class QuestionForm(forms.Form):
    answer = forms.ChoiceField(
        label="Is it a callback?",
        widget=forms.RadioSelect,
        choices=[
            (Job.CallbackAnswer.YES, "yes, it comes from the earlier job"),
            (Job.CallbackAnswer.NO, "no, it has another reason"),
        ],
    )
    reason = forms.CharField(label="Why", max_length=300)
