"""From which day to which: what every list of a period asks."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.http import QueryDict

from .sites import DayInput

LONGEST_DAYS = 3660


def days_in_order(form: forms.BaseForm, cleaned: dict[str, Any]) -> tuple[date | None, date | None]:
    """From and until; two that stand the wrong way round are refused at the first."""
    since, until = cleaned.get("since"), cleaned.get("until")
    if since and until and since > until:
        form.add_error("since", "The first day must not be later than the last.")
        return None, None
    return since, until


class DaysForm(forms.Form):
    """What the address leaves open is as usual."""

    since = forms.DateField(label="From", widget=DayInput())
    until = forms.DateField(label="to", widget=DayInput())

    def __init__(self, data: QueryDict, *, usual: dict[str, str]) -> None:
        super().__init__({**usual, **{name: value for name, value in data.items() if value}})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        since, until = days_in_order(self, cleaned)
        if since and until and (until - since).days > LONGEST_DAYS:
            self.add_error("since", "Choose ten years at most.")
        return cleaned
