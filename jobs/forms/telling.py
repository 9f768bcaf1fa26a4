"""Forms of a call to a customer about a visit."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from django import forms

from jobs.models import Customer

from .fields import rows_of


class CalledForm(forms.Form):
    """An adult knows of the visit as it stood on the page; `people`: who is told of visits."""

    sequence = forms.IntegerField(widget=forms.HiddenInput)
    customer = forms.ModelChoiceField(
        queryset=Customer.objects.none(),
        widget=forms.RadioSelect,
        label="For whom it counts",
        empty_label=None,
        help_text="Each who is told of visits is told by name.",
    )
    whom = forms.CharField(max_length=120, label="Adult you spoke to", help_text="By name.")
    number = forms.CharField(max_length=30, label="Number you called")
    read_back = forms.BooleanField(
        required=False, label="They said day and hours back to me; voice mail is not told"
    )

    def __init__(self, *args: Any, people: Collection[Customer] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if len(people) < 2:
            del self.fields["customer"]
            return
        rows = Customer.objects.filter(pk__in=[each.pk for each in people])
        rows_of(self, "customer").queryset = rows


class HandledForm(forms.Form):
    """What was agreed with a customer who asked for something."""

    how = forms.CharField(
        max_length=200,
        label="What was agreed",
        help_text="Your name and the time are kept with it. The visit stays as it is.",
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)
