"""The one row of company values."""

from __future__ import annotations

from typing import Any

from django import forms

from jobs.models import Company
from jobs.schedule.laboratory import WEEKDAYS

from .fields import ModelForm
from .owner_units import show_units
from .visits import TimeInput

GROUPS: tuple[tuple[str, str, tuple[str, ...]], ...] = (
    (
        "On letters and records",
        "",
        (
            "name",
            "street",
            "town",
            "phone",
            "email",
            "licence_note",
            "emergency_phone",
            "poison_phone",
        ),
    ),
    (
        "Disinfecting a well",
        "The product's label and local code come first.",
        ("contact_minimum_h", "shock_target_mg_l", "flush_high_mg_l", "flush_low_mg_l"),
    ),
    (
        "Bacteria in a well",
        "How much lifts “do not drink”: ask the health department of the county.",
        (
            "negatives_needed",
            "negatives_days_apart",
            "sample_wait_days",
            "ecoli_wait_days",
            "one_negative_is_enough",
        ),
    ),
    (
        "Oxidant in the water",
        "Common practice; a product's maximum use level holds first.",
        (
            "peroxide_limit_percent",
            "peroxide_low_mg_l",
            "peroxide_high_mg_l",
            "peroxide_iron_low_mg_l",
            "peroxide_iron_high_mg_l",
            "peroxide_after_carbon_mg_l",
            "chlorine_low_mg_l",
            "chlorine_high_mg_l",
            "chlorine_after_carbon_mg_l",
            "dose_swing_percent",
            "no_use_above_mg_l",
            "retention_minimum_min",
            "iron_target_mg_l",
        ),
    ),
    (
        "Coming back",
        "",
        ("refill_cap_days", "owner_told_after_days", "callback_window_days"),
    ),
    (
        "Hours",
        "Whole hours of the company's day. Lunch empty: none is planned.",
        (
            "work_from_hour",
            "work_until_hour",
            "lunch_from",
            "lunch_until",
            "mail_from_hour",
            "mail_until_hour",
        ),
    ),
    (
        "Laboratory",
        "When it takes samples. Single days on which it takes none stand on a page of their own.",
        (
            "laboratory_weekdays",
            "laboratory_from",
            "laboratory_until",
            "laboratory_drive_min",
        ),
    ),
    (
        "Invoices",
        "Work completed before this day does not stand among what is done and not billed. "
        "Empty: all of it.",
        ("billed_from",),
    ),
    (
        "Licences and certificates",
        "From so many days before the end on, the owner and whoever holds it are told once a week.",
        ("licence_lead_days",),
    ),
    (
        "Driving",
        "Where the table of towns says nothing. As the crow flies where the place of both houses "
        "is on file.",
        ("drive_min", "drive_in_town_min", "drive_mph"),
    ),
)
IN_ORDER = (
    ("flush_low_mg_l", "flush_high_mg_l"),
    ("peroxide_low_mg_l", "peroxide_high_mg_l"),
    ("peroxide_iron_low_mg_l", "peroxide_iron_high_mg_l"),
    ("chlorine_low_mg_l", "chlorine_high_mg_l"),
    ("work_from_hour", "work_until_hour"),
    ("mail_from_hour", "mail_until_hour"),
    ("lunch_from", "lunch_until"),
    ("laboratory_from", "laboratory_until"),
)
#: free chlorine: maximum residual disinfectant level of public supplies, 40 CFR 141.65 (4 mg/L)
NO_USE_AT_MOST_MG_L = 4
LATEST_HOUR, STRONGEST_PERCENT, LONGEST_DAYS = 24, 50, 3660
LABELS = {
    "work_from_hour": "Work from",
    "work_until_hour": "Work until",
    "phone": "Telephone",
    "licence_note": "Licence, as printed",
    "owner_told_after_days": "A late promise is in the owner's letter, this long after it was made",
    "billed_from": "References of invoices are kept from",
    "drive_min": "Driving between two towns",
    "drive_in_town_min": "Driving between two houses of one town",
    "laboratory_weekdays": "The laboratory takes samples on",
    "laboratory_from": "From",
    "laboratory_until": "Until",
    "laboratory_drive_min": "From the tap to the laboratory",
    "licence_lead_days": "Told before the end",
    "drive_mph": "Driving as the crow flies, miles an hour",
    "callback_window_days": "Asked at intake: earlier work within",
}


class WeekdaysField(forms.MultipleChoiceField):
    """Kept as digits, Monday 0."""

    def __init__(self) -> None:
        super().__init__(
            choices=[(str(number), name) for number, name in enumerate(WEEKDAYS)],
            widget=forms.CheckboxSelectMultiple,
            label=LABELS["laboratory_weekdays"],
            error_messages={"required": "Choose at least one day."},
        )

    def prepare_value(self, value: Any) -> Any:
        return list(value or "")

    def clean(self, value: Any) -> str:
        return "".join(sorted(super().clean(value)))

    def has_changed(self, initial: Any, data: Any) -> bool:
        return super().has_changed(list(initial or ""), data)


class CompanyForm(ModelForm[Company]):
    class Meta:
        model = Company
        fields = [name for _, _, names in GROUPS for name in names]
        labels = LABELS
        clocks = ("lunch_from", "lunch_until", "laboratory_from", "laboratory_until")
        widgets = {name: TimeInput() for name in clocks}

    laboratory_weekdays = WeekdaysField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        show_units(self)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for name, value in list(cleaned.items()):
            if type(value) in (int, float) and (said := _too_far(name, value)):
                self.add_error(name, said)
        for low, high in IN_ORDER:
            least, most = cleaned.get(low), cleaned.get(high)
            if low == "lunch_from" and (least is None) != (most is None):
                self.add_error(high, "Write both, or leave both empty.")
            elif least is not None and most is not None and least >= most:
                self.add_error(high, "This must be more than the figure before it.")
        return cleaned

    def groups(self) -> list[tuple[str, str, list[forms.BoundField]]]:
        return [(title, note, [self[name] for name in names]) for title, note, names in GROUPS]


def _too_far(name: str, value: float) -> str:
    if name.endswith("_hour"):
        return "Write an hour from 0 to 24." if not 0 <= value <= LATEST_HOUR else ""
    if value <= 0:
        return "This must be more than 0."
    if name == "no_use_above_mg_l" and value > NO_USE_AT_MOST_MG_L:
        return "At most 4 mg/L: no public supply may carry more chlorine (40 CFR 141.65)."
    if name == "peroxide_limit_percent" and value > STRONGEST_PERCENT:
        return "At most 50 percent; stronger solution is no matter for a basement."
    if name.endswith("_days") and value > LONGEST_DAYS:
        return "At most 3660 days."
    return ""
