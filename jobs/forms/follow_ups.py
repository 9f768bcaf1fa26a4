"""Forms about a promise: when we come, put off, give up, calls."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.utils import timezone

from jobs.errors import Unlikely
from jobs.models import ContactAttempt
from jobs.schedule.openings import Opening

from .fields import choice_of, refusal_of
from .openings import opening_of
from .sites import DayInput


@dataclass(frozen=True)
class Chosen:
    """Who comes, with whom, and from when."""

    person: User
    helper: User | None
    starts_at: datetime


class OpeningForm(forms.Form):
    """The best openings, the first of them chosen: one press books it."""

    when = forms.ChoiceField(
        widget=forms.RadioSelect,
        label="The best openings",
        error_messages={"required": "Choose one of the times."},
    )
    sure = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, times: list[Opening], people: list[User], **kw: Any) -> None:
        super().__init__(*args, **kw)
        self.people = {person.pk: person for person in people}
        self.show(times)
        chosen = self.data.get("when") if self.is_bound else None
        if chosen and chosen not in {time.value for time in times}:
            said = "the time shown before"  # still taken if it is still free
            choice_of(self, "when").choices = [*_choices(times), (chosen, said)]

    def show(self, times: list[Opening]) -> None:
        """These and no others are offered."""
        when = choice_of(self, "when")
        when.choices = _choices(times)
        when.initial = times[0].value if times else None

    @property
    def is_gone(self) -> bool:
        """Refused for good: what was chosen is no opening any more."""
        refusal = refusal_of(self)
        return refusal is not None and not isinstance(refusal, Unlikely)

    def clean_when(self) -> Chosen:
        chosen = opening_of(self.cleaned_data["when"])
        who = self.people.get(chosen[0]) if chosen else None
        helper = self.people.get(chosen[1]) if chosen and chosen[1] else None
        if chosen is None or who is None or (chosen[1] and helper is None):
            raise forms.ValidationError("Choose one of the times.")
        if chosen[2] <= timezone.now():
            raise forms.ValidationError("This time has passed: choose another.")
        return Chosen(who, helper, chosen[2])


def _choices(times: list[Opening]) -> list[tuple[str, str]]:
    return [(time.value, time.said) for time in times]


class SnoozeForm(forms.Form):
    until = forms.DateField(widget=DayInput(), label="Look again on")
    reason = forms.CharField(max_length=200, label="Why it is put off")


class WaiveForm(forms.Form):
    reason = forms.CharField(
        max_length=200,
        label="Why nobody comes back for this",
        help_text="Your name and the time are kept with it.",
    )


class SettledForm(forms.Form):
    note = forms.CharField(max_length=200, label="How it was handled")


class AttemptForm(forms.Form):
    how = forms.ChoiceField(
        choices=ContactAttempt.How.choices, widget=forms.RadioSelect, label="What was tried"
    )
    again_on = forms.DateField(
        widget=DayInput(), required=False, label="Call again on", help_text="Empty: no day is set."
    )
    note = forms.CharField(max_length=200, required=False, label="Remark")


class NotReachedForm(AttemptForm):
    """Nobody answered, or a voice mail was left: whom we wanted knows nothing yet."""

    how = forms.ChoiceField(
        choices=[(how.value, how.label) for how in ContactAttempt.IN_VAIN],
        widget=forms.RadioSelect,
        label="Not reached",
    )
