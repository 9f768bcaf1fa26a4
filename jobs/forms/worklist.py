"""What of the worklist is looked at."""

from __future__ import annotations

from django import forms
from django.db.models import Q

from jobs.models import FollowUpRule
from jobs.models.follow_ups import FollowUpQuerySet


class WorklistFilter(forms.Form):
    """Kind and town; a choice that is none is as if not made."""

    harm = forms.TypedChoiceField(
        choices=[("", "every kind"), *FollowUpRule.Harm.choices],
        coerce=int,
        required=False,
        empty_value=None,
        label="Kind of promise",
    )
    town = forms.CharField(
        max_length=80,
        required=False,
        label="Town",
        widget=forms.TextInput(attrs={"placeholder": "every town", "size": "12"}),
    )

    def narrow(self, rows: FollowUpQuerySet) -> FollowUpQuerySet:
        self.is_valid()
        asked, wanted = self.cleaned_data, Q()
        if asked.get("harm"):
            wanted &= Q(terms__harm=asked["harm"])
        if asked.get("town"):
            wanted &= Q(site__town__icontains=asked["town"].strip())
        return rows.filter(wanted)
