"""What is called back, and how a piece of it was worked off."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.access import has_role
from jobs.http import StaffRequest
from jobs.models import Recall, RecalledPiece
from jobs.models.pieces import STRIPS

from .fields import ModelForm, say_optional
from .parts import pieces, range_in_order
from .sites import DayInput

End = RecalledPiece.End


def called_back() -> list[Any]:
    """What may be called back at houses: strips are none of it, and everything is too much."""
    return [("", "choose one"), *(group for group in pieces()[1:] if group[0] != "Strips")]


class RecallForm(ModelForm[Recall]):
    """The list is made of what is on file; how long it would be is said before it is opened."""

    what = forms.ChoiceField(label="Which part, or what was filled in")
    seen = forms.BooleanField(
        required=False,
        widget=forms.HiddenInput,
        label="I read how many houses these are",
    )

    class Meta:
        model = Recall
        fields = [
            "title",
            "what",
            "marks",
            "first",
            "last",
            "since",
            "until",
            "reason",
            "source",
            "caution",
        ]
        labels = {
            "title": "What is called back",
            "marks": "The range is of",
            "first": "First lot or serial number",
            "last": "Last",
            "since": "Fitted or filled from",
            "until": "until",
            "reason": "Why",
            "source": "Who says so",
            "caution": "What the household is told to do",
        }
        help_texts = {
            "title": "In a few words, as the household knows it. No names of makers.",
            "last": "Empty: the first alone.",
            "reason": "The household reads it.",
            "source": "The paper it stands in, with its day; kept here, told to nobody.",
            "caution": "Read out on the telephone and written in the letter, word for word. What "
            "the maker, the label or local code says comes first.",
        }
        widgets = {
            "marks": forms.RadioSelect,
            "since": DayInput(),
            "until": DayInput(),
            "caution": forms.Textarea(attrs={"rows": 4}),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["what"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = called_back()
        say_optional(self, "may stay empty", ("first", "last", "since", "until"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        range_in_order(self, cleaned)
        if cleaned.get("what", "").startswith(f"{STRIPS}:"):
            self.add_error("what", "Strips stand in no house.")
        return cleaned

    def ask(self) -> None:
        """The number is shown, and ticked as read."""
        self.fields["seen"].widget = forms.CheckboxInput()


class SettleForm(forms.Form):
    """How a piece was worked off where no act on the part says it."""

    end = forms.ChoiceField(label="How it was worked off", widget=forms.RadioSelect)
    why = forms.CharField(
        max_length=200, label="What was found or done", help_text="Kept with your name."
    )

    def __init__(self, *args: Any, piece: RecalledPiece, request: StaffRequest, **kw: Any) -> None:
        super().__init__(*args, **kw)
        words = {
            End.REPLACED: "emptied, rinsed and filled with another lot",
            End.NOT_THERE: "it is not there",
            End.GIVEN_UP: "given up: it stays as it is",
        }
        if piece.fill_id is None:
            del words[End.REPLACED]
        if not has_role(request.user, "owner"):
            del words[End.GIVEN_UP]
        field = self.fields["end"]
        assert isinstance(field, forms.ChoiceField)
        field.choices = [(end.value, said) for end, said in words.items()]


class WhyForm(forms.Form):
    why = forms.CharField(max_length=200, label="Why", help_text="Kept with your name.")
