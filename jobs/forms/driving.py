"""Minutes of driving from town to town."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.models.driving import LONGEST_MIN

from .fields import put_unit


class TownDriveForm(forms.Form):
    one = forms.CharField(max_length=80, label="Town")
    other = forms.CharField(
        max_length=80, label="and town", help_text="The same town twice: within it."
    )
    minutes = forms.IntegerField(min_value=1, max_value=LONGEST_MIN, label="Driving")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        put_unit(self.fields["minutes"], "min")
        for name in ("one", "other"):
            self.fields[name].widget.attrs["list"] = "towns"
