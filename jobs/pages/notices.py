"""Notices over a house: whose they are, and what still has to come before they are lifted."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from django.db.models import Exists, OuterRef, Q, prefetch_related_objects

from equipment.models import Sample, Site
from jobs.fieldwork.lifting import Verdict
from jobs.fieldwork.water_use import uses, uses_held
from jobs.models import DoNotUse, HeldByTreatment, NoticeTold, SiteTenure
from jobs.models.company import company_day
from jobs.models.notice_told import LEVELS, SAID_BY_US, untold_notices
from jobs.records.bacteria import verdict_of
from jobs.records.treatment import held_verdict, treatment_at
from jobs.schedule.hours import day_words, zone_of
from jobs.wording.calls import SAY_BACK

#: rows that the worklist shows of each
MOST = 50


@dataclass
class Standing:
    """One notice as a page shows it."""

    notice: DoNotUse
    verdict: Verdict | None = None
    #: other houses on the well that it holds for
    others: list[Site] = field(default_factory=list)
    #: treatment holds it at this house
    held: HeldByTreatment | None = None
    #: it held there and does not any more: the last time
    raised: HeldByTreatment | None = None
    #: something treats the water here, so that it may come to be held
    may_hold: bool = False

    #: who of the house was told of it, where no sample says it; and whether somebody was not
    told: list[NoticeTold] = field(default_factory=list)
    is_unheard: bool = False

    @property
    def is_said_by_us(self) -> bool:
        return is_told_by_us(self.notice)

    @property
    def missing(self) -> tuple[str, ...]:
        return self.verdict.missing if self.verdict else ()

    @property
    def lifts(self) -> bool:
        return self.verdict is not None and self.verdict.lifts


def is_told_by_us(notice: DoNotUse) -> bool:
    """It stands, and neither a result nor an act before pouring tells the household."""
    of_kind = notice.level in LEVELS and notice.cause in SAID_BY_US
    return of_kind and not notice.lifted_at


def standing_of(notice: DoNotUse, *, now: datetime, at: Site | None = None) -> Standing:
    """A notice with its evidence; `at` is the house whose page it stands on."""
    here = at or notice.site
    others = list(Site.objects.on_well(notice.well).exclude(pk=here.pk)) if notice.well else []
    verdict = verdict_of(notice, now=now) if notice.is_about_bacteria else None
    standing = Standing(notice, verdict, others)
    if notice.level == DoNotUse.Level.NO_DRINKING:
        rows = notice.held.filter(site=here).select_related("by", "raised_by", "train", "sample")
        standing.held = rows.filter(raised_at=None).first()
        standing.raised = rows.order_by("raised_at").last() if not standing.held else None
        treats = notice.is_about_bacteria and treatment_at(here, notice.well) is not None
        standing.may_hold = treats and not standing.held
    return standing


#: lifted notices that a house page shows
MOST_LIFTED = 12


def notices_of(site: Site, *, now: datetime) -> list[Standing]:
    """Those that stand over a house, the strictest first."""
    return notices_and_lifted(site, now=now)[0]


def notices_and_lifted(site: Site, *, now: datetime) -> tuple[list[Standing], list[DoNotUse]]:
    """What stands over a house, and the newest that were lifted, each with what lifted it."""
    order = [level for level, _ in DoNotUse.Level.choices]
    rows = DoNotUse.objects.at_site(site).select_related(
        "opened_by", "site", "well", "lifted_by", "lifted_on_sample__place_stage"
    )
    found = sorted((r for r in rows if not r.lifted_at), key=lambda row: order.index(row.level))
    over = sorted((r.lifted_at, r.pk, r) for r in rows if r.lifted_at)
    standing = [standing_of(row, now=now, at=site) for row in found]
    knowing(standing, site)
    return standing, [row for _, _, row in reversed(over)][:MOST_LIFTED]


@dataclass(frozen=True)
class Told:
    """A sample with why it does not lift what stands, "" where it does or nothing stands."""

    sample: Sample
    why_not: str = ""


def samples_of(site: Site, standing: list[Standing]) -> list[Told]:
    """The newest samples of a house; a negative one that lifts nothing says why."""
    rows = Sample.objects.filter(site=site).select_related("taken_by", "read_by", "place_stage")
    shown = list(rows[:8])
    prefetch_related_objects([row for row in shown if row.is_found], "told")
    refused: dict[int, str] = {}
    for each in standing:
        if each.verdict:
            refused |= each.verdict.refused
    return [Told(row, refused.get(row.pk, "")) for row in shown]


def notices_over_all() -> dict[str, list[object]]:
    """What stands over houses, worst first; apart where treatment holds it; and who is to be told
    that it is back. One query, and one more where something stands."""
    unheard = Exists(untold_notices().filter(pk=OuterRef("pk")))
    shown_here = DoNotUse.objects.filter(Q(lifted_at=None) | ~Q(taken_back_why=""))
    standing = shown_here.with_untold_result().annotate(unheard=unheard)
    standing = standing.exclude(level=DoNotUse.Level.SAMPLE_PENDING)
    standing = standing.filter(Q(lifted_at=None) | Q(unheard=True))
    rows = standing.select_related("site").worst_first().with_holds()[:MOST]
    times = [held for row in rows for held in row.held.all()]
    held = [each for each in times if each.raised_at is None]
    back = [each for each in times if each.raised_at and not each.raised_whom]
    open_at = [row for row in rows if row.held_houses <= row.more and not row.lifted_at]
    untold: list[object] = [row for row in open_at if getattr(row, "untold", None)]
    unheard_of: list[object] = [row for row in rows if getattr(row, "unheard", False)]
    shown: dict[str, list[object]] = {"notices": [*open_at], "houses": [*_by_house(open_at)]}
    shown |= {"untold": untold, "unheard": unheard_of}
    return {**shown, "held": [*held], "back": [*back]}


def _by_house(rows: list[DoNotUse]) -> list[DoNotUse]:
    """One of each house, where the worst stands: of several the one that most houses are under."""
    found: dict[int, DoNotUse] = {}
    for row in rows:
        kept = found.get(row.site_id)
        if kept is None or row.more > kept.more:
            found[row.site_id] = row
    return list(found.values())


def read_out_of(notice: DoNotUse) -> list[str]:
    """What is said on the telephone: the notice, or that it was a mistake."""
    what = notice.get_level_display()
    if not notice.taken_back_why:
        lines = uses(notice.level, notice.cause)
        return [f"{what}: {notice.reason}.", *lines, SAY_BACK]
    day = day_words(notice.opened_at, zone_of(notice.site))
    said = [f"On {day} we told you: {what.lower()}.", "That was our mistake, and not your water."]
    said.append(notice.taken_back_why)
    standing = DoNotUse.objects.standing().at_site(notice.site)
    still = [f"This still holds: {row.get_level_display().lower()}." for row in standing]
    said += still or ["You may use your water as you did before."]
    return [*said, "If anything is unusual at your well, tell me now.", SAY_BACK]


def knowing(notices: list[Standing], site: Site) -> None:
    """`told` and `unheard` of each: who of that house knows of a notice without a sample."""
    asked = [each for each in notices if each.is_said_by_us]
    if not asked:
        return
    rows = NoticeTold.objects.filter(
        notice__in=[each.notice for each in asked], site=site, is_taken_back=False
    ).select_related("by")
    for row in rows:
        next(each for each in asked if each.notice.pk == row.notice_id).told.append(row)
    pks = untold_notices().filter(pk__in=[each.notice.pk for each in asked])
    waiting = set(pks.values_list("pk", flat=True))
    for each in asked:
        each.is_unheard = each.notice.pk in waiting


# --- held by treatment ----------------------------------------------------------------------------


def holding_page(notice: DoNotUse, site: Site, *, now: datetime) -> dict[str, object]:
    """What holds at one house, what is missing for it, and what is read out."""
    verdict = held_verdict(notice, site, now=now)
    return {
        "notice": notice,
        "site": site,
        "verdict": verdict,
        "treatment": treatment_at(site, notice.well),
        "samples": samples_of(site, [Standing(notice, verdict)]),
        "lines": uses_held(),
        "holders": SiteTenure.objects.at(company_day(now)).to_call(site),
    }


def call_of(held: HeldByTreatment, *, now: datetime) -> dict[str, object]:
    """Whom to call, and what is read out: the notice holds again."""
    lines = uses(held.notice.level, held.notice.cause)
    return {
        "held": held,
        "site": held.site,
        "lines": ["Our notice holds again at your house.", *lines],
        "holders": SiteTenure.objects.at(company_day(now)).to_call(held.site),
    }
