"""Forms of the six catalog tables, made from their columns."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.text import slugify

from equipment.models import FeedPump, Medium, OxidantProduct, Resin, RetentionTank, Vessel
from equipment.models.catalog import CatalogEntry

from .fields import ModelForm
from .owner_units import show_units

TABLES: dict[str, type[CatalogEntry]] = {
    "feed-pumps": FeedPump,
    "products": OxidantProduct,
    "vessels": Vessel,
    "media": Medium,
    "retention-tanks": RetentionTank,
    "resins": Resin,
}
TITLES = {
    "feed-pumps": "Dosing pumps",
    "products": "Oxidant products",
    "vessels": "Vessels",
    "media": "Media",
    "retention-tanks": "Contact tanks",
    "resins": "Resins",
}
#: what one of them is called
NAMES = {
    "feed-pumps": "dosing pump",
    "products": "oxidant product",
    "vessels": "vessel",
    "media": "medium",
    "retention-tanks": "contact tank",
    "resins": "resin",
}
#: largest value that can be true
AT_MOST = {
    "baffling_factor": 1,
    "label_strength_percent": 100,
    "ph_min": 14,
    "ph_max": 14,
    "density_g_ml": 4,
}
#: what a pump cannot be set without
NEEDED_BY_HEAD: dict[str, tuple[str, ...]] = {
    FeedPump.Head.TIMER: ("cycle_s", "cycle_step_s"),
    FeedPump.Head.METERED: ("strokes_per_min", "pulses_per_gal"),
}
IN_ORDER = (("backwash_low_gpm_ft2", "backwash_high_gpm_ft2"), ("ph_min", "ph_max"))


class CatalogForm(ModelForm[CatalogEntry]):
    """Generic names only: makes and serial numbers belong to the part in the house."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["name"].help_text = "Material or function, not a make."
        self.fields["is_active"].label = "Offered for new parts"
        for name, field in self.fields.items():
            if isinstance(field, forms.FloatField | forms.IntegerField) and not name.endswith("_c"):
                field.min_value = 0
        show_units(self)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name, value in list(cleaned.items()):
            if not isinstance(value, int | float) or isinstance(value, bool):
                continue
            if value <= 0 and not name.endswith("_c"):
                self.add_error(name, "This must be more than 0; leave it empty if not known.")
            elif name in AT_MOST and value > AT_MOST[name]:
                self.add_error(name, f"This can be {AT_MOST[name]} at most.")
        for name in NEEDED_BY_HEAD.get(cleaned.get("head", ""), ()):
            if cleaned.get(name) is None and name not in self.errors:
                self.add_error(
                    name, "A dosing pump that is set so needs this figure from its plate."
                )
        for low, high in IN_ORDER:
            least, most = cleaned.get(low), cleaned.get(high)
            if least is not None and most is not None and least > most:
                self.add_error(low, "The lower figure must not be above the higher one.")
        return cleaned

    def clean_name(self) -> str:
        name: str = self.cleaned_data["name"].strip()
        if not self.instance.slug:
            slug = slugify(name)[:50]
            if not slug:
                raise forms.ValidationError("Use letters or digits.")
            if type(self.instance)._default_manager.filter(slug=slug).exists():
                raise forms.ValidationError("An entry of this name stands already: edit that one.")
            self.instance.slug = slug
        return name


def catalog_form(table: str) -> type[ModelForm[CatalogEntry]]:
    model = TABLES[table]
    return forms.modelform_factory(
        model,
        form=CatalogForm,
        exclude=["slug"],
        widgets={
            "source": forms.Textarea(attrs={"rows": 2}),
            "safety_class": forms.Textarea(attrs={"rows": 2}),
        },
    )
