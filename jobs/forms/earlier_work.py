"""Is this because of earlier work? Asked wherever a visit is booked, whatever it is for."""

from __future__ import annotations

from django import forms

from equipment.models import Train
from jobs.models import Job
from jobs.workflows.jobs import callback_question

from .fields import choice_of

#: nobody reported anything
PROMISED = "promised"


def _handed_over(job: Job) -> str:
    return f"{job.index_on:%-d %B %Y}" if job.index_on else "not told yet"


class EarlierWorkMixin(forms.Form):
    """Reads system and day of the report from the form it is mixed into."""

    trains: list[Train]
    is_promised: bool

    def ask_earlier_work(self) -> None:
        self.origins = self._origins()
        callback = choice_of(self, "callback")
        callback.choices = self._callback_choices()
        callback.required = bool(self.origins)
        if self.is_promised:
            callback.initial = PROMISED
        if not self.origins:
            callback.widget = forms.HiddenInput()

    def _origins(self) -> list[Job]:
        """Work on the chosen system that the report could be a callback to."""
        train_pk, day = (self[name].value() for name in ("train", "reported_on"))
        train = next((row for row in self.trains if str(row.pk) == str(train_pk)), None)
        if train is None:
            return []
        try:
            reported_on = forms.DateField().clean(day)
        except forms.ValidationError:
            return []
        return callback_question(train=train, reported_on=reported_on)

    def _callback_choices(self) -> list[tuple[str, str]]:
        yes = [
            (
                f"yes-{job.pk}",
                f"Yes, from: {job.get_kind_display()}, {_handed_over(job)}, job {job.pk}",
            )
            for job in self.origins
        ]
        said = [("no", "No, something else"), ("not_sure", "Not sure, decided at closing")]
        promised = [(PROMISED, "No report: we come because we promised it")]
        return [*yes, *said, *(promised if self.is_promised else [])]

    def said_of_earlier_work(self) -> tuple[str, Job | None]:
        """The answer, and the earlier job it points to."""
        chosen = self.cleaned_data.get("callback") or ""
        if chosen == PROMISED:
            return "", None
        if chosen.startswith("yes-"):
            origin = next(job for job in self.origins if chosen == f"yes-{job.pk}")
            return Job.CallbackAnswer.YES, origin
        if chosen == Job.CallbackAnswer.NOT_SURE and self.origins:
            return chosen, self.origins[0]
        return (chosen if self.origins else ""), None
