"""Which strips are used, and what they read of nothing and of a known mix."""

from __future__ import annotations

from typing import Any

from django import forms

from equipment.engineering.oxidant.kits import BLANK_BELOW, MIX_READS
from jobs.fieldwork.dialling import band_choices, band_read
from jobs.models import StripLot
from jobs.workflows.strips import Band, Strips

from .fields import ModelChoiceField, rows_of


class StripsForm(forms.Form):
    lot = ModelChoiceField(
        StripLot.objects.none(), required=False, label="Strips", empty_label="another bottle"
    )
    new_lot = forms.CharField(max_length=40, required=False, label="Lot on another bottle")
    expires_on = forms.DateField(
        required=False, label="Good until", widget=forms.DateInput(attrs={"type": "date"})
    )
    blank = forms.ChoiceField(required=False, label="Blank, dosing pump off")
    mix = forms.ChoiceField(required=False, label="Known mix")

    def __init__(self, *args: Any, oxidant: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rows_of(self, "lot").queryset = StripLot.objects.for_oxidant(oxidant)
        bands = [("", "not looked at"), *band_choices(oxidant)]
        self.fields["blank"] = forms.ChoiceField(
            choices=bands,
            required=False,
            label="Blank, dosing pump off",
            help_text=f"Must read below {BLANK_BELOW:g} mg/L.",
        )
        if oxidant not in MIX_READS:
            del self.fields["mix"]
            return
        low, high = MIX_READS[oxidant]
        self.fields["mix"] = forms.ChoiceField(
            choices=bands,
            required=False,
            label="Known mix",
            help_text=(
                "1 mL of a 7 % mix in 1 gal of bottled water is 19 mg/L: must read "
                f"{low:g} to {high:g}. Pour it away afterwards; nobody drinks it."
            ),
        )

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
