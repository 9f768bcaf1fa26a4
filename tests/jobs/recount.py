"""The callback report counted again in plain Python, row by row, from the published rules.

Written from the definitions that stand on the page, not from the queries: no aggregate, no
annotation, no import of the report.
"""

from collections import Counter
from dataclasses import dataclass, field
from datetime import UTC, datetime, time, timedelta

from django.utils import timezone

from equipment.models import Measurement, Stage, Train
from jobs.models import Job, SiteTenure


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


def recount(since, until, window, today):
    jobs, trains = list(Job.objects.all()), {train.pk: train for train in Train.objects.all()}
    tally = Recount()
    for job in jobs:
        if job.kind not in ("startup", "rebed", "repair", "service") or job.index_on is None:
            continue
        if job.status == "cancelled" or job.callback_answer == "yes":
            continue
        if not since <= job.index_on <= until:
            continue
        train = trains[job.train_id]
        if train.is_inherited:
            tally.inherited += 1
            continue
        _count(tally, job, train, jobs, window, today)
    return tally


def _count(tally, job, train, jobs, window, today):
    person = tally.people.setdefault(job.installer_id, Counter())
    reports = [
        each
        for each in jobs
        if each.origin_id == job.pk
        and not each.planned
        and each.status != "cancelled"
        and 0 <= (each.reported_on - job.index_on).days <= window
    ]
    callbacks = [each for each in reports if each.callback_answer == "yes"]
    tally.not_sure += sum(each.callback_answer == "not_sure" for each in reports)
    tally.returns[job.installer_id] += len(callbacks)
    first = min(callbacks, key=lambda each: (each.reported_on, each.pk), default=None)
    state = tally.state_of[job.pk] = state_of(job, train, window, today)
    person[state] += 1
    if state != "judgeable":
        person["outside"] += first is not None
        return
    stratum = tally.strata.setdefault((kind_of(job), water_of(job)), Counter())
    person["strata", kind_of(job), water_of(job)] += 1
    stratum["judgeable"] += 1
    person["defects"] += any(is_defect(each, job, window) for each in jobs)
    if first is None:
        return
    cause = cause_of(first)
    counts = cause[0] in "AB"
    for counter in (person, stratum):
        counter["callbacks"] += 1
        counter["workmanship"] += counts
    tally.causes[cause] += 1
    if not counts:
        tally.excluded.setdefault(job.installer_id, Counter())[cause[0]] += 1


def state_of(job, train, window, today):
    end = min(job.index_on + timedelta(days=window), today)
    if train.removed_on and train.removed_on <= end:
        return "removed"
    for tenure in SiteTenure.objects.filter(site=job.site_id, is_contact=True):
        held = tenure.from_on <= job.index_on
        if held and tenure.until_on and job.index_on < tenure.until_on <= end:
            return "left"
    return "recent" if job.index_on + timedelta(days=window) > today else "judgeable"


def kind_of(job):
    kinds = {
        stage.kind
        for stage in Stage.objects.filter(train=job.train_id)
        if stage.fitted_on <= job.index_on
        and (stage.removed_on is None or stage.removed_on > job.index_on)
    }
    if "feeder" in kinds:
        return "feeder"
    return "filter" if kinds & {"filter", "neutralizer", "aeration"} else "other"


def water_of(job):
    limit = datetime.combine(job.index_on + timedelta(days=2), time.min, tzinfo=UTC)
    newest = {}
    for row in Measurement.objects.filter(site=job.site_id, place="raw"):
        if row.measured_at < limit and not Measurement.objects.filter(corrects=row).exists():
            kept = newest.get(row.quantity_key)
            if kept is None or (row.measured_at, row.pk) > (kept.measured_at, kept.pk):
                newest[row.quantity_key] = row
    if "sulfide" in newest and newest["sulfide"].value > 3:
        return "sulfide"
    if "ph" in newest and newest["ph"].value < 6.5:
        return "low_ph"
    return "usual" if {"sulfide", "ph"} & set(newest) else "untested"


def is_defect(job, origin, window):
    if job.train_id != origin.train_id or not job.defect_found or job.pk == origin.pk:
        return False
    if job.callback_answer == "yes" or not (job.planned or job.kind in ("recheck", "interval")):
        return False
    return 0 <= (timezone.localdate(job.completed_at) - origin.index_on).days <= window


def cause_of(job):
    if not job.cause:
        return "not_coded"
    if job.recheck_missed and job.cause in ("B_high", "B_low"):
        return "R_missed"
    return job.cause
