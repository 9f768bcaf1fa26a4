"""What is charged for a job, and which days are asked about."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

from django import forms
from django.http import QueryDict

from jobs.models import Job
from jobs.workflows.charges import MOST_CENTS, Charge, charge_of

from .days import DaysForm
from .fields import say_optional
from .sites import DayInput

USUAL_DAYS = 365
SEEN = ("seen_kind", "seen_cents", "seen_ref", "seen_note")


class ChargeForm(forms.Form):
    charge_kind = forms.ChoiceField(
        choices=Job.Charge.choices, widget=forms.RadioSelect, label="What is charged"
    )
    amount = forms.DecimalField(
        label="Amount, dollars",
        required=False,
        min_value=Decimal(0),
        max_value=Decimal(MOST_CENTS // 100),
        decimal_places=2,
        help_text="Where nothing is charged: what it would have come to.",
    )
    invoice_ref = forms.CharField(label="Reference of the invoice", required=False, max_length=40)
    charge_note = forms.CharField(label="Why nothing is charged", required=False, max_length=200)
    seen_kind = forms.CharField(widget=forms.HiddenInput(), required=False)
    seen_cents = forms.IntegerField(widget=forms.HiddenInput(), required=False)
    seen_ref = forms.CharField(widget=forms.HiddenInput(), required=False)
    seen_note = forms.CharField(widget=forms.HiddenInput(), required=False)

    def __init__(self, data: QueryDict | None, *, job: Job) -> None:
        now = charge_of(job)
        amount = None if now.cents is None else Decimal(now.cents) / 100
        super().__init__(
            data,
            initial={
                "charge_kind": now.kind,
                "amount": amount,
                "invoice_ref": now.invoice_ref,
                "charge_note": now.note,
                **dict(zip(SEEN, (now.kind, now.cents, now.invoice_ref, now.note), strict=True)),
            },
        )
        say_optional(self, "may stay empty", ("amount", "invoice_ref", "charge_note"))

    def charge(self) -> Charge:
        typed = self.cleaned_data
        amount = typed["amount"]
        return Charge(
            typed["charge_kind"],
            None if amount is None else int(amount * 100),
            typed["invoice_ref"],
            typed["charge_note"],
        )

    def seen(self) -> Charge:
        return Charge(*(self.cleaned_data[name] for name in SEEN))


class ChargesForm(DaysForm):
    """Days in which work was completed."""

    since = forms.DateField(label="Completed from", widget=DayInput())

    def __init__(self, data: QueryDict, *, today: date) -> None:
        usual = {
            "since": (today - timedelta(days=USUAL_DAYS - 1)).isoformat(),
            "until": today.isoformat(),
        }
        super().__init__(data, usual=usual)
