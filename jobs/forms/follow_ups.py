"""Forms about a promise: when we come, put off, give up, calls."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.utils import timezone
from django.utils.dateparse import parse_datetime

from jobs.models import ContactAttempt
from jobs.schedule.free_times import FreeTime
from jobs.wording.names import person

from .fields import choice_of
from .sites import DayInput


class FreeTimeForm(forms.Form):
    """The nearest free times, the first of them chosen: one press books it."""

    when = forms.ChoiceField(widget=forms.RadioSelect, label="The nearest free times")
    sure = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, times: list[FreeTime], people: list[User], **kw: Any) -> None:
        super().__init__(*args, **kw)
        self.people = {person.pk: person for person in people}
        choices = [(time.value, _said(time)) for time in times]
        chosen = self.data.get("when") if self.is_bound else None
        if chosen and chosen not in dict(choices):
            choices.append((chosen, "the time shown before"))  # still taken if it is still free
        when = choice_of(self, "when")
        when.choices = choices
        when.initial = choices[0][0] if choices else None

    def clean_when(self) -> tuple[User, datetime]:
        number, _, moment = self.cleaned_data["when"].partition("|")
        who = self.people.get(int(number)) if number.isdigit() else None
        starts_at = parse_datetime(moment)
        if who is None or starts_at is None or timezone.is_naive(starts_at):
            raise forms.ValidationError("Choose one of the times.")
        if starts_at <= timezone.now():
            raise forms.ValidationError("This time has passed: choose another.")
        return who, starts_at


def _said(time: FreeTime) -> str:
    starts, ends = timezone.localtime(time.starts_at), timezone.localtime(time.ends_at)
    return f"{starts:%A %-d %B, %H:%M} to {ends:%H:%M}, {person(time.person)}"


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
