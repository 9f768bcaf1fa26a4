from collections import defaultdict
from datetime import datetime, time, timedelta
from itertools import islice

from django.db import migrations
from django.db.models import Q
from django.utils import timezone

INDEX_KINDS = ("startup", "rebed", "repair", "service")
KINDS = ("feeder", "filter", "other")
WATERS = ("sulfide", "low_ph", "usual", "untested")
CAUSES = (
    "not_coded R_missed A_leak A_drain A_injection A_wiring A_missed A_debris A_bypass B_high B_low "
    "B_interval B_clock C_backwash C_size C_medium D_test E_equipment F_ran_out F_weak G_source "
    "H_house I_customer J_explain K_no_fault L_unknown"
).split()
NOT_KNOWN = (
    "carried over: kind of work and raw water as parts and readings stand now; who helped beside "
    "those named on visits, and whether the person who led was ever corrected, is not known"
)
NOT_KNOWN_OF_REPORT = "carried over: earlier answers and causes of this report are not known here"
NOT_KNOWN_OF_CANCELLED = (
    "carried over: the visit was cancelled; whether it was booked in error is not known, so the "
    "report counts"
)
NOT_KNOWN_OF_LOSS = "carried over: by whom the system was taken out is not known"
CHUNK = 500
OLDEST, LAB_WAIT = timedelta(days=3 * 365), timedelta(days=15)


def carry_over(apps, schema_editor):
    now = timezone.now()
    _reports(apps, now)
    _losses(apps, now)
    Job = apps.get_model("jobs", "Job")
    done = Job.objects.filter(
        kind__in=INDEX_KINDS, index_on__isnull=False, installer__isnull=False, train__isnull=False
    ).exclude(status="cancelled")
    pks = iter(list(done.order_by("pk").values_list("pk", flat=True)))
    while chunk := list(islice(pks, CHUNK)):
        _handovers(apps, list(done.filter(pk__in=chunk).select_related("train")), now)


def _reports(apps, now):
    Job, CallbackFact = apps.get_model("jobs", "Job"), apps.get_model("jobs", "CallbackFact")
    rows = Job.objects.exclude(callback_answer="").order_by("pk")
    CallbackFact.objects.bulk_create(
        (
            CallbackFact(
                job_id=job.pk,
                origin_id=job.origin_id,
                answer=job.callback_answer,
                reported_on=job.reported_on,
                cause=job.cause,
                group=job.cause[:1],
                recheck_overdue=job.recheck_missed,
                method="carried/1",
                reason=NOT_KNOWN_OF_CANCELLED if job.status == "cancelled" else NOT_KNOWN_OF_REPORT,
                recorded_at=now,
            )
            for job in rows.iterator(chunk_size=CHUNK)
        ),
        batch_size=CHUNK,
    )


def _losses(apps, now):
    Train, LossFact = apps.get_model("equipment", "Train"), apps.get_model("jobs", "LossFact")
    LossFact.objects.bulk_create(
        LossFact(
            train_id=pk, day=day, how="system", reason=NOT_KNOWN_OF_LOSS, recorded_at=now
        )
        for pk, day in Train.objects.exclude(removed_on=None).values_list("pk", "removed_on")
    )


def _handovers(apps, jobs, now):
    HandoverFact = apps.get_model("jobs", "HandoverFact")
    parts, readings = _parts(apps, jobs), _readings(apps, jobs)
    facts = []
    for job in jobs:
        stood = [
            (pk, kind)
            for pk, kind, fitted, gone in parts[job.train_id]
            if fitted <= job.index_on and (gone is None or gone > job.index_on)
        ]
        found = {
            figure: _newest(readings[job.site_id, figure], job.index_on)
            for figure in ("sulfide", "ph")
        }
        (sulfide_reading, sulfide), (ph_reading, ph) = found["sulfide"], found["ph"]
        facts.append(
            HandoverFact(
                job_id=job.pk,
                day=job.index_on,
                train_id=job.train_id,
                site_id=job.site_id,
                installer_id=job.installer_id,
                kind=_kind({kind for _, kind in stood}),
                water=_water(sulfide, ph),
                is_inherited=job.train.is_inherited,
                method="carried/1",
                parts=[pk for pk, _ in stood],
                sulfide=sulfide,
                ph=ph,
                sulfide_reading_id=sulfide_reading,
                ph_reading_id=ph_reading,
                reason=NOT_KNOWN,
                recorded_at=now,
            )
        )
    HandoverFact.objects.bulk_create(facts)
    kept = list(HandoverFact.objects.filter(job__in=[job.pk for job in jobs]))
    _helpers(apps, kept)
    _follow(apps, kept)


