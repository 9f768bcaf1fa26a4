"""Forms of booking, moving and ending a visit."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.utils import timezone

from equipment.models import Site, Stage, Train
from jobs.errors import VisitChanged
from jobs.fieldwork.keys import LineKey
from jobs.models import Answer, Job, Visit
from jobs.models.company import company_day
from jobs.workflows.held import Held
from jobs.workflows.jobs import Wanted

from .earlier_work import EarlierWorkMixin
from .fields import (
    ModelChoiceField,
    choice_of,
    put_unit,
    refusal_of,
    rows_of,
    say_optional,
)
from .openings import with_opening
from .sites import DayInput
from .trains import PersonField, staff
from .waits import WaitsMixin

#: usual minutes of each kind of job; common practice, no source
MINUTES = {
    Job.Kind.SURVEY: 90,
    Job.Kind.SAMPLE: 30,
    Job.Kind.INSTALL: 420,
    Job.Kind.DISINFECT: 120,
    Job.Kind.STARTUP: 270,
    Job.Kind.RECHECK: 60,
    Job.Kind.INTERVAL: 45,
    Job.Kind.REFILL: 30,
    Job.Kind.SERVICE: 75,
    Job.Kind.REBED: 210,
    Job.Kind.REPAIR: 90,
    Job.Kind.CALLBACK: 90,
    Job.Kind.REMOVAL: 180,
    Job.Kind.OTHER: 60,
}


MAY_STAY_EMPTY = ("helper", "minutes", "arrive_from", "arrive_until", "note", "symptom")


class TimeInput(forms.TimeInput):
    input_type = "time"

    def __init__(self) -> None:
        super().__init__(format="%H:%M", attrs={"step": "900"})


class SeenField(forms.IntegerField):
    """The newest request of the customer that stood on the page: the act answers it."""

    def __init__(self) -> None:
        super().__init__(widget=forms.HiddenInput, required=False)

    def clean(self, value: Any) -> int:
        return super().clean(value) or 0


class WhenForm(forms.Form):
    """Who comes, on which day, from when, how long, and what the customer is told."""

    lead = PersonField(queryset=User.objects.none(), label="Technician")
    helper = PersonField(queryset=User.objects.none(), required=False, label="Helper")
    day = forms.DateField(widget=DayInput(), label="Day")
    start = forms.TimeField(widget=TimeInput(), label="From")
    minutes = forms.IntegerField(
        min_value=15,
        max_value=840,
        required=False,
        label="Time held",
        help_text="Empty: what this kind of job usually takes.",
    )
    arrive_from = forms.TimeField(
        widget=TimeInput(), required=False, label="Customer is told: between"
    )
    arrive_until = forms.TimeField(
        widget=TimeInput(),
        required=False,
        label="and",
        help_text="Empty: one hour from the start. They lie inside the time held.",
    )

    #: what somebody said yes to (templates/visits/_unlikely.html)
    sure = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any = None, *args: Any, **kwargs: Any) -> None:
        super().__init__(with_opening(data), *args, **kwargs)
        put_unit(self.fields["minutes"], "min")
        say_optional(
            self, "may stay empty", [name for name in MAY_STAY_EMPTY if name in self.fields]
        )
        for name in ("lead", "helper"):
            rows_of(self, name).queryset = staff("technician")

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if day < company_day(timezone.now()):
            raise forms.ValidationError("This day is over: choose today or a later one.")
        return day

    def usual_minutes(self) -> int:
        return 60

    def held(self) -> Held:
        """Moments for the workflow, from the company's wall clock."""
        data = self.cleaned_data
        day, starts_at = data["day"], _moment(data["day"], data["start"])
        minutes = data.get("minutes") or self.usual_minutes()
        return Held(
            lead=data["lead"],
            helper=data.get("helper"),
            starts_at=starts_at,
            ends_at=starts_at + timedelta(minutes=minutes),
            arrive_from=_moment(day, data["arrive_from"]) if data.get("arrive_from") else None,
            arrive_until=_moment(day, data["arrive_until"]) if data.get("arrive_until") else None,
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name in ("start", "arrive_from", "arrive_until"):
            day, at = cleaned.get("day"), cleaned.get(name)
            if day and at and _is_skipped(day, at):
                said = f"The clocks go forward: there is no {at:%H:%M} on that day."
                self.add_error(name, said)
        begins = cleaned.get("arrive_from") or cleaned.get("start")
        ends = cleaned.get("arrive_until")
        if begins and ends and ends < begins:
            self.add_error("arrive_until", "The arrival window ends before it begins.")
        if cleaned.get("helper") and cleaned.get("helper") == cleaned.get("lead"):
            self.add_error("helper", "The helper must be somebody else.")
        return cleaned


def _moment(day: date, at: time) -> datetime:
    """In UTC: what is added to it is time that passes, not what a clock on the wall shows."""
    return timezone.make_aware(datetime.combine(day, at)).astimezone(UTC)


def _is_skipped(day: date, at: time) -> bool:
    """The clocks go forward over this hour."""
    return timezone.localtime(_moment(day, at)).time() != at


class SystemField(ModelChoiceField[Train]):
    def label_from_instance(self, obj: Train) -> str:
        return obj.name


class BookForm(EarlierWorkMixin, WaitsMixin, WhenForm):
    """A new job with its first visit; asks whether it is a callback when it could be one."""

    kind = forms.ChoiceField(choices=Job.Kind.choices, label="What for")
    train = SystemField(queryset=Train.objects.none(), required=False, label="Which system")
    symptom = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 2}), label="What the customer says"
    )
    reported_on = forms.DateField(widget=DayInput(), label="Day the customer reported")
    callback = forms.ChoiceField(
        widget=forms.RadioSelect,
        label="Is this because of earlier work?",
        error_messages={"required": "Answer this; “not sure” is an answer."},
    )
    status = forms.ChoiceField(
        choices=[("confirmed", "Confirmed, tell the customer"), ("tentative", "Tentative")],
        widget=forms.RadioSelect,
        initial="confirmed",
        label="How firm",
    )
    note = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 2}), label="For the technician"
    )
    field_order = ["kind", "train", "symptom", "reported_on", "callback", "lead", "helper", "day"]

    def __init__(self, *args: Any, site: Site, is_promised: bool = False, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_waits(site)
        self.is_promised = is_promised
        trains = Train.objects.filter(site=site).standing()
        self.trains = list(trains)
        rows_of(self, "train").queryset = trains
        if len(self.trains) == 1:
            self.fields["train"].initial = self.trains[0].pk
        self.fields["reported_on"].initial = company_day(timezone.now())
        self.ask_earlier_work()

    def usual_minutes(self) -> int:
        return MINUTES.get(Job.Kind(self.cleaned_data["kind"]), 60)

    def wanted(self, *, is_promised: bool) -> Wanted:
        data = self.cleaned_data
        answer, origin = self.said_of_earlier_work()
        return Wanted(
            kind=data["kind"],
            reported_on=data["reported_on"],
            symptom=data["symptom"],
            callback_answer=answer,
            origin=origin,
            planned=is_promised,
        )


class AgainForm(WaitsMixin, WhenForm):
    """Another visit of an open job."""

    note = forms.CharField(
        required=False, widget=forms.Textarea(attrs={"rows": 2}), label="For the technician"
    )

    def __init__(self, *args: Any, kind: str, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.ask_waits(site)
        self.kind = kind

    def usual_minutes(self) -> int:
        return MINUTES.get(Job.Kind(self.kind), 60)


class MoveForm(WhenForm):
    """Carries the version the page was opened with.

    The hours told go with the visit: they are typed only where they are to be others.
    """

    version = forms.IntegerField(widget=forms.HiddenInput)
    keep_told = forms.BooleanField(required=False)
    seen = SeenField()

    def __init__(self, *args: Any, visit: Visit, **kwargs: Any) -> None:
        starts, ends = timezone.localtime(visit.starts_at), visit.ends_at
        kwargs["initial"] = {
            "lead": visit.lead_id,
            "helper": visit.helper_id,
            "day": starts.date(),
            "start": starts.time(),
            "version": visit.version,
            "minutes": int((ends - visit.starts_at).total_seconds() // 60),
            **kwargs.get("initial", {}),
        }
        super().__init__(*args, **kwargs)
        self.told = [
            timezone.localtime(at).time() for at in (visit.arrive_from, visit.arrive_until)
        ]
        told = " to ".join(f"{at:%H:%M}" for at in self.told)
        self.fields["keep_told"].label = f"Keep the hours the customer was told: {told}"
        self.fields["arrive_from"].help_text = "Empty: the hours told move with the visit."
        self.fields["arrive_until"].help_text = ""

    @property
    def is_overtaken(self) -> bool:
        return isinstance(refusal_of(self), VisitChanged)

    def usual_minutes(self) -> int:
        return int(self.initial["minutes"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        if cleaned.get("keep_told"):
            if cleaned.get("arrive_from") or cleaned.get("arrive_until"):
                self.add_error("keep_told", "Keep the hours told, or write others: not both.")
            cleaned["arrive_from"], cleaned["arrive_until"] = self.told
        return cleaned


class CancelForm(forms.Form):
    reason = forms.CharField(max_length=200, label="Why")
    seen = SeenField()


class NoAccessForm(forms.Form):
    note = forms.CharField(
        widget=forms.Textarea(attrs={"rows": 3}),
        label="What was tried",
        help_text="Bell, telephone, gate: what you did before you left.",
    )


class UndoForm(forms.Form):
    reason = forms.CharField(
        max_length=200, label="Why", error_messages={"required": "Say why it is undone."}
    )


class CloseForm(forms.Form):
    """How the visit ended, and how feeder and bypass were left: asked every time."""

    outcome = forms.ChoiceField(
        choices=[c for c in Visit.Outcome.choices if c[0] != Visit.Outcome.NO_ACCESS],
        widget=forms.RadioSelect,
        label="How did it end",
    )
    feeder_left = forms.ChoiceField(
        choices=Visit.Feeder.choices, widget=forms.RadioSelect, label="Dosing pump was left"
    )
    bypass_left = forms.ChoiceField(
        choices=Visit.Bypass.choices, widget=forms.RadioSelect, label="Bypass was left"
    )
    cause = forms.ChoiceField(required=False, label="What caused this callback")
    cause_note = forms.CharField(required=False, max_length=300, label="More about the cause")
    defect_found = forms.BooleanField(required=False, label="A defect was found and noted")
    charge_kind = forms.ChoiceField(
        required=False, choices=Job.Charge.choices, label="What is charged, when it is done"
    )
    outcome_note = forms.CharField(
        required=False,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="What the next one must know",
    )

    def __init__(self, *args: Any, visit: Visit, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        say_optional(self, "may stay empty", ("outcome_note", "cause_note"))
        train = visit.job.train_id
        has_feeder = (
            bool(train)
            and Stage.objects.fitted().filter(train=train, kind=Stage.Kind.FEEDER).exists()
        )
        if has_feeder:
            choice_of(self, "feeder_left").choices = [
                choice for choice in Visit.Feeder.choices if choice[0] != Visit.Feeder.NONE
            ]
            choice_of(self, "bypass_left").choices = [
                choice for choice in Visit.Bypass.choices if choice[0] != Visit.Bypass.NONE
            ]
        else:
            self.fields["feeder_left"].initial = Visit.Feeder.NONE
            self.fields["bypass_left"].initial = Visit.Bypass.NONE
        self.fields["charge_kind"].initial = visit.job.charge_kind
        self._take_from_record(visit)
        if visit.job.callback_answer in (Job.CallbackAnswer.YES, Job.CallbackAnswer.NOT_SURE):
            choice_of(self, "cause").choices = [("", "choose"), *Job.Cause.choices]
        else:
            del self.fields["cause"], self.fields["cause_note"]

    def _take_from_record(self, visit: Visit) -> None:
        """What the record of this job says stands chosen; the technician may change it."""
        keys = (LineKey.BYPASS_LEFT, LineKey.RECHECK_OUTCOME)
        said = Answer.objects.filter(record__job=visit.job_id, line_key__in=keys).order_by(
            "saved_at"
        )
        told = dict(said.values_list("line_key", "text"))
        if told.get(LineKey.BYPASS_LEFT):
            self.fields["bypass_left"].initial = told[LineKey.BYPASS_LEFT]
        if told.get(LineKey.RECHECK_OUTCOME) == Visit.Outcome.DEFECT_FOUND:
            self.fields["outcome"].initial = Visit.Outcome.DEFECT_FOUND
