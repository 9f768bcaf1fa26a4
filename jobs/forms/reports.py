"""What the owner asks of the callback report."""

from __future__ import annotations

from datetime import date
from typing import Any, cast

from django import forms
from django.http import QueryDict

from jobs.reports import callback_jobs, job_list
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import GROUPS
from jobs.reports.fair_answer import WINDOW_DAYS, verdict_day, verdict_period
from jobs.reports.water_classes import WATERS

from .sites import DayInput

USUAL_WINDOW = WINDOW_DAYS
LONGEST_DAYS = 3660


class ReportForm(forms.Form):
    since = forms.DateField(label="Handed over from", widget=DayInput())
    until = forms.DateField(label="to", widget=DayInput())
    window = forms.TypedChoiceField(
        label="Callbacks within",
        coerce=int,
        choices=[(days, f"{days} days") for days in callback_jobs.WINDOWS],
    )

    def __init__(self, data: QueryDict, *, today: date) -> None:
        self.today = today
        self.verdict_on = verdict_day(today)
        usual = {
            "since": verdict_period(self.verdict_on)[0].isoformat(),
            "until": self.verdict_on.isoformat(),
            "window": USUAL_WINDOW,
        }
        super().__init__({**usual, **{name: value for name, value in data.items() if value}})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        since, until = cleaned.get("since"), cleaned.get("until")
        if since and until and since > until:
            self.add_error("since", "The first day must not be later than the last.")
        elif since and until and (until - since).days > LONGEST_DAYS:
            self.add_error("since", "Choose ten years at most.")
        return cleaned

    @property
    def is_verdict(self) -> bool:
        """The period of the answer that stands, and not one that somebody chose."""
        chosen = (self.cleaned_data[name] for name in ("since", "until", "window"))
        since, _ = verdict_period(self.verdict_on)
        return tuple(chosen) == (since, self.verdict_on, WINDOW_DAYS)

    @property
    def selection(self) -> Selection:
        return Selection(
            self.cleaned_data["since"],
            min(self.cleaned_data["until"], self.today),
            self.cleaned_data["window"],
            self.verdict_on if self.is_verdict else self.today,
        )

    def words(self) -> dict[str, str]:
        """The selection as the words of an address."""
        chosen = self.cleaned_data
        return {
            "since": chosen["since"].isoformat(),
            "until": chosen["until"].isoformat(),
            "window": str(chosen["window"]),
        }


class JobsForm(ReportForm):
    """The jobs behind one number of the report."""

    what = forms.ChoiceField(choices=[(key, key) for key in job_list.WHAT], required=False)
    installer = forms.IntegerField(required=False, min_value=1)
    group = forms.ChoiceField(choices=[(key, key) for key in GROUPS], required=False)
    kind = forms.ChoiceField(choices=list(callback_jobs.KINDS.items()), required=False)
    water = forms.ChoiceField(choices=list(WATERS.items()), required=False)
    cause = forms.CharField(max_length=20, required=False)

    def asked(self) -> job_list.Narrowed:
        said = {name: self.cleaned_data[name] for name in job_list.Narrowed.__annotations__}
        return cast(job_list.Narrowed, {name: value for name, value in said.items() if value})
