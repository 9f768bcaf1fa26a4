"""What the owner asks of the chemicals: days, a house, a person, and which fills."""

from __future__ import annotations

from datetime import date

from django import forms
from django.http import QueryDict

from jobs.reports.chemical_fills import Asked
from jobs.reports.chemicals import HOUSEHOLD, ONLY
from jobs.reports.who_changed import people
from jobs.wording.names import person

from .days import DaysForm
from .fields import say_any

ANY = ("", "any")


class ChemicalsForm(DaysForm):
    """This calendar year where the address says nothing."""

    def __init__(self, data: QueryDict, *, today: date) -> None:
        usual = {"since": today.replace(month=1, day=1), "until": today.replace(month=12, day=31)}
        super().__init__(data, usual={name: day.isoformat() for name, day in usual.items()})

    @property
    def asked(self) -> Asked:
        chosen = self.cleaned_data
        return Asked(
            chosen["since"],
            chosen["until"],
            chosen.get("house"),
            chosen.get("tank"),
            chosen.get("person", ""),
            chosen.get("only", ""),
        )

    def words(self) -> dict[str, str]:
        """The question as the words of an address; what is left open is not said."""
        return {name: str(value) for name, value in self.cleaned_data.items() if value}


class FillsForm(ChemicalsForm):
    """The fills behind one number."""

    person = forms.ChoiceField(label="Written down by", required=False)
    only = forms.ChoiceField(label="Which fills", choices=[ANY, *ONLY.items()], required=False)
    house = forms.IntegerField(widget=forms.HiddenInput(), required=False, min_value=1)
    tank = forms.IntegerField(widget=forms.HiddenInput(), required=False, min_value=1)

    def __init__(self, data: QueryDict, *, today: date) -> None:
        super().__init__(data, today=today)
        self.fields["person"].choices = [  # type: ignore[attr-defined]
            ANY,
            *((str(user.pk), person(user)) for user in people()),
            (HOUSEHOLD, HOUSEHOLD),
        ]
        say_any(self, ("person", "only"))
