"""What the owner asks of the page that says who changed what."""

from __future__ import annotations

from datetime import date, timedelta

from django import forms
from django.http import QueryDict

from jobs.reports.changed_rows import SUBJECTS
from jobs.reports.who_changed import EVERYBODY, EVERYTHING, NOBODY, Asked, people
from jobs.wording.names import person

from .days import DaysForm

USUAL_DAYS = 7


class WhoChangedForm(DaysForm):
    person = forms.ChoiceField(label="By")
    subject = forms.ChoiceField(label="About")
    house = forms.IntegerField(required=False, min_value=1, widget=forms.HiddenInput())

    def __init__(self, data: QueryDict, *, today: date) -> None:
        usual = {
            "since": (today - timedelta(days=USUAL_DAYS - 1)).isoformat(),
            "until": today.isoformat(),
            "person": EVERYBODY,
            "subject": EVERYTHING,
        }
        super().__init__(data, usual=usual)
        self.fields["person"].choices = [  # type: ignore[attr-defined]
            (EVERYBODY, EVERYBODY),
            *((str(user.pk), person(user)) for user in people()),
            (NOBODY, "the program itself"),
        ]
        self.fields["subject"].choices = [  # type: ignore[attr-defined]
            (EVERYTHING, EVERYTHING),
            *((key, subject.word) for key, subject in SUBJECTS.items()),
        ]

    @property
    def asked(self) -> Asked:
        chosen = self.cleaned_data
        return Asked(
            chosen["since"], chosen["until"], chosen["person"], chosen["house"], chosen["subject"]
        )

    def words(self) -> dict[str, str]:
        """The question as the words of an address; what is left open is not said."""
        return {name: str(value) for name, value in self.cleaned_data.items() if value}
