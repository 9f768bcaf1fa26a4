"""What a visit waits for, as forms ask it; and the days on which the laboratory is closed."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Any

from django import forms
from django.utils import timezone

from equipment.models import Sample, Site
from jobs.errors import BadEntry
from jobs.models import Visit
from jobs.models.company import company_day
from jobs.models.waits import LONGEST_DAYS
from jobs.schedule.waiting import first_day
from jobs.workflows.waits import WaitsFor

from .fields import choice_of, put_unit
from .sites import DayInput

#: visits that ended so long ago may still be waited for
LATELY = timedelta(days=60)


class WaitsFields:
    """The two questions of a form; a house where nothing can be waited for is not asked."""

    def __init__(self, site: Site, now: datetime, besides: Visit | None = None) -> None:
        rows = Visit.objects.filter(job__site=site, starts_at__gt=now - LATELY).standing()
        rows = rows.exclude(outcome=Visit.Outcome.NO_ACCESS).with_job().order_by("starts_at")
        if besides:
            rows = rows.filter(starts_at__lt=besides.starts_at).exclude(pk=besides.pk)
        self.visits = {str(row.pk): row for row in rows}
        waiting = Sample.objects.filter(site=site, outcome=Sample.Outcome.WAITING)
        self.samples = {str(row.pk): row for row in waiting.order_by("taken_at")}

    def choices(self) -> list[tuple[str, str]]:
        found = [(f"sample-{pk}", f"result of the {row}") for pk, row in self.samples.items()]
        for pk, visit in self.visits.items():
            name = f"{visit.job.short_kind} of {company_day(visit.starts_at):%-d %B %Y}"
            found.append((f"gap-{pk}", f"days after: {name}"))
            found.append((f"result-{pk}", f"result of the sample taken at: {name}"))
        return found

    def chosen(self, value: str, days: int | None) -> WaitsFor | None:
        """Refused where a gap has no days."""
        kind, _, pk = value.partition("-")
        if kind == "sample" and pk in self.samples:
            return WaitsFor(sample=self.samples[pk])
        if kind == "result" and pk in self.visits:
            return WaitsFor(after=self.visits[pk])
        if kind != "gap" or pk not in self.visits:
            return None
        if not days:
            raise BadEntry("Say how many days.", field="wait_days")
        return WaitsFor(after=self.visits[pk], days=days)


class WaitsMixin(forms.Form):
    """Into a form that books, or one of its own."""

    waits_for = forms.ChoiceField(
        required=False,
        label="It waits for",
        help_text="Its time is only held, and nobody is told, until this has come.",
    )
    wait_days = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=LONGEST_DAYS,
        label="So many days",
        help_text="Only with “days after”.",
    )
    #: None: nothing there can be waited for
    asks: WaitsFields | None = None

    def ask_waits(self, site: Site, besides: Visit | None = None) -> None:
        fields = WaitsFields(site, timezone.now(), besides)
        choices = fields.choices()
        if not choices:
            del self.fields["waits_for"], self.fields["wait_days"]
            return
        self.asks = fields
        choice_of(self, "waits_for").choices = [("", "nothing"), *choices]
        put_unit(self.fields["wait_days"], "days")

    def waits(self) -> WaitsFor | None:
        """As typed and clean."""
        data = self.cleaned_data
        if self.asks is None:
            return None
        return self.asks.chosen(data.get("waits_for") or "", data.get("wait_days"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if "wait_days" not in self.errors and "waits_for" not in self.errors:
            try:
                self.waits()
            except BadEntry as refusal:
                self.add_error(refusal.field, refusal.message)
        return cleaned

    def first_day(self) -> Any:
        """The day before which nothing is offered, for what is chosen so far."""
        if self.asks is None:
            return None
        days = str(self["wait_days"].value() or "")
        try:
            chosen = self.asks.chosen(
                str(self["waits_for"].value() or ""),
                int(days) if days.isdecimal() and len(days) < len(str(LONGEST_DAYS)) + 1 else None,
            )
        except BadEntry:
            return None
        return first_day(chosen.row(Visit())) if chosen else None


class WaitForm(WaitsMixin):
    """What a visit that stands waits for."""

    def __init__(self, *args: Any, visit: Visit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_waits(visit.job.site, visit)
        if self.asks:
            self.fields["waits_for"].required = True
            choice_of(self, "waits_for").choices = self.asks.choices()


class WaitNoMoreForm(forms.Form):
    reason = forms.CharField(
        max_length=200,
        label="Why it waits no more",
        error_messages={"required": "Say why it waits no more."},
    )


class LaboratoryDayForm(forms.Form):
    day = forms.DateField(widget=DayInput(), label="Day")
    name = forms.CharField(max_length=80, label="Why it takes none")
