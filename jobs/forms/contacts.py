"""Forms of the contacts of a house."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from jobs.models import SiteTenure
from jobs.models.company import company_day

from .sites import DayInput, EditedForm


class ContactForm(EditedForm[SiteTenure]):
    """In which part, told what; since when where the contact is new."""

    class Meta:
        model = SiteTenure
        fields = [
            "part",
            "from_on",
            "is_contact",
            "told_visits",
            "told_water",
            "pays",
            "has_key",
        ]
        widgets = {"from_on": DayInput()}
        labels = {
            "part": "At this house",
            "from_on": "Since",
            "is_contact": "Is called first, and told of visits",
            "told_visits": "Is told of visits as well",
            "told_water": "Is told of notices and results",
            "pays": "Pays, and gets the invoices",
            "has_key": "Has a key",
        }
        help_texts = {
            "is_contact": "One of the house: it moves here.",
            "told_water": "Owner and tenant always are, ticked or not.",
            "pays": "One of the house: it moves here.",
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.instance.pk:
            del self.fields["from_on"]
        else:
            self.fields["is_contact"].initial = self.initial["is_contact"] = False
            self.initial["from_on"] = company_day(timezone.now())


class EndContactForm(forms.Form):
    on = forms.DateField(widget=DayInput(), label="No contact of this house since")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = company_day(timezone.now())
