"""A call as it is taken: who, what can hurt, the words, and what comes of it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.contrib.auth.models import User
from django.forms.boundfield import BoundWidget
from django.utils import timezone

from equipment.models import Site, Well
from jobs.fieldwork.dangers import RED
from jobs.models import Customer, FollowUp, Job
from jobs.models.company import company_day
from jobs.schedule.proposals import Proposal
from jobs.schedule.working_days import add_working_days
from jobs.wording.names import person
from jobs.workflows.phone_calls import Agreed, Said

from .fields import ModelChoiceField, ModelMultipleChoiceField, choice_of, rows_of, say_optional
from .openings import opening_of
from .sites import CustomerForm, DayInput, SiteForm
from .trains import staff
from .visits import BookForm

OTHER = "other"
ON_CALL, BY_MAIL, BOTH, LATER = "call", "mail", "both", "later"
#: what only a visit asks for
OF_VISITS = ("kind", "train", "callback", "reported_on", "when", "told", "lead", "day", "start")


class NewCustomerForm(CustomerForm):
    """What a caller can say of himself in ten seconds; the rest is written on his page."""

    use_required_attribute = False

    class Meta(CustomerForm.Meta):
        fields = ["name", "phone", "email"]


class NewHouseForm(SiteForm):
    use_required_attribute = False

    class Meta(SiteForm.Meta):
        fields = ["street", "town"]
        widgets: dict[str, Any] = {}


class AnswererField(ModelChoiceField[User]):
    def label_from_instance(self, obj: User) -> str:
        return person(obj)


class AlongField(ModelMultipleChoiceField[FollowUp]):
    def label_from_instance(self, obj: Any) -> str:
        span = f"{obj.window_from:%-d %b} to {obj.window_until:%-d %b}"
        return f"{obj.terms.name}, due {obj.due_on:%-d %B}, window {span}"


class CallForm(BookForm):
    """The whole page. `ends` is what the button asks for: "visit", "note", or "" to keep it open.

    The house and what is typed of a new one stand beside it (call_desk.py).
    """

    use_required_attribute = False

    call = forms.UUIDField(widget=forms.HiddenInput)
    caller = forms.CharField(max_length=120, required=False, label="Speaks")
    number = forms.CharField(max_length=30, required=False, label="Call back at")
    dangers = forms.MultipleChoiceField(
        choices=[(key.value, red.question) for key, red in RED.items()],
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="What can hurt",
    )
    asked = forms.BooleanField(
        required=False, label="I asked all of these; only what is ticked is so"
    )
    read_out = forms.BooleanField(
        required=False, label="Read out, and they said back what they will do"
    )
    well = forms.ModelChoiceField(
        queryset=Well.objects.none(),
        required=False,
        label="Which well",
        empty_label="not known: all",
    )
    along = AlongField(
        queryset=FollowUp.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        label="Take along on this visit",
    )
    when = forms.ChoiceField(
        widget=forms.RadioSelect,
        label="When we could come",
        error_messages={"required": "Choose one of the times, or another."},
    )
    told = forms.ChoiceField(widget=forms.RadioSelect, label="How they know")
    answer_by = forms.DateField(widget=DayInput(), required=False, label="Answered by")
    answerer = AnswererField(
        queryset=User.objects.none(), required=False, label="Who answers", empty_label="the office"
    )
    said = forms.CharField(
        max_length=400,
        required=False,
        label="Or said on this call",
        help_text="Then nothing is left to do, and the call is kept as answered.",
    )

    def __init__(
        self,
        *args: Any,
        site: Site | None,
        ends: str = "",
        proposed: Sequence[Proposal] = (),
        along: Sequence[FollowUp] = (),
        contact: Customer | None = None,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, site=site, **kwargs)  # type: ignore[arg-type]
        self.ends, self.contact, self.proposed = ends, contact, list(proposed)
        for name in ("status", "sure"):
            self.fields[name].required = False
        self.fields["reported_on"].widget = forms.HiddenInput()
        self.fields["symptom"].label = "In the caller’s words"
        for name in ("lead", "day", "start"):
            self.fields[name].required = False
        rows_of(self, "along").queryset = FollowUp.objects.filter(
            pk__in=[row.pk for row in along]
        ).select_related("terms")
        self._put_wells(site)
        self._put_choices()
        people = User.objects.filter(is_active=True, groups__name__in=["dispatcher", "owner"])
        rows_of(self, "answerer").queryset = people.distinct().order_by("last_name", "pk")
        self.fields["answer_by"].initial = add_working_days(company_day(timezone.now()), 1)
        say_optional(self, "may stay empty", ("caller", "number", "note", "symptom", "along"))
        say_optional(self, "for a note", ("answer_by", "answerer", "said"))
        rows_of(self, "lead").queryset = staff("technician")

    def _put_wells(self, site: Site | None) -> None:
        wells = Well.objects.at_site(site) if site else Well.objects.none()
        if site and len(wells) > 1:
            rows_of(self, "well").queryset = wells
        else:
            del self.fields["well"]

    def _put_choices(self) -> None:
        when, chosen = choice_of(self, "when"), self["when"].value() if self.is_bound else None
        choices = [(each.value, each.value) for each in self.proposed]
        if chosen and chosen != OTHER and chosen not in dict(choices):
            choices.append((chosen, "the time shown before"))  # taken if it is still free
        when.choices = [*choices, (OTHER, "Another time or person")]
        when.initial = choices[0][0] if choices else OTHER
        told, mailed = choice_of(self, "told"), self.can_be_mailed
        told.choices = [
            (ON_CALL, "On this call: they said day and hours back to me"),
            *([(BY_MAIL, f"By mail: {self.address}")] if mailed else []),
            *([(BOTH, "On this call, and by mail")] if mailed else []),
            (LATER, "Not yet: it comes onto the worklist"),
        ]
        told.initial = BOTH if mailed else ON_CALL

    @property
    def address(self) -> str:
        typed = self.data.get("customer-email") if self.is_bound else ""
        return self.contact.email if self.contact else str(typed or "the address typed above")

    @property
    def can_be_mailed(self) -> bool:
        return self.contact.can_be_mailed if self.contact else True

    @property
    def openings(self) -> list[tuple[BoundWidget, Proposal | None]]:
        """Each time with its reasons; None for "another time", and for one shown before."""
        known = {each.value: each for each in self.proposed}
        return [(box, known.get(str(box.data["value"]))) for box in self["when"]]

    @property
    def reds(self) -> list[tuple[BoundWidget, tuple[str, ...]]]:
        """Each red question with what is read out on a yes."""
        lines = {key.value: red.lines for key, red in RED.items()}
        return [(box, lines[str(box.data["value"])]) for box in self["dangers"]]

    @property
    def is_red(self) -> bool:
        return bool(self["dangers"].value())

    @property
    def is_new(self) -> bool:
        """Name and number stand with the new customer, and are asked for there."""
        return self.contact is None and str(self.data.get("house", "")) == "new"

    def clean_day(self) -> Any:
        return super().clean_day() if self.cleaned_data.get("day") else None

    def clean_number(self) -> str:
        typed: str = self.cleaned_data["number"]
        phone = self.contact.phones[0].as_national if self.contact and self.contact.phones else ""
        return typed or phone or str(self.data.get("customer-phone") or "")

    def clean_caller(self) -> str:
        typed: str = self.cleaned_data["caller"]
        name = self.contact.name if self.contact else str(self.data.get("customer-name") or "")
        return typed or name

    def clean(self) -> dict[str, Any]:
        if self.ends == "visit":
            self._clean_visit()
        else:
            for name in OF_VISITS:
                self.errors.pop(name, None)
        return super().clean()

    def _clean_visit(self) -> None:
        data = self.cleaned_data
        if not data.get("asked"):
            self.add_error("asked", "Ask what can hurt first, then tick this.")
        if data.get("when") and data["when"] != OTHER:
            self._take_time(data["when"])
        elif data.get("when"):
            for name, said in (("lead", "Say who comes."), ("day", "Say which day.")):
                if not data.get(name) and name not in self.errors:
                    self.add_error(name, said)
            if not data.get("start") and "start" not in self.errors:
                self.add_error("start", "Say from when.")
        if data.get("told") in (ON_CALL, BOTH):
            for name, said in (("caller", "by name"), ("number", "on a number")):
                if not data.get(name) and not self.is_new:
                    self.add_error(name, f"Told is an adult {said}: write it.")

    def _take_time(self, value: str) -> None:
        chosen = opening_of(value)
        lead = staff("technician").filter(pk=chosen[0]).first() if chosen else None
        if chosen is None or lead is None:
            self.add_error("when", "Choose one of the times.")
            return
        _, helper, starts_at = chosen
        if starts_at <= timezone.now():
            self.add_error("when", "This time has passed: choose another.")
            return
        begins = timezone.localtime(starts_at)
        self.cleaned_data |= {"lead": lead, "day": begins.date(), "start": begins.time()}
        if helper:
            self.cleaned_data["helper"] = staff("technician").filter(pk=helper).first()

    # --- for the workflows --------------------------------------------------------------------

    @property
    def name(self) -> UUID:
        return UUID(str(self.cleaned_data["call"]))

    def what_is_said(self, typed: dict[str, Any]) -> Said:
        data = self.cleaned_data
        return Said(
            caller=data.get("caller", ""),
            number=data.get("number", ""),
            words=data.get("symptom", ""),
            dangers=tuple(data.get("dangers", ())),
            asked_all=data.get("asked", False),
            read_out=data.get("read_out", False),
            well=data.get("well"),
            typed=typed,
        )

    def agreed(self) -> Agreed:
        data = self.cleaned_data
        return Agreed(
            held=self.held(),
            note=data.get("note", ""),
            along=tuple(data.get("along", ())),
            on_the_call=data["told"] in (ON_CALL, BOTH),
            by_mail=data["told"] in (BY_MAIL, BOTH),
        )


class AnswerForm(forms.Form):
    answer = forms.CharField(
        max_length=400,
        widget=forms.Textarea(attrs={"rows": 3}),
        label="What was said",
        help_text="Your name and the time are kept with it.",
    )


class TakeBackForm(forms.Form):
    reason = forms.CharField(max_length=200, label="Why it is taken back")


#: what a house that nobody knows is visited for first
FIRST_VISIT = Job.Kind.SURVEY
