"""Forms by which what decides about a job is put right, and by which a house is lost to sight."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth.models import User
from django.utils import timezone

from jobs.models import HandoverFact, Job
from jobs.models.company import company_day
from jobs.wording.names import person

from .fields import ModelChoiceField, choice_of, rows_of, say_optional
from .sites import DayInput


def reason_field(help_text: str = "") -> forms.CharField:
    return forms.CharField(
        label="Why",
        max_length=200,
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text=help_text or "Ten letters or more; kept with your name beside what stood before.",
    )


class PersonField(ModelChoiceField[User]):
    def label_from_instance(self, obj: User) -> str:
        return person(obj)


class HandoverCorrectionForm(forms.Form):
    installer = PersonField(queryset=User.objects.none(), label="Who led the work")
    day = forms.DateField(widget=DayInput(), required=False, label="Water handed over on")
    never = forms.BooleanField(required=False, label="Treated water was never handed over")
    reason = reason_field()

    def __init__(self, *args: Any, fact: HandoverFact, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        technicians = User.objects.filter(groups__name="technician")
        queryset = (technicians | User.objects.filter(pk=fact.installer_id)).distinct()
        rows_of(self, "installer").queryset = queryset.order_by("last_name", "first_name", "pk")
        self.fields["installer"].initial = fact.installer_id
        self.fields["day"].initial = fact.day
        self.fields["never"].initial = fact.day is None
        say_optional(self, "empty where it never was", ["day"])

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not self.errors and not cleaned.get("never") and not cleaned.get("day"):
            self.add_error("day", "Say the day, or tick that it never was.")
        return cleaned


class ReportCorrectionForm(forms.Form):
    answer = forms.ChoiceField(
        label="Is it a callback?",
        widget=forms.RadioSelect,
        choices=[
            (Job.CallbackAnswer.YES, "yes, it comes from the earlier job"),
            (Job.CallbackAnswer.NO, "no, it has another reason"),
            (Job.CallbackAnswer.NOT_SURE, "not sure yet"),
        ],
    )
    origin = forms.ChoiceField(required=False, label="Which earlier job")
    reason = reason_field()

    def __init__(self, *args: Any, job: Job, origins: list[Job], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.origins = {str(row.pk): row for row in origins}
        words = {
            pk: f"{row.get_kind_display()}, "
            f"{f'{row.index_on:%-d %B %Y}' if row.index_on else 'not told yet'}, "
            f"{person(row.installer) or 'nobody yet'}, job {pk}"
            for pk, row in self.origins.items()
        }
        choice_of(self, "origin").choices = [("", "none"), *words.items()]
        self.fields["answer"].initial = job.callback_answer
        self.fields["origin"].initial = str(job.origin_id or "")
        say_optional(self, "for a yes", ["origin"])

    def clean_origin(self) -> Job | None:
        return self.origins.get(self.cleaned_data["origin"])


class ReasonForm(forms.Form):
    reason = reason_field()


class EndedForm(forms.Form):
    on = forms.DateField(widget=DayInput(), label="Since")
    reason = reason_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = company_day(timezone.now())


class OnAgainForm(forms.Form):
    on = forms.DateField(widget=DayInput(), label="On again since")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = company_day(timezone.now())


class JobCancelForm(forms.Form):
    reason = forms.CharField(max_length=200, label="Why")
    booked_in_error = forms.BooleanField(
        required=False,
        label="It was booked in error: the customer reported nothing",
        help_text="Else the report stands, whether or not somebody came.",
    )

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if job.callback_answer not in (Job.CallbackAnswer.YES, Job.CallbackAnswer.NOT_SURE):
            del self.fields["booked_in_error"]
