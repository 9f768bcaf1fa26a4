"""Two short forms of the dial-back: what was set, and what the glass and the strip say."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.models import DialStep

from .fields import choice_of, put_unit

#: printed values of common strips, mg/L; a reading lies between two of them (common practice)
PADS: dict[str, tuple[float, ...]] = {
    "peroxide": (0, 0.5, 2, 5, 10, 25, 50, 100),
    "chlorine": (0, 0.5, 1, 2, 5, 10),
    "permanganate": (0, 0.5, 1, 2, 5),
}
YES_NO = (("yes", "yes"), ("no", "no"), ("", "not looked"))


def pads_of(oxidant: str) -> tuple[float, ...]:
    return PADS.get(oxidant, PADS["peroxide"])


def band_choices(oxidant: str) -> list[tuple[str, str]]:
    pads = pads_of(oxidant)
    between = [
        (f"{low:g}-{high:g}", f"{low:g} to {high:g} mg/L")
        for low, high in zip(pads, pads[1:], strict=False)
    ]
    return [*between, (f">{pads[-1]:g}", f"above {pads[-1]:g} mg/L")]


class SetStepForm(forms.Form):
    setting_percent = forms.FloatField(label="Pump setting now", min_value=0, max_value=100)
    drawdown_ml_min = forms.FloatField(
        label="Draw-down at this setting",
        required=False,
        min_value=0,
        max_value=1000,
        help_text="Confirms the dose at once, without waiting.",
    )
    tap_flow_gpm = forms.FloatField(
        label="Flow of the running tap", required=False, min_value=0.1, max_value=60
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, unit in (
            ("setting_percent", "percent"),
            ("drawdown_ml_min", "mL/min"),
            ("tap_flow_gpm", "gpm"),
        ):
            put_unit(self.fields[name], unit)
            self.fields[name].widget = forms.TextInput()


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
    meter = forms.FloatField(
        label="Or a meter reads",
        required=False,
        min_value=0,
        max_value=1000,
        widget=forms.TextInput,
    )
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

    def __init__(self, *args: Any, oxidant: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choice_of(self, "band").choices = band_choices(oxidant)
        put_unit(self.fields["meter"], "mg/L")

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
        band = self.cleaned_data["band"]
        if band.startswith(">"):
            return float(band[1:]), None
        low, high = band.split("-")
        return float(low), float(high)

    def said(self, name: str) -> bool | None:
        return {"yes": True, "no": False}.get(self.cleaned_data.get(name, ""))
