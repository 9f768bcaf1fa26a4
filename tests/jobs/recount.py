"""The callback report counted again in plain Python, from the diary of what people did.

Written from the definitions that stand on the page: no query, no import of the report.
"""

from collections import Counter
from dataclasses import dataclass, field
from datetime import timedelta


@dataclass
class Recount:
    people: dict = field(default_factory=dict)
    strata: dict = field(default_factory=dict)
    causes: Counter = field(default_factory=Counter)
    inherited: int = 0
    not_sure: int = 0
    returns: Counter = field(default_factory=Counter)
    excluded: dict = field(default_factory=dict)
    state_of: dict = field(default_factory=dict)
    days: int = 0


def recount(company, since, until, window, today):
    tally = Recount()
    for work in company.works:
        if work.kind not in ("startup", "rebed", "repair", "service") or work.left_on is None:
            continue
        if work.cancelled or work.answer == "yes" or not since <= work.left_on <= until:
            continue
        if work.house.inherited:
            tally.inherited += 1
            continue
        _count(tally, work, company.works, window, today)
    return tally


def _count(tally, work, works, window, today):
    person = tally.people.setdefault(work.who, Counter())
    reports = [
        each
        for each in works
        if each.first is work
        and not each.planned
        and 0 <= (each.reported_on - work.left_on).days <= window
    ]
    callbacks = [each for each in reports if each.answer == "yes"]
    tally.not_sure += sum(each.answer == "not_sure" for each in reports)
    tally.returns[work.who] += len(callbacks)
    first = min(callbacks, key=lambda each: (each.reported_on, each.job.pk), default=None)
    state = tally.state_of[work.job.pk] = state_of(work, first, window, today)
    person[state] += 1
    tally.days += days_of(work, first, window, today)
    if state != "judgeable":
        person["outside"] += state == "recent" and first is not None
        return
    stratum = tally.strata.setdefault((kind_of(work), water_of(work)), Counter())
    person["strata", kind_of(work), water_of(work)] += 1
    stratum["judgeable"] += 1
    person["defects"] += any(is_defect(each, work, window) for each in works)
    if first is None:
        return
    cause = cause_of(first)
    counts, unknown = cause[0] in "AB", cause in ("not_coded", "L_unknown")
    for counter in (person, stratum):
        counter["callbacks"] += 1
        counter["workmanship"] += counts
    person["unknown"] += unknown
    tally.causes[cause] += 1
    if not counts and not unknown:
        tally.excluded.setdefault(work.who, Counter())[cause[0]] += 1


def lost_of(work, window, today):
    """(day, how) of what came first within the window, if anything."""
    end = min(work.left_on + timedelta(days=window), today)
    house = work.house
    losses = [(house.removed_on, "removed")] if house.removed_on else []
    if house.gone_on and work.left_on < house.gone_on:
        losses.append((house.gone_on, "left"))
    return min(((day, name) for day, name in losses if day <= end), default=None)


def days_of(work, first, window, today):
    """Followed to the callback, the loss, the end of the window or today."""
    lost = lost_of(work, window, today)
    ends = [work.left_on + timedelta(days=window), today]
    ends += [first.reported_on] if first else []
    ends += [lost[0]] if lost else []
    return (min(ends) - work.left_on).days


def state_of(work, first, window, today):
    """A callback before the loss counts, and on the same day too."""
    lost = lost_of(work, window, today)
    if lost and not (first and first.reported_on <= lost[0]):
        return lost[1]
    return "recent" if work.left_on + timedelta(days=window) > today else "judgeable"


def kind_of(work):
    kinds = {
        kind
        for kind, fitted, gone in work.house.parts
        if fitted <= work.left_on and (gone is None or gone > work.left_on)
    }
    if "feeder" in kinds:
        return "feeder"
    return "filter" if kinds & {"filter", "neutralizer", "aeration"} else "other"


def water_of(work):
    newest = {}
    for figure, place, value, day in work.house.readings:
        if place == "raw" and day <= work.left_on:
            newest.setdefault(figure, []).append((day, value))
    newest = {figure: max(rows, key=lambda row: row[0])[1] for figure, rows in newest.items()}
    if newest.get("sulfide", 0) > 3:
        return "sulfide"
    if newest.get("ph", 7) < 6.5:
        return "low_ph"
    return "usual" if newest else "untested"


def is_defect(each, work, window):
    if each.house is not work.house or not each.defect or each is work or each.answer == "yes":
        return False
    if not (each.planned or each.kind in ("recheck", "interval")):
        return False
    return 0 <= (each.told_on - work.left_on).days <= window


def cause_of(work):
    if not work.cause:
        return "not_coded"
    if work.recheck_was_late and work.cause in ("B_high", "B_low"):
        return "R_missed"
    return work.cause
