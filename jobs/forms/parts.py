"""Which part, lot or serial number is looked for."""

from __future__ import annotations

from typing import Any

from django import forms
from django.db.models import Value
from django.http import QueryDict

from equipment.models import (
    FeedPump,
    Medium,
    OxidantProduct,
    Resin,
    RetentionTank,
    Stage,
    Vessel,
)
from jobs.models.pieces import KIND, PRODUCT, STRIPS, Sought

from .days import days_in_order
from .fields import choice_of, say_any, say_optional
from .sites import DayInput

NOW, GONE = "now", "gone"
#: column of a part, what its rows are called
CATALOG: tuple[tuple[str, str, Any], ...] = (
    ("feed_pump", "Dosing pumps", FeedPump),
    ("medium", "Media", Medium),
    ("resin", "Resins", Resin),
    ("vessel", "Vessels", Vessel),
    ("retention_tank", "Contact tanks", RetentionTank),
    (PRODUCT, "Filled in", OxidantProduct),
)
LONGEST_MARK = 60


def pieces() -> list[Any]:
    """Kinds of part, rows of the catalog, strips: as a list in groups."""
    kinds = [(f"{KIND}:{key}", label.capitalize()) for key, label in Stage.Kind.choices]
    strips = [
        (f"{STRIPS}:{key}", f"Strips: {label}") for key, label in OxidantProduct.Oxidant.choices
    ]
    catalog = _catalog()
    rows = [(words, catalog.get(table, [])) for table, words, _ in CATALOG]
    groups = [("Kinds of part", kinds), *rows, ("Strips", strips)]
    return [("", "every part and fill"), *(group for group in groups if group[1])]


def _catalog() -> dict[str, list[tuple[str, str]]]:
    """Of each table its rows by name, all in one question."""
    first, *more = (
        model.objects.order_by().values_list(Value(table), "pk", "name")
        for table, _, model in CATALOG
    )
    found: dict[str, list[tuple[str, str]]] = {}
    for table, pk, name in first.union(*more, all=True).order_by("name"):
        found.setdefault(table, []).append((f"{table}:{pk}", name))
    return found


def range_in_order(form: forms.BaseForm, cleaned: dict[str, Any]) -> None:
    """Days, and marks from the first to the last."""
    days_in_order(form, cleaned)
    if cleaned.get("last") and not cleaned.get("first"):
        form.add_error("first", "Say where the range begins.")


class PartsForm(forms.Form):
    """Nothing asked finds nothing: the whole stock is no answer to anything."""

    what = forms.ChoiceField(label="Part", required=False)
    first = forms.CharField(
        max_length=LONGEST_MARK,
        label="Lot or serial number",
        help_text="A piece of it, or the first of a range.",
    )
    last = forms.CharField(max_length=LONGEST_MARK, label="to")
    since = forms.DateField(label="Fitted or filled from", widget=DayInput())
    until = forms.DateField(label="until", widget=DayInput())
    stands = forms.ChoiceField(
        label="Where it stands",
        choices=[("", "now and formerly"), (NOW, "there now"), (GONE, "there no more")],
        required=False,
    )

    def __init__(self, data: QueryDict | None) -> None:
        super().__init__(data)
        choice_of(self, "what").choices = pieces()
        for field in self.fields.values():
            field.required = False
        say_optional(self, "may stay empty", ("first", "last", "since", "until"))
        say_any(self, ("what", "stands"))

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        range_in_order(self, cleaned)
        return cleaned

    def sought(self) -> Sought:
        typed = {name: self.cleaned_data[name] for name in ("what", "first", "last")}
        stands = {NOW: True, GONE: False}.get(self.cleaned_data["stands"])
        days = {name: self.cleaned_data[name] for name in ("since", "until")}
        return Sought(**typed, **days, stands=stands)
