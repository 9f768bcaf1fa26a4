"""What of the worklist is looked at."""

from __future__ import annotations

from datetime import date

from django import forms
from django.db.models import Q

from jobs.models import FollowUp, FollowUpRule
from jobs.models.follow_ups import FollowUpQuerySet, past_window


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
    put_off = forms.BooleanField(required=False, label="What is put off")

    def promises(self, today: date) -> FollowUpQuerySet:
        """What is to do, or what is put off, as asked; a choice that is none is as if not made."""
        self.is_valid()
        asked = self.cleaned_data
        rows = FollowUp.objects.to_do_on(today)
        if asked.get("put_off"):
            rows = FollowUp.objects.put_off_on(today)
        wanted = Q()
        if asked.get("harm"):
            wanted &= Q(terms__harm=asked["harm"])
        if asked.get("town"):
            wanted &= Q(site__town__icontains=asked["town"].strip())
        if asked.get("late"):
            wanted &= past_window(today)
        return rows.filter(wanted)
