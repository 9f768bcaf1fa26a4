"""Facts for jobs whose rows a test makes by hand, as their acts would have written them."""

from jobs.models import CallbackFact, HandoverFact, Job
from jobs.reports.work_classes import class_of, lab_answered_by
from jobs.workflows.facts import follow


def carried(jobs):
    """What the columns of these jobs say, as facts."""
    jobs = list(jobs)
    HandoverFact.objects.bulk_create(handover(job) for job in jobs if was_handed_over(job))
    CallbackFact.objects.bulk_create(report(job) for job in jobs if was_reported(job))
    follow({pk for job in jobs for pk in (job.pk, job.origin_id) if pk})


def was_handed_over(job):
    done = job.kind in Job.INDEX_KINDS and job.status != Job.Status.CANCELLED
    return done and bool(job.index_on and job.installer_id and job.train_id)


def was_reported(job):
    return bool(job.callback_answer)


def handover(job, work=None):
    known_by = lab_answered_by(job.index_on)
    return HandoverFact(
        job=job,
        day=job.index_on,
        train=job.train,
        site_id=job.site_id,
        installer_id=job.installer_id,
        is_inherited=job.train.is_inherited,
        recorded_at=job.completed_at or job.opened_at,
        recorded_by_id=job.opened_by_id,
        **(work or class_of(job.train, job.index_on, known_by=known_by).kept),
    )


def report(job):
    return CallbackFact(
        job=job,
        origin_id=job.origin_id,
        answer=job.callback_answer,
        reported_on=job.reported_on,
        cause=job.cause,
        group=job.cause_group,
        recheck_overdue=job.recheck_missed,
        recorded_at=job.opened_at,
        recorded_by_id=job.opened_by_id,
    )
