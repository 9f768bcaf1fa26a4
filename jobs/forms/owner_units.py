"""Column names carry their unit; forms show it beside the box instead."""

from __future__ import annotations

from django import forms

from .fields import put_unit, say_optional

#: longest first, so that gpm_ft2 is not taken for ft2
SUFFIXES = {
    "_gpm_ft2": "gpm/ft2",
    "_gpm_ft3": "gpm/ft3",
    "_grain_ft2": "grain/ft2",
    "_mg_l": "mg/L",
    "_g_ml": "g/mL",
    "_percent": "percent",
    "_days": "day",
    "_day": "day",
    "_gpd": "gpd",
    "_psi": "psi",
    "_gal": "gal",
    "_min": "min",
    "_in": "in",
    "_s": "s",
    "_h": "h",
    "_f": "degF",
    "_c": "degC",
    "_hour": "h",
    "voltage": "V",
}
NOT_UNITS = {
    "ph_min",
    "mail_from_hour",
    "mail_until_hour",
    "work_from_hour",
    "work_until_hour",
    "strokes_per_min",
    "pulses_per_gal",
}
#: words of a unit that stand at the end of a label made from a column name
LABEL_ENDS = (
    ", mg/L",
    ", hours",
    " mg l",
    " gpd",
    " psi",
    " in",
    " gal",
    " days",
    " s",
    " f",
    " gpm ft2",
    " gpm ft3",
    " grain ft2",
    " percent",
    " c",
)


def unit_of(name: str) -> str:
    if name in NOT_UNITS:
        return ""
    return next((unit for end, unit in SUFFIXES.items() if name.endswith(end)), "")


def show_units(form: forms.BaseForm) -> None:
    """Put the unit beside each figure and take it out of the label."""
    say_optional(form)
    for name, field in form.fields.items():
        unit = unit_of(name)
        if not unit or not isinstance(field, forms.FloatField | forms.IntegerField):
            continue
        put_unit(field, unit)
        label = str(field.label)
        for end in LABEL_ENDS:
            if label.endswith(end):
                label = label.removesuffix(end)
                break
        field.label = label
