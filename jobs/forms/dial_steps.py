"""Two short forms of the dial-back: what was set, and what the glass and the strip say."""

from __future__ import annotations

import math
from typing import Any

from django import forms

from equipment.engineering.names import Oxidant
from equipment.engineering.oxidant.pump_setting import CYCLE, SHARE, PumpSetting
from jobs.fieldwork.dialling import LABELS, LIMITS, kit_of
from jobs.models import DialStep

from .fields import choice_of, put_unit

NOW = {SHARE: "Pump setting now", CYCLE: "Cycle of the timer now"}
#: read by strips; permanganate by its colour
BY_STRIP = (Oxidant.PEROXIDE, Oxidant.CHLORINE)
YES_NO = (("yes", "yes"), ("no", "no"), ("", "not looked"))


def figure(name: str, **words: Any) -> forms.FloatField:
    """A box for a figure of a step, with its limits."""
    low, high = LIMITS[name]
    return forms.FloatField(min_value=low, max_value=high, widget=forms.TextInput, **words)


def band_choices(oxidant: str) -> list[tuple[str, str]]:
    """From pad to pad of the strip; permanganate by its colour in a white cup."""
    kit = kit_of(oxidant)
    choices = []
    for at, (low, high) in enumerate(kit.bands):
        above = math.isinf(high)
        said = f"above {low:g} mg/L" if above else f"{low:g} to {high:g} mg/L"
        if kit.colours:
            said = f"{kit.colours[at]}, {said}"
        choices.append((f">{low:g}" if above else f"{low:g}-{high:g}", said))
    return choices


def band_read(text: str) -> tuple[float, float | None]:
    """A choice of band_choices; None above the last pad."""
    if text.startswith(">"):
        return float(text[1:]), None
    low, high = text.split("-")
    return float(low), float(high)


class SetStepForm(forms.Form):
    """The figures that this pump is set by stand first: one, or two."""

    drawdown_ml_min = figure(
        "drawdown_ml_min",
        label="Draw-down at this setting",
        required=False,
        help_text="Confirms the dose at once, without waiting.",
    )
    tap_flow_gpm = figure("tap_flow_gpm", label="Flow of the running tap", required=False)

    def __init__(self, *args: Any, figures: tuple[str, ...], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.figures = figures
        said = NOW | ({SHARE: "Share of the cycle now"} if CYCLE in figures else {})
        asked = {name: figure(name, label=said.get(name, LABELS[name][0])) for name in figures}
        self.fields = asked | self.fields
        for name, field in self.fields.items():
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
        label="What does the glass from the tap after the last tank look like?",
        choices=DialStep.Look.choices,
        widget=forms.RadioSelect,
        help_text="Clear glass, cold water, held against something dark.",
    )
    band = forms.ChoiceField(
        label="Residual after the retention tank, by the strip",
        required=False,
        widget=forms.RadioSelect,
    )
    meter = figure("residual", label="Or a meter reads", required=False)
    iron_clear = forms.ChoiceField(
        label="No iron at the tap after carbon",
        choices=YES_NO,
        required=False,
        widget=forms.RadioSelect,
    )
    odour_clear = forms.ChoiceField(
        label="No odour at the tap after carbon",
        choices=YES_NO,
        required=False,
        widget=forms.RadioSelect,
    )

    colour_gone = forms.ChoiceField(
        label="No colour in the water after the filter",
        choices=YES_NO,
        required=False,
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, oxidant: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.oxidant = oxidant
        choice_of(self, "band").choices = band_choices(oxidant)
        if oxidant == Oxidant.PERMANGANATE:
            self.fields["band"].label = "Colour ahead of the filter, in a white cup"
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
