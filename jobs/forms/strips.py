"""Which strips are used, and what they read of nothing and of a known mix."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.fieldwork import dial_words as words
from jobs.fieldwork.dialling import band_choices, band_read
from jobs.models import StripLot
from jobs.workflows.strips import Band, Strips

from .fields import ModelChoiceField, choice_of, rows_of


class StripsForm(forms.Form):
    lot = ModelChoiceField(
        StripLot.objects.none(),
        required=False,
        label=words.STRIPS["lot"],
        empty_label=words.ANOTHER_BOTTLE,
    )
    new_lot = forms.CharField(
        max_length=words.LONGEST_LOT, required=False, label=words.STRIPS["new_lot"]
    )
    expires_on = forms.DateField(
        required=False,
        label=words.STRIPS["expires_on"],
        widget=forms.DateInput(attrs={"type": "date"}),
    )
    blank = forms.ChoiceField(
        required=False, label=words.STRIPS["blank"], help_text=words.BLANK_HELP
    )
    mix = forms.ChoiceField(required=False, label=words.STRIPS["mix"])

    def __init__(self, *args: Any, oxidant: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_of(self, "lot").queryset = StripLot.objects.for_oxidant(oxidant)
        bands = [words.NOT_LOOKED, *band_choices(oxidant)]
        choice_of(self, "blank").choices = bands
        choice_of(self, "mix").choices = bands
        self.fields["mix"].help_text = words.mix_help(oxidant)
        if not words.mix_help(oxidant):
            del self.fields["mix"]

    @property
    def strips(self) -> Strips:
        data = self.cleaned_data
        return Strips(
            lot=data["lot"],
            new_lot=data["new_lot"],
            expires_on=data["expires_on"],
            blank=self._band("blank"),
            mix=self._band("mix"),
        )

    def _band(self, name: str) -> Band | None:
        text = self.cleaned_data.get(name, "")
        return band_read(text) if text else None
