"""The form before chlorine is poured: at each house who was told, and what its water must suit."""

from __future__ import annotations

from typing import Any

from django import forms

from equipment.models import Site, SpecialUse

SAID_AT_EACH = (
    "Nobody drinks, cooks, washes or waters animals until one of us calls; pails of water are "
    "drawn before anything is poured."
)


class PouringForm(forms.Form):
    """Two boxes for each house on the well; fields `told-<house>` and `uses-<house>`."""

    is_in_already = forms.BooleanField(
        required=False,
        label="The chlorine is in already",
        help_text="Then it is kept as it happened, also where nobody was told: tell them now.",
    )

    def __init__(self, *args: Any, houses: list[Site], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.houses = houses
        for site in houses:
            known = SpecialUse.objects.filter(site=site, ended_on=None)
            self.fields[f"told-{site.pk}"] = forms.CharField(
                required=False, max_length=120, label="Adult who was told", help_text=SAID_AT_EACH
            )
            self.fields[f"uses-{site.pk}"] = forms.MultipleChoiceField(
                required=False,
                choices=SpecialUse.Kind.choices,
                widget=forms.CheckboxSelectMultiple,
                label="Asked for, and found here",
                initial=[use.kind for use in known],
            )
            asked = forms.BooleanField(required=False, label="Asked here for each of these")
            self.fields[f"asked-{site.pk}"] = asked

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("is_in_already"):
            return cleaned
        for site in self.houses:
            if not cleaned.get(f"asked-{site.pk}"):
                self.add_error(f"asked-{site.pk}", "Ask before anything is poured.")
        return cleaned

    def told(self) -> dict[int, str]:
        return {site.pk: self.cleaned_data[f"told-{site.pk}"] for site in self.houses}

    def uses(self) -> dict[Site, list[str]]:
        return {site: self.cleaned_data[f"uses-{site.pk}"] for site in self.houses}

    def groups(self) -> list[tuple[Site, list[forms.BoundField]]]:
        names = ("uses", "asked", "told")
        return [(site, [self[f"{name}-{site.pk}"] for name in names]) for site in self.houses]
