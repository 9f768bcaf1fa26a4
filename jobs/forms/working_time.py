"""Forms of the time of people: hours of the week, time away, days of the company, needs of work."""

from __future__ import annotations

from datetime import date, time
from typing import Any

from django import forms
from django.utils import timezone

from jobs.models import Absence, Job
from jobs.models.company import company_day
from jobs.workflows.absences import Away
from jobs.workflows.working_time import WEEKDAYS, Span, Week

from .fields import say_optional
from .sites import DayInput
from .visits import TimeInput

PEOPLE = [("1", "one"), ("2", "two")]


class ClockField(forms.TimeField):
    def __init__(self, **kwargs: Any) -> None:
        super().__init__(widget=TimeInput(), required=False, **kwargs)


class WeekForm(forms.Form):
    """From and until for each weekday; both empty is a day off."""

    def __init__(self, *args: Any, week: Week, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for number, name in enumerate(WEEKDAYS):
            self._pair(f"from_{number}", f"until_{number}", name, week.days[number])
        self._pair("lunch_from", "lunch_until", "Lunch", week.lunch)

    def _pair(self, begins: str, ends: str, name: str, span: Span) -> None:
        said = span or (None, None)
        for field, word, at in ((begins, "from", said[0]), (ends, "until", said[1])):
            self.fields[field] = ClockField(label=f"{name} {word}", initial=at)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for begins, ends in self._names():
            one, other = cleaned.get(begins), cleaned.get(ends)
            if not self.errors and bool(one) != bool(other):
                self.add_error(ends if one else begins, "Write both, or leave both empty.")
        return cleaned

    def _names(self) -> list[tuple[str, str]]:
        days = [(f"from_{number}", f"until_{number}") for number in range(7)]
        return [*days, ("lunch_from", "lunch_until")]

    def rows(self) -> list[tuple[str, list[forms.BoundField]]]:
        """A name and its two boxes."""
        names = zip((*WEEKDAYS, "Lunch"), self._names(), strict=True)
        return [(name, [self[box] for box in boxes]) for name, boxes in names]

    def week(self) -> Week:
        spans = [self._span(begins, ends) for begins, ends in self._names()]
        return Week(tuple(spans[:7]), spans[7])

    def _span(self, begins: str, ends: str) -> Span:
        one, other = self.cleaned_data[begins], self.cleaned_data[ends]
        return (one, other) if one and other else None


class AwayForm(forms.Form):
    """From a day to a day; whole days unless a time is said."""

    kind = forms.ChoiceField(
        choices=Absence.Kind.choices,
        widget=forms.RadioSelect,
        label="Why",
        help_text="Only who plans reads this; schedules and prints say “away”.",
        error_messages={"required": "Choose one of these."},
    )
    from_on = forms.DateField(widget=DayInput(), label="From")
    from_at = ClockField(label="at", help_text="Empty: the whole day.")
    until_on = forms.DateField(
        widget=DayInput(), label="Until, as far as known", help_text="The last day away."
    )
    until_at = ClockField(label="until", help_text="Empty: the whole day.")
    note = forms.CharField(max_length=200, required=False, label="Remark, for who plans")

    def __init__(self, *args: Any, absence: Absence | None = None, **kwargs: Any) -> None:
        kwargs["initial"] = {**_as_typed(absence), **kwargs.get("initial", {})}
        super().__init__(*args, **kwargs)
        say_optional(self, "may stay empty", ("from_at", "until_at", "note"))

    def away(self) -> Away:
        return Away(**self.cleaned_data)


def _as_typed(absence: Absence | None) -> dict[str, object]:
    if absence is None:
        today = company_day(timezone.now())
        return {"from_on": today, "until_on": today}
    begins, ends = timezone.localtime(absence.starts_at), timezone.localtime(absence.ends_at)
    is_whole = ends.time() == time()
    last = date.fromordinal(ends.date().toordinal() - is_whole)
    return {
        "kind": absence.kind,
        "from_on": begins.date(),
        "from_at": None if begins.time() == time() else begins.time(),
        "until_on": last,
        "until_at": None if is_whole else ends.time(),
        "note": absence.note,
    }


class CompanyDayForm(forms.Form):
    day = forms.DateField(widget=DayInput(), label="Day")
    name = forms.CharField(max_length=80, label="What day it is")
    is_worked = forms.TypedChoiceField(
        choices=[("no", "closed"), ("yes", "at work, although it is a holiday")],
        coerce=lambda said: said == "yes",
        widget=forms.RadioSelect,
        initial="no",
        label="The company is",
    )


class NeedsForm(forms.Form):
    """For each kind of work a licence on file, and how many people come."""

    def __init__(
        self, *args: Any, licences: list[str], kept: dict[str, tuple[str, int]], **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        for kind, label in Job.Kind.choices:
            licence, people = kept.get(kind, ("", 1))
            known = sorted({*licences, licence} - {""}, key=str.casefold)
            self.fields[f"licence_{kind}"] = forms.ChoiceField(
                choices=[("", "none"), *((name, name) for name in known)],
                required=False,
                label=f"{label}: licence",
                initial=licence,
            )
            self.fields[f"people_{kind}"] = forms.ChoiceField(
                choices=PEOPLE,
                required=False,
                label=f"{label}: people",
                initial=str(people),
            )

    def rows(self) -> list[tuple[str, list[forms.BoundField]]]:
        return [
            (str(label), [self[f"licence_{kind}"], self[f"people_{kind}"]])
            for kind, label in Job.Kind.choices
        ]

    def wanted(self) -> dict[str, tuple[str, int]]:
        data = self.cleaned_data
        return {
            kind: (data[f"licence_{kind}"], int(data[f"people_{kind}"] or 1))
            for kind in Job.Kind.values
        }
