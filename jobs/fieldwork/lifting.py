"""What lifts a notice about bacteria, and what keeps the promise of a bacteria sample.

One judgement of the bottles on file: where they were filled, how many, how far apart, how long
after the chlorine, whether oxidant was in the water, how soon the laboratory had them, and their
dates in order. Whoever refuses, lifts, prints or keeps a promise asks here.

Two negatives some days apart after a positive or a flood: Fort Bend County (Texas), guidance after
floods (SEEN). One negative without a positive in twelve months: Virginia 12VAC5-630-431 (SEEN).
Raw tap and kitchen, an accredited laboratory, 30 hours at most from bottle to laboratory: EPA,
private wells after a flood and 40 CFR 141 (SEEN). Nitrate at most 10 mg/L: 40 CFR 141.62 (SEEN).
Days to wait and days apart: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

from equipment.quantities import SamplePlace

from .kinds import RAISED_WORDS, NoticeCause, RaisedBy

#: from the tap to the laboratory at most
LABORATORY_HOURS = 30
NITRATE_MG_L = 10
#: without a find for so long, one negative may be enough
QUIET = timedelta(days=365)
NEGATIVE, COLIFORM, ECOLI = "negative", "positive", "ecoli"
FOUND = (COLIFORM, ECOLI)
PLACE_WORDS = {SamplePlace.RAW: "raw tap", SamplePlace.KITCHEN: "kitchen tap"}


@dataclass(frozen=True, kw_only=True)
class Bottle:
    """One bacteria sample as the judgement reads it."""

    pk: int
    site: int
    place: str
    tap: str
    taken_at: datetime
    outcome: str
    residual_free: bool | None = None
    received_at: datetime | None = None
    is_accredited: bool | None = None


@dataclass(frozen=True, kw_only=True)
class Wanted:
    """How much evidence the company asks for."""

    negatives: int = 2
    days_apart: int = 2
    days_after_chlorine: int = 5
    days_after_ecoli: int = 7
    one_is_enough: bool = False

    @classmethod
    def of(cls, company: Mapping[str, float]) -> Wanted:
        return cls(
            negatives=int(company["negatives_needed"]),
            days_apart=int(company["negatives_days_apart"]),
            days_after_chlorine=int(company["sample_wait_days"]),
            days_after_ecoli=int(company["ecoli_wait_days"]),
            one_is_enough=bool(company["one_negative_is_enough"]),
        )


@dataclass(frozen=True, kw_only=True)
class Case:
    """A notice with everything on file that may lift it."""

    cause: str
    since: datetime
    #: the house it was opened at; its kitchen tap counts
    site: int
    #: bacteria of the well, or of this house alone
    of_well: bool
    now: datetime
    wanted: Wanted = field(default_factory=Wanted)
    #: the newest chlorine was left in until then
    chlorine_until: datetime | None = None
    bottles: Sequence[Bottle] = ()
    nitrate_mg_l: float | None = None
    free_of_fuel: bool = False

    @property
    def ecoli(self) -> bool:
        """E. coli was found, before or since the notice."""
        found = [b for b in self.bottles if b.outcome == ECOLI]
        return self.cause == NoticeCause.ECOLI or any(b.taken_at >= self._year_ago for b in found)

    @property
    def last_find(self) -> datetime | None:
        return max((b.taken_at for b in self.bottles if b.outcome in FOUND), default=None)

    @property
    def _year_ago(self) -> datetime:
        return self.now - QUIET

    @property
    def places(self) -> tuple[SamplePlace, ...]:
        """Where negatives are needed."""
        if not self.of_well:
            return (SamplePlace.KITCHEN,)
        if self.cause == NoticeCause.DISINFECTED:
            return (SamplePlace.RAW,)
        return SamplePlace.RAW, SamplePlace.KITCHEN

    @property
    def needed(self) -> int:
        """Negatives at each of those places."""
        if self.cause == NoticeCause.DISINFECTED:
            return 1
        quiet = self.last_find is None or self.last_find < self._year_ago
        return 1 if self.wanted.one_is_enough and quiet else self.wanted.negatives

    @property
    def wait(self) -> int:
        return self.wanted.days_after_ecoli if self.ecoli else self.wanted.days_after_chlorine

    @property
    def days_apart(self) -> int:
        return self.wanted.days_after_ecoli if self.ecoli else self.wanted.days_apart


@dataclass(frozen=True)
class Verdict:
    """`missing`: what still has to come; `refused`: why a negative bottle does not count."""

    missing: tuple[str, ...]
    refused: Mapping[int, str]
    counted: tuple[int, ...] = ()

    @property
    def lifts(self) -> bool:
        return not self.missing


def judge(case: Case) -> Verdict:
    """Whether the evidence lifts the notice, with everything that is missing or does not count."""
    negatives = [b for b in case.bottles if b.outcome == NEGATIVE and b.taken_at >= case.since]
    refused = {b.pk: said for b in negatives if (said := why_not(b, case))}
    good = sorted((b for b in negatives if b.pk not in refused), key=lambda b: (b.taken_at, b.pk))
    missing = [said for place in case.places if (said := _too_few(good, place, case))]
    return Verdict((*missing, *_after_flood(case)), refused, tuple(bottle.pk for bottle in good))


def why_not(bottle: Bottle, case: Case) -> str:
    """Why a negative bottle is kept but does not count; "" where it does."""
    if bottle.place == SamplePlace.WRITTEN:
        return f"its tap was written in words ({bottle.tap}), so nobody knows where it was taken"
    if bottle.place not in case.places:
        usual = " and ".join(PLACE_WORDS[place] for place in case.places)
        return f"taken {_at(bottle)}: only the {usual} counts"
    if bottle.place == SamplePlace.KITCHEN and bottle.site != case.site:
        return "taken in the kitchen of another house"
    if bottle.residual_free is not True:
        return "nobody tested that no oxidant was in the water"
    return _dates(bottle, case) or _laboratory(bottle)


def _at(bottle: Bottle) -> str:
    return bottle.tap if bottle.place == SamplePlace.AFTER_STAGE else f"at the {bottle.tap}"


def _dates(bottle: Bottle, case: Case) -> str:
    if bottle.taken_at < case.since:
        return "taken before the notice was opened"
    if case.last_find and bottle.taken_at <= case.last_find:
        return "bacteria were found in a sample taken later"
    if case.chlorine_until:
        days = (bottle.taken_at - case.chlorine_until).total_seconds() / 86400
        if days < 0:
            return "taken before the chlorine was out"
        if days < case.wait:
            after = "1 day" if int(days) == 1 else f"{int(days)} days"
            return f"taken {after} after the chlorine; {case.wait} days of use come first"
    return ""


def _laboratory(bottle: Bottle) -> str:
    if bottle.is_accredited is not True:
        return "it is not noted that the laboratory is accredited"
    if bottle.received_at is None:
        return "it is not noted when the laboratory had it"
    hours = (bottle.received_at - bottle.taken_at).total_seconds() / 3600
    if hours < 0:
        return "the laboratory had it before it was taken"
    if hours > LABORATORY_HOURS:
        return f"the laboratory had it after {hours:.0f} h; {LABORATORY_HOURS} h at most"
    return ""


def _too_few(good: Sequence[Bottle], place: SamplePlace, case: Case) -> str:
    """How many negatives that lie far enough apart are missing at a place."""
    rounds, last = 0, None
    for bottle in good:
        if bottle.place != place:
            continue
        if last is None or bottle.taken_at - last >= timedelta(days=case.days_apart):
            rounds, last = rounds + 1, bottle.taken_at
    if rounds >= case.needed:
        return ""
    apart = f", {case.days_apart} days or more apart" if case.needed > 1 else ""
    return f"{PLACE_WORDS[place]}: {rounds} of {case.needed} negative{apart}"


def _after_flood(case: Case) -> list[str]:
    if case.cause != NoticeCause.FLOOD:
        return []
    missing = []
    if case.nitrate_mg_l is None:
        missing.append("nitrate after the flood, from a laboratory")
    elif case.nitrate_mg_l > NITRATE_MG_L:
        missing.append(f"nitrate at most {NITRATE_MG_L} mg/L; {case.nitrate_mg_l:g} was found")
    if not case.free_of_fuel:
        missing.append("a negative sample for fuel and chemicals after the flood")
    return missing


# --- held by treatment ----------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class Treated:
    """What treats the water of one house on a well whose bacteria stay."""

    site: int
    #: a UV unit, or chlorine with a contact tank
    has_treatment: bool
    #: from then on it treats what reaches the kitchen; None: not handed over
    since: datetime | None
    #: why it does not run as the last visit left it, "" where it runs
    left_off: str = ""
    #: when the notice came back to this house the last time
    raised_at: datetime | None = None


#: negatives at the kitchen tap before treatment is said to hold
HELD_NEGATIVES = 2
#: the raw tap is found again so long after the first find, or the well does not "stay" positive
STAYS = timedelta(days=1)


def stays_positive(case: Case) -> bool:
    """Coliform at the raw tap again and again, also after the well was disinfected."""
    if case.cause != NoticeCause.COLIFORM or case.ecoli or not case.of_well:
        return False
    raw = [b.taken_at for b in case.bottles if b.outcome in FOUND and b.place == SamplePlace.RAW]
    recent = [at for at in raw if at >= case.now - QUIET]
    if not recent or max(recent) - min(recent) < STAYS:
        return False
    return case.chlorine_until is None or max(recent) > case.chlorine_until


def judge_held(case: Case, treated: Treated) -> Verdict:
    """Whether treatment holds a notice at one house, with what is missing or does not count.

    Kitchen negative twice: two negatives as after any find (Fort Bend County, SEEN). That
    treatment may hold coliform but neither E. coli nor a flood, and the second find at the raw
    tap: common practice, no source.
    """
    missing = [*_not_of_a_kind(case), *_no_treatment(treated)]
    start = max(at for at in (case.since, treated.since, treated.raised_at) if at)
    kitchen = replace(
        case,
        cause=NoticeCause.COLIFORM,
        site=treated.site,
        of_well=False,
        since=start,
        wanted=replace(
            case.wanted,
            negatives=max(HELD_NEGATIVES, case.wanted.negatives),
            one_is_enough=False,
        ),
        bottles=[b for b in case.bottles if b.site == treated.site and b.place not in _UNTREATED],
    )
    verdict = judge(kitchen)
    return replace(verdict, missing=(*missing, *verdict.missing))


#: taps ahead of the treatment, or nobody knows where
_UNTREATED = (SamplePlace.RAW, SamplePlace.AFTER_STAGE, SamplePlace.WRITTEN)


def _not_of_a_kind(case: Case) -> list[str]:
    if case.ecoli:
        return ["E. coli was found: how it gets in is closed first; treatment alone holds nothing"]
    if case.cause != NoticeCause.COLIFORM or not case.of_well:
        return ["only coliform bacteria of a well are held by treatment, not this"]
    if stays_positive(case):
        return []
    again = " after the well was disinfected" if case.chlorine_until else ""
    return [f"raw tap: bacteria found again{again}; until then the well itself is put right"]


def _no_treatment(treated: Treated) -> list[str]:
    if not treated.has_treatment:
        return ["a UV unit, or chlorine with a contact tank, on all the water of this house"]
    if treated.since is None:
        return ["the treatment is fitted and not handed over yet"]
    if treated.left_off:
        return [f"as the last visit left it {RAISED_WORDS[RaisedBy(treated.left_off)]}"]
    return []
