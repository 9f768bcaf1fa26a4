"""Figures measured or told: new rows only. A correction is a newer row that names the older."""

from __future__ import annotations

import uuid
from dataclasses import KW_ONLY, dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.engineering.errors import EngineeringError
from equipment.models import Measurement, Sample, Site, Stage, Well
from equipment.quantities import MEASURED, Typed, read_typed
from jobs.errors import BadEntry, WrongState

from .log import log
from .moments import refuse_ahead

#: (the smaller, the larger, what is said): depths of one well and pressures of one house
IN_ORDER = (
    ("static_level", "total_depth", "The level lies above the bottom: less than {limit} ft."),
    ("pumping_level", "total_depth", "The level lies above the bottom: less than {limit} ft."),
    ("pump_depth", "total_depth", "The well pump hangs above the bottom: less than {limit} ft."),
    ("casing_depth", "total_depth", "The casing ends above the bottom: at most {limit} ft."),
    ("cut_in", "cut_out", "Cut-in is below cut-out: less than {limit} psi."),
)


#: what a figure can be about; the column of each is its own name
Subject = Site | Well | Stage | Sample


@dataclass(frozen=True)
class Reading:
    """A figure as somebody gives it: what, as typed, who says so, and where it was taken."""

    key: str
    text: str
    unit: str = ""
    _: KW_ONLY
    origin: str
    place: str = ""
    place_stage: Stage | None = None
    method: str = ""


@transaction.atomic
def record_measurement(
    *,
    about: Subject,
    reading: Reading,
    measured_at: datetime,
    by: User,
    now: datetime,
    corrects: Measurement | None = None,
    occasion: uuid.UUID | None = None,
) -> Measurement:
    """One figure about one site, well, part or sample, kept as typed and in its unit."""
    typed = read_figure(reading.key, reading.text, reading.unit)
    subject = {str(about._meta.model_name): about}
    _check_order(reading.key, typed, subject)
    refuse_ahead(measured_at, now, what="time of the reading", field="measured_at")
    if corrects and Measurement.objects.filter(corrects=corrects).exists():
        raise WrongState("This figure was corrected already: correct the newer one.")
    row = Measurement.objects.create(
        **subject,
        quantity_key=reading.key,
        comparator=typed.comparator,
        value=typed.value,
        other_end=typed.other,
        entered=typed.entered[:60],
        entered_unit=typed.unit,
        origin=reading.origin,
        method=reading.method,
        place=reading.place,
        place_stage=reading.place_stage,
        measured_at=measured_at,
        recorded_at=now,
        recorded_by=by,
        occasion=occasion,
        corrects=corrects,
    )
    verb = "corrected" if corrects else "measured"
    log(verb=verb, subject=row, by=by, now=now, site=_site_of(row), quantity=reading.key)
    return row


def read_figure(key: str, text: str, unit: str = "") -> Typed:
    """A typed figure, or a refusal that names the form field."""
    if key not in MEASURED:
        raise BadEntry("Choose what was measured.", field="quantity_key")
    try:
        return read_typed(key, text, unit)
    except EngineeringError as refusal:
        message = f"{MEASURED[key].label} {refusal.message}."
        raise BadEntry(message.replace("..", "."), field=key) from refusal


def _check_order(key: str, typed: Typed, subject: dict[str, Subject]) -> None:
    """A level below the bottom of the well, or a cut-in above the cut-out, is a slip."""
    for lower, upper, sentence in IN_ORDER:
        if key not in (lower, upper):
            continue
        other = upper if key == lower else lower
        row = (
            Measurement.objects.standing()
            .filter(quantity_key=other, **subject)
            .order_by("measured_at", "pk")
            .last()
        )
        if row is None or row.value is None:
            continue
        low, high = (typed.value, row.value) if key == lower else (row.value, typed.value)
        if low > high or (low == high and lower != "casing_depth"):
            said = sentence.format(limit=f"{high:g}")
            if key == upper:
                said = f"{MEASURED[lower].label} is {low:g}, so this must be more."
            raise BadEntry(said, field=key)


def _site_of(row: Measurement) -> Site | None:
    if row.well:
        return row.well.site
    if row.stage:
        return row.stage.train.site
    if row.sample:
        return row.sample.site
    return row.site
