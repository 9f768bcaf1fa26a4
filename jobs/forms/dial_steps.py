"""Two short forms of the dial-back: what was set, and what the glass and the strip say."""

from __future__ import annotations

from typing import Any

from django import forms

from equipment.engineering.names import Oxidant
from equipment.engineering.oxidant.pump_setting import SHARE, PumpSetting
from jobs.fieldwork import dial_words as words
from jobs.fieldwork.dialling import BY_STRIP, LABELS, LIMITS, band_choices, band_read

from .fields import choice_of, put_unit


def figure(name: str, **words: Any) -> forms.FloatField:
    """A box for a figure of a step, with its limits."""
    low, high = LIMITS[name]
    return forms.FloatField(min_value=low, max_value=high, widget=forms.TextInput, **words)


class SetStepForm(forms.Form):
    """The figures that this pump is set by stand first: one, or two."""

    drawdown_ml_min = figure(
        "drawdown_ml_min",
        label=words.MORE["drawdown_ml_min"],
        required=False,
        help_text=words.DRAWDOWN_HELP,
    )
    tap_flow_gpm = figure("tap_flow_gpm", label=words.MORE["tap_flow_gpm"], required=False)
    is_set_already = forms.BooleanField(
        required=False,
        label="It fed at this setting already",
        help_text="Then it is kept as it happened, also where a rule forbids it.",
    )

    def __init__(self, *args: Any, figures: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.figures = figures
        said = words.set_by(figures)
        asked = {name: figure(name, label=said[name]) for name in figures}
        self.fields = asked | self.fields
        for name, field in self.fields.items():
            if name in LABELS:
                put_unit(field, LABELS[name][1])

    @property
    def set_by(self) -> list[forms.BoundField]:
        return [self[name] for name in self.figures]

    @property
    def setting(self) -> PumpSetting:
        """As typed; whether this pump can be set so is the workflow's to say."""
        typed = {name: self.cleaned_data[name] for name in self.figures}
        return PumpSetting(percent=typed.pop(SHARE, 0.0), **typed)


class ReadStepForm(forms.Form):
    look = forms.ChoiceField(
        label=words.LOOK,
        choices=words.LOOKS,
        widget=forms.RadioSelect,
        help_text=words.LOOK_HELP,
    )
    band = forms.ChoiceField(
        label=words.BAND,
        required=False,
        widget=forms.RadioSelect,
    )
    meter = figure("residual", label=words.METER, required=False)
    iron_clear = forms.ChoiceField(
        label=words.ASKED_AT_TAP["iron_clear"],
        choices=words.YES_NO,
        required=False,
        widget=forms.RadioSelect,
    )
    odour_clear = forms.ChoiceField(
        label=words.ASKED_AT_TAP["odour_clear"],
        choices=words.YES_NO,
        required=False,
        widget=forms.RadioSelect,
    )

    colour_gone = forms.ChoiceField(
        label=words.ASKED_AT_TAP["colour_gone"],
        choices=words.YES_NO,
        required=False,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, oxidant: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.oxidant = oxidant
        choice_of(self, "band").choices = band_choices(oxidant)
        if oxidant == Oxidant.PERMANGANATE:
            self.fields["band"].label = words.BAND_BY_COLOUR
        else:
            del self.fields["colour_gone"]
        put_unit(self.fields["meter"], LABELS["residual"][1])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        if not data.get("band") and data.get("meter") is None and "meter" not in self.errors:
            self.add_error("band", "Choose what the strip shows, or put what a meter reads.")
        return data

    @property
    def residual(self) -> tuple[float, float | None]:
        """From pad to pad, None above the last one; a meter reading stands for itself."""
        if self.cleaned_data.get("meter") is not None:
            return self.cleaned_data["meter"], self.cleaned_data["meter"]
        return band_read(self.cleaned_data["band"])

    @property
    def by_strip(self) -> bool:
        return self.cleaned_data.get("meter") is None and self.oxidant in BY_STRIP

    def said(self, name: str) -> bool | None:
        return {"yes": True, "no": False}.get(self.cleaned_data.get(name, ""))
