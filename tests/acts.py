"""What people do, one act in a line: the workflows behind the pages, with the day as an argument.

A test that reads a figure, a list or a letter begins with these, not with rows of its own.
"""

from datetime import timedelta

from equipment.models import Sample, Stage, Well
from jobs.models import Job, Visit
from jobs.models.company import company_day
from jobs.workflows import visits
from jobs.workflows.jobs import Wanted, open_job
from jobs.workflows.notices import OutOfPipes, lift_notice
from jobs.workflows.pouring import all_told, houses_of
from jobs.workflows.samples import Result, enter_result, send_sample
from jobs.workflows.sites import change_hands
from jobs.workflows.telling import Adult
from jobs.workflows.visit_closing import NEEDS_A_CLOSED_RECORD, Ending, close_visit
from jobs.workflows.visits import Held
from tests.conftest import NOW
from tests.factories import make_customer, make_record, some_user

HOUR = timedelta(hours=1)


def opened(train, kind=Job.Kind.SERVICE, *, at=NOW, by=None, reported_on=None, **wanted):
    """Somebody asks for work, or we promised it."""
    return open_job(
        site=train.site,
        train=train,
        wanted=Wanted(kind, reported_on or company_day(at), **wanted),
        by=by or some_user(),
        now=at,
    )


def called_back(origin, *, at=NOW, answer=Job.CallbackAnswer.YES, kind=Job.Kind.CALLBACK, **more):
    """The customer of earlier work calls: is it because of that work?"""
    return opened(origin.train, kind, at=at, origin=origin, callback_answer=answer, **more)


def spoken_to(whom):
    """An adult on the telephone who said back what was read out."""
    return Adult(whom, "telephone", "607-555-0142", read_back=True)


def held(lead, *, at=NOW, hours=1, **told):
    return Held(lead, at, at + hours * HOUR, **told)


def booked(job, lead, *, at=NOW, hours=1, now=None, by=None, follow_ups=(), status="", **told):
    return visits.book_visit(
        job=job,
        held=held(lead, at=at, hours=hours, **told),
        by=by or some_user(),
        now=now or at,
        follow_ups=follow_ups,
        status=status or Visit.Status.CONFIRMED,
    )


def moved(visit, *, at, lead=None, hours=1, now=None, by=None, **told):
    return visits.move_visit(
        visit=visit,
        version=visit.version,
        held=held(lead or visit.lead, at=at, hours=hours, **told),
        by=by or some_user(),
        now=now or NOW,
    )


def arrived(visit, *, at=None):
    return visits.arrive(visit=visit, by=visit.lead, now=at or visit.starts_at)


def closed(
    visit, outcome=Visit.Outcome.COMPLETED, *, at=None, now=None, feeder="", bypass="", **ending
):
    """Ended by its technician an hour after it began, the feeder off unless told.

    `at` is when the house was left, `now` when it was told.
    """
    at = at or visit.starts_at + HOUR
    if outcome in Visit.COMPLETING:
        _recorded(visit, at)
    parts = Stage.objects.fitted().filter(train=visit.job.train_id)
    usual = Visit.Feeder.OFF if parts.filter(kind="feeder").exists() else Visit.Feeder.NONE
    return close_visit(
        visit=visit,
        ending=Ending(outcome, feeder or usual, bypass or Visit.Bypass.SERVICE, **ending),
        by=visit.lead,
        now=now or at,
        at=at,
    )


def _recorded(visit, at):
    """Work that is completed by its record has one, where the test tells none itself."""
    job = visit.job
    if job.kind in NEEDS_A_CLOSED_RECORD and not job.records.exists():
        ended = {"closed_at": at, "closed_by": visit.lead, "closed_in": visit}
        make_record(job=job, now=at, by=visit.lead, status="closed", **ended)


def visited(job, lead, outcome=Visit.Outcome.COMPLETED, *, at=NOW, **ending):
    """Booked, gone to and closed; the job as it is then."""
    visit = booked(job, lead, at=at)
    arrived(visit)
    closed(visit, outcome, **ending)
    job.refresh_from_db()
    return job


def worked(train, lead, kind=Job.Kind.SERVICE, *, at=NOW, **ending):
    """A whole job of one visit."""
    return visited(opened(train, kind, at=at), lead, at=at, **ending)


def sold(site, *, on, at=None, to=None, buyer="ours", **how):
    """The house changes hands: to a customer of ours unless told."""
    customer = (to or make_customer()) if buyer == "ours" else None
    return change_hands(
        site=site, customer=customer, on=on, by=some_user(), now=at or NOW, buyer=buyer, **how
    )


def bottled(site, place=Sample.Place.RAW, *, at=NOW, by=None, kind="bacteria", **fields):
    """A bottle is filled and sent; no oxidant in the water unless told."""
    fields.setdefault("residual_free", True)
    by = by or some_user()
    sample = Sample(site=site, kind=kind, place=place, taken_at=at, taken_by=by, **fields)
    return send_sample(sample=sample, by=by, now=at)


def answered(sample, outcome="negative", *, at=None, hours=20, accredited=True, by=None, **more):
    """The laboratory had it after so many hours and answers two days after it was filled."""
    at = at or sample.taken_at + timedelta(days=2)
    received = sample.taken_at + timedelta(hours=hours) if hours is not None else None
    result = Result(outcome, company_day(at), received, accredited, **more)
    return enter_result(sample=sample, result=result, by=by or some_user(), now=at)


def sampled(site, place=Sample.Place.RAW, outcome="negative", *, at=NOW, **bottle):
    """A bottle and its result."""
    return answered(bottled(site, place, at=at, **bottle), outcome)


def cleared(site, *, after=NOW, rounds=2, apart=3, well=None):
    """As many rounds at raw tap and kitchen as lift "do not drink"; the moment of the last."""
    at = after
    for _ in range(rounds):
        at += timedelta(days=apart)
        for place in (Sample.Place.RAW, Sample.Place.KITCHEN):
            sampled(site, place, at=at, well=well or Well.objects.only_one_at(site))
    return at + timedelta(days=2)


def here(whom):
    """An adult at the door who said back what was told."""
    return Adult(whom, "door", read_back=True)


def poured(record, by, *, at=NOW, whom="C. Prudhomme"):
    """All told at every house on the well, and the chlorine goes in."""
    told = {site.pk: here(whom) for site in houses_of(record)}
    return all_told(record=record, told=told, by=by, now=at)


def lifted(notice, by, *, at=NOW, high=0.0, cold=0.1, hot=0.1):
    """Lifted on readings at the taps."""
    return lift_notice(notice=notice, reading=OutOfPipes(high, cold, hot), by=by, now=at)
