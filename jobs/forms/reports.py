"""What the owner asks of the callback report."""

from __future__ import annotations

from datetime import date
from typing import cast

from django import forms
from django.http import QueryDict

from jobs.reports import callback_jobs, job_list
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import GROUPS, list_name
from jobs.reports.fair_answer import WINDOW_DAYS, verdict_day, verdict_period
from jobs.reports.water_classes import WATERS

from .days import DaysForm
from .fields import say_any
from .sites import DayInput

USUAL_WINDOW = WINDOW_DAYS
ANY = ("", "any")


class ReportForm(DaysForm):
    since = forms.DateField(label="Handed over from", widget=DayInput())
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
            "window": str(USUAL_WINDOW),
        }
        super().__init__(data, usual=usual)

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

    what = forms.ChoiceField(label="Which jobs", choices=job_list.CHOICES, required=False)
    installer = forms.TypedChoiceField(
        label="Lead installer", coerce=int, empty_value=None, required=False
    )
    kind = forms.ChoiceField(
        label="Kind of system", choices=[ANY, *callback_jobs.KINDS.items()], required=False
    )
    water = forms.ChoiceField(label="Raw water", choices=[ANY, *WATERS.items()], required=False)
    group = forms.ChoiceField(
        label="Causes of the group",
        choices=[ANY, *((key, group.name) for key, group in GROUPS.items())],
        required=False,
    )
    cause = forms.ChoiceField(label="Cause", choices=[ANY, *job_list.causes()], required=False)

    def __init__(self, data: QueryDict, *, today: date) -> None:
        super().__init__(data, today=today)
        say_any(self, ("what", "installer", "kind", "water", "group", "cause"))
        self.fields["installer"].choices = [  # type: ignore[attr-defined]
            ("", "anybody"),
            *((user.pk, list_name(user)) for user in job_list.leads()),
        ]

    @property
    def installer_name(self) -> str:
        """Of the one asked about; "" is everybody."""
        asked = self.cleaned_data["installer"]
        return dict(self.fields["installer"].choices)[asked] if asked else ""  # type: ignore[attr-defined]

    def asked(self) -> job_list.Narrowed:
        said = {name: self.cleaned_data[name] for name in job_list.Narrowed.__annotations__}
        return cast(job_list.Narrowed, {name: value for name, value in said.items() if value})