def _parts(apps, jobs):
    found = defaultdict(list)
    rows = apps.get_model("equipment", "Stage").objects.filter(
        train__in={job.train_id for job in jobs}
    )
    for train, *part in rows.order_by("position", "pk").values_list(
        "train", "pk", "kind", "fitted_on", "removed_on"
    ):
        found[train].append(part)
    return found


def _readings(apps, jobs):
    found = defaultdict(list)
    rows = apps.get_model("equipment", "Measurement").objects.filter(
        site__in={job.site_id for job in jobs},
        quantity_key__in=("sulfide", "ph"),
        place="raw",
        value__isnull=False,
        corrected_by=None,
    )
    for row in rows.order_by("-measured_at", "-pk"):
        found[row.site_id, row.quantity_key].append(row)
    return found


def _newest(rows, day):
    """Taken up to the end of that day, not older than three years, known two weeks later."""
    ends, known = _start(day + timedelta(days=1)), _start(day + LAB_WAIT)
    for row in rows:
        if ends - OLDEST <= row.measured_at < ends and row.recorded_at <= known:
            below = row.comparator == "<" and row.quantity_key == "sulfide"
            return row.pk, 0.0 if below else row.value
    return None, None


def _start(day):
    return timezone.make_aware(datetime.combine(day, time.min))


def _kind(kinds):
    if "feeder" in kinds:
        return "feeder"
    return "filter" if kinds & {"filter", "neutralizer", "aeration"} else "other"


def _water(sulfide, ph):
    if sulfide is not None and sulfide > 3:
        return "sulfide"
    if ph is not None and ph < 6.5:
        return "low_ph"
    return "untested" if sulfide is None and ph is None else "usual"


def _helpers(apps, facts):
    Visit = apps.get_model("jobs", "Visit")
    HandoverHelper = apps.get_model("jobs", "HandoverHelper")
    of_job, lead = {fact.job_id: fact for fact in facts}, {}
    for job, first, second in (
        Visit.objects.filter(job__in=of_job)
        .exclude(status="cancelled")
        .order_by("starts_at", "pk")
        .values_list("job", "lead", "helper")
    ):
        others = lead.setdefault(job, {})
        if first != of_job[job].installer_id:
            others[first] = "led an earlier visit"
        if second and second != of_job[job].installer_id:
            others.setdefault(second, "helped")
    HandoverHelper.objects.bulk_create(
        HandoverHelper(fact=of_job[job], person_id=person, did=did)
        for job, others in lead.items()
        for person, did in others.items()
    )


def _follow(apps, facts):
    Follow = apps.get_model("jobs", "Follow")
    returns, first = _first_reports(apps, facts)
    gone = defaultdict(list)
    losses = apps.get_model("jobs", "LossFact").objects.filter(
        train__in={fact.train_id for fact in facts}
    )
    for train, day in losses.values_list("train", "day"):
        gone[train].append(day)
    rows = []
    for fact in facts:
        if fact.is_inherited or fact.job_id in returns:
            continue
        day = fact.day
        loss = min((each for each in gone[fact.train_id] if each >= day), default=None)
        report = min((each for each in first[fact.job_id] if each[0] >= day), default=None)
        ended, how, cause = 32767, 0, None
        if report and (loss is None or report[0] <= loss):
            ended, how, cause = (report[0] - day).days, 1, report[2]
        elif loss:
            ended, how = (loss - day).days, 3
        rows.append(
            Follow(
                job_id=fact.job_id,
                installer_id=fact.installer_id,
                work=KINDS.index(fact.kind) * 4 + WATERS.index(fact.water),
                day=day.toordinal(),
                ended=min(ended, 32766) if how else ended,
                how=how,
                cause=cause,
            )
        )
    Follow.objects.bulk_create(rows)


def _first_reports(apps, facts):
    jobs = [fact.job_id for fact in facts]
    yes = apps.get_model("jobs", "CallbackFact").objects.filter(answer="yes")
    returns = set(yes.filter(job__in=jobs).values_list("job", flat=True))
    first = defaultdict(list)
    for row in yes.filter(Q(origin__in=jobs)):
        missed = row.recheck_overdue and row.cause in ("B_high", "B_low")
        cause = CAUSES.index("R_missed" if missed else row.cause or "not_coded")
        first[row.origin_id].append((row.reported_on, row.job_id, cause))
    return returns, first


class Migration(migrations.Migration):
    """Old jobs get their facts; each row says what could not be known."""

    dependencies = [
        ("jobs", "0075_facts_of_callbacks"),
    ]

    operations = [
        # the tables go with the step before, and the jobs still hold what stands
        migrations.RunPython(carry_over, migrations.RunPython.noop),
    ]
