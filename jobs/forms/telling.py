"""Forms of a call to a customer about a visit."""

from __future__ import annotations

from django import forms


class CalledForm(forms.Form):
    """An adult knows of the visit as it stood on the page."""

    sequence = forms.IntegerField(widget=forms.HiddenInput)
    whom = forms.CharField(max_length=120, label="Adult you spoke to", help_text="By name.")
    number = forms.CharField(max_length=30, label="Number you called")
    read_back = forms.BooleanField(
        required=False, label="They said day and hours back to me; voice mail is not told"
    )


class HandledForm(forms.Form):
    """What was agreed with a customer who asked for something."""

    how = forms.CharField(
        max_length=200,
        label="What was agreed",
        help_text="Your name and the time are kept with it. The visit stays as it is.",
    )
    seen = forms.IntegerField(widget=forms.HiddenInput)
