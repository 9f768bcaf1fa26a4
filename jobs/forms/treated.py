"""Forms of a notice that is held by treatment: held, raised again, and who knows it."""

from __future__ import annotations

from django import forms

from jobs.models import HeldByTreatment
from jobs.workflows.treated import Again, Holding

from .samples import KnowsForm
from .sites import DayInput

Raised = HeldByTreatment.Raised
#: what somebody says; the rest is seen by the program
SAID = (Raised.POWER, Raised.ALARM, Raised.BYPASS, Raised.OFF, Raised.OTHER)


class HoldForm(KnowsForm):
    """What no row says: the alarm, and who was told. The samples are judged, not chosen."""

    field_order = ("alarm", "alarm_tested_on")
    alarm = forms.ChoiceField(
        choices=HeldByTreatment.Alarm.choices,
        widget=forms.RadioSelect,
        label="When the treatment stops, it",
        error_messages={"required": "Without an alarm treatment holds nothing: have one fitted."},
    )
    alarm_tested_on = forms.DateField(
        widget=DayInput(),
        label="Day the alarm was made to go",
        help_text="One of us pulled the plug and saw or heard it.",
    )

    def holding(self) -> Holding:
        return Holding(**self.beside(), told=self.adult())


class RaiseForm(KnowsForm):
    """What happened to the treatment, from who saw it or from the household that called."""

    field_order = ("why", "note")
    why = forms.ChoiceField(
        choices=[(why.value, why.label) for why in SAID],
        widget=forms.RadioSelect,
        label="What happened",
    )
    note = forms.CharField(
        max_length=200,
        required=False,
        label="Remark",
        help_text="For example: off since Sunday evening, for nine hours.",
    )

    def again(self) -> Again:
        return Again(**self.beside(), told=self.adult())
