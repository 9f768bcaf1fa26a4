"""What of the worklist is looked at."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.db.models import Q

from jobs.models import FollowUpRule
from jobs.models.follow_ups import FollowUpQuerySet

from .fields import say_optional


class WorklistFilter(forms.Form):
    harm = forms.TypedChoiceField(
        choices=[("", "all kinds"), *FollowUpRule.Harm.choices],
        coerce=int,
        required=False,
        empty_value=None,
        label="Kind",
    )
    town = forms.CharField(max_length=80, required=False, label="Town")
    late = forms.BooleanField(required=False, label="Only past the window")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        say_optional(self, "narrows the list")

    def narrow(self, due: FollowUpQuerySet, today: date) -> FollowUpQuerySet:
        """The due promises that are asked for; a choice that is none is as if not made."""
        self.is_valid()
        asked = self.cleaned_data
        wanted = Q()
        if asked.get("harm"):
            wanted &= Q(rule__harm=asked["harm"])
        if asked.get("town"):
            wanted &= Q(site__town__icontains=asked["town"].strip())
        if asked.get("late"):
            wanted &= Q(window_until__lt=today)
        return due.filter(wanted)
