"""Papers left at a house: the notice for the household, the safety sheet, the label of the tank.

Each is made of what the rows say at that moment, one plain structure for the page to be typeset.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from equipment.models import Fill, Sample, Site, Stage
from equipment.on_file import fed
from jobs.fieldwork import hazards
from jobs.fieldwork.cautions import DEFERS
from jobs.fieldwork.kinds import NoticeLevel
from jobs.mail.standing import said_of, standing_at
from jobs.models import Company
from jobs.schedule.hours import date_words, moment_words, zone_of
from jobs.wording.names import person

from .paper import company_lines

Section = dict[str, object]
HEATER = (
    "Water heater: stays off until one of us has filled it and turns it on again. Never switch on "
    "an empty one."
)
#: from the tap to the laboratory: US EPA, drinking water from household wells (SEEN)
REACHES_WITHIN = timedelta(hours=30)
BY_THE_LABORATORY = ("Received on, at", "By", "Temperature on arrival")
STAYS = "This sheet holds until one of us takes it back by name. Do not lift it yourself."


def notice_sheet(site: Site, *, now: datetime) -> dict[str, object]:
    """What stands over a house, what may be done with its water, and what ends it."""
    sections: list[Section] = []
    for notice in standing_at(site.pk):
        said = said_of(notice, site.pk)
        lines = [f"Why: {notice.reason}.", *said.lines]
        if notice.level == NoticeLevel.NO_USE:
            lines.append(HEATER)
        sections.append({"title": said.head, "lines": lines, "is_red": True})
    sections.append({"title": "", "lines": [STAYS], "is_red": False})
    return _paper("For this household", str(site), sections, site, now)


def safety_sheet(stage: Stage, *, now: datetime) -> dict[str, object]:
    """What stands in the solution tank and what to do when it gets where it must not."""
    sections: list[Section] = [
        {"title": "What it is", "lines": _contents(stage), "is_red": False},
        {"title": "Stop", "lines": list(hazards.APART[_oxidant(stage)]), "is_red": True},
        {"title": "First aid", "lines": list(hazards.FIRST_AID), "is_red": True},
        {"title": "Spilled", "lines": list(hazards.SPILL), "is_red": False},
        {"title": "Before it is touched", "lines": list(hazards.HANDS), "is_red": False},
        {"title": "Bypass", "lines": list(hazards.BYPASS), "is_red": False},
    ]
    site = stage.train.site
    return _paper(f"Safety sheet: {stage}", str(site), sections, site, now)


def tank_label(stage: Stage, *, now: datetime) -> dict[str, object]:
    """The label of the solution tank: product, strength, day mixed, hazards, whom to call."""
    lines = [*hazards.APART[_oxidant(stage)], hazards.FIRST_AID[0], hazards.BYPASS[0]]
    sections: list[Section] = [
        {"title": "In this tank", "lines": _contents(stage), "is_red": False},
        {"title": hazards.signal(_class(stage)).upper(), "lines": lines, "is_red": True},
    ]
    site = stage.train.site
    return _paper("Solution tank", str(site), sections, site, now)


def sample_slip(sample: Sample, *, now: datetime) -> dict[str, object]:
    """What goes to the laboratory with a bottle."""
    site, zone = sample.site, zone_of(sample.site)
    free = {True: "none", False: "some was left", None: "not tested"}[sample.residual_free]
    bottle = [
        f"Bottle: {sample.bottle or 'without a number'}.",
        f"To be tested for: {sample.get_kind_display()}.",
        f"Where it was filled: {sample.tap}.",
        f"When: {moment_words(sample.taken_at, zone)}, by {person(sample.taken_by)}.",
        f"Chlorine or peroxide in the water then: {free}.",
        f"Laboratory: {sample.laboratory or 'not noted'}.",
    ]
    keep = ["Cold, and not frozen, out of light, with this slip."]
    if sample.kind == Sample.Kind.BACTERIA:
        latest = moment_words(sample.taken_at + REACHES_WITHIN, zone)
        keep.append(f"At the laboratory within 30 hours: by {latest}.")
    filled = [f"{words}: ______________________________" for words in BY_THE_LABORATORY]
    sections: list[Section] = [
        {"title": "The bottle", "lines": bottle, "is_red": False},
        {"title": "On its way", "lines": keep, "is_red": True},
        {"title": "Filled in by the laboratory", "lines": filled, "is_red": False},
    ]
    paper = _paper("Slip for a water sample", str(site), sections, site, now)
    return {**paper, "defers": ""}


def _contents(stage: Stage) -> list[str]:
    assert stage.product
    product, strength = stage.product, fed(stage.pk).strength
    label = f"{product.label_strength_percent:g} percent on its container"
    mixed = Fill.objects.standing().filter(stage=stage).order_by("at", "pk").last()
    strong = mixed.strength_g_l if mixed and mixed.strength_g_l else strength
    return [
        f"{product.name} ({product.get_oxidant_display()}), {label}.",
        f"As mixed: {strong:.3g} g/L." if strong else "Strength as mixed: not on file.",
        f"Mixed on {_day(mixed.at, stage.train.site)}." if mixed else "Day mixed: not on file.",
        f"Class by the supplier's sheet: {hazards.signal(_class(stage))}.",
    ]


def _oxidant(stage: Stage) -> str:
    assert stage.product
    return stage.product.oxidant


def _class(stage: Stage) -> str:
    return stage.product.safety_class if stage.product else ""


def _day(moment: datetime, site: Site) -> str:
    return date_words(moment.astimezone(zone_of(site)).date())


def _paper(
    title: str, place: str, sections: list[Section], site: Site, now: datetime
) -> dict[str, object]:
    company = Company.load()
    calls = [
        f"{words}: {number}"
        for words, number in (
            ("Call us", company.phone),
            ("Day and night", company.emergency_phone),
            ("Poison Help", company.poison_phone),
        )
        if number
    ]
    return {
        "title": title,
        "place": place,
        "date": _day(now, site),
        "company": company_lines(company),
        "sections": sections,
        "calls": calls,
        "defers": DEFERS,
    }
