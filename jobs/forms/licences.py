"""Forms of licences and certificates: entered, renewed, corrected, left out of use."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib.auth.models import User

from jobs.models import Skill
from jobs.wording.licences import COMPANY_ITSELF
from jobs.wording.names import capital
from jobs.wording.names import person as name_of

from .fields import choice_of, say_optional
from .sites import DayInput

NO_END = "empty: no end"


class EndField(forms.DateField):
    def __init__(self, label: str = "Ends on", **kwargs: Any) -> None:
        help_text = "The last day on which it holds."
        super().__init__(label=label, widget=DayInput(), help_text=help_text, **kwargs)


class NumberField(forms.CharField):
    def __init__(self) -> None:
        super().__init__(max_length=60, label="Number", required=False)


class NewLicenceForm(forms.Form):
    who = forms.ChoiceField(label="Who holds it")
    name = forms.CharField(
        max_length=80,
        label="Licence, certificate or training",
        widget=forms.TextInput(attrs={"list": "known-licences", "autocomplete": "off"}),
        help_text="The same words for everybody who holds it: what work needs goes by them.",
    )
    number = NumberField()
    expires_on = EndField(required=False)

    def __init__(self, *args: Any, people: Sequence[User], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.people = {str(who.pk): who for who in people}
        choice_of(self, "who").choices = [
            ("", "choose"),
            *((pk, name_of(who)) for pk, who in self.people.items()),
            ("company", capital(COMPANY_ITSELF)),
        ]
        say_optional(self, names=("number",))
        say_optional(self, NO_END, names=("expires_on",))

    def licence(self) -> dict[str, Any]:
        said = dict(self.cleaned_data)
        return {"person": self.people.get(said.pop("who")), **said}


class OnLicenceForm(forms.Form):
    """What is done with one that is on file; `seen` is what the page was opened at."""

    seen = forms.IntegerField(widget=forms.HiddenInput(), required=False)

    def __init__(self, *args: Any, licence: Skill, seen: int, **kwargs: Any) -> None:
        first = {"expires_on": licence.expires_on, "number": licence.number, "seen": seen}
        kwargs["initial"] = first
        super().__init__(*args, **kwargs)


class RenewLicenceForm(OnLicenceForm):
    expires_on = EndField(
        label="The renewed one ends on",
        error_messages={"required": "Write the last day on which the renewed one holds."},
    )
    number = NumberField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        del self.initial["expires_on"]
        say_optional(self, names=("number",))


class CorrectLicenceForm(OnLicenceForm):
    expires_on = EndField(required=False)
    number = NumberField()
    reason = forms.CharField(max_length=300, label="What was wrong", help_text="Kept with it.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        say_optional(self, names=("number",))
        say_optional(self, NO_END, names=("expires_on",))


class LicenceReasonForm(OnLicenceForm):
    reason = forms.CharField(max_length=300, label="Why", help_text="Kept with it.")
