"""Many invented rows, written in bulk past the workflows: a database of some years."""

from datetime import timedelta
from itertools import islice

from django.contrib.auth.models import User
from django.db import connection
from django.db.models import Max, Min

from equipment.models import Measurement, Site, Stage, Train
from equipment.models.sites import street_key
from jobs.models import (
    CallbackFact,
    Customer,
    FollowUp,
    FollowUpRule,
    HandoverFact,
    Job,
    OutboxMail,
    SiteTenure,
    Visit,
)
from jobs.models.company import company_day
from jobs.search.index import rebuild
from jobs.workflows.facts import follow
from tests import carried
from tests.factories import make_rule, make_staff, make_visit

from .copies import blocks, copy_on

CHUNK = 2000
DAYS = 1500
#: promises whose window has begun, whatever the size of the database
DUE = 300
ROADS = ("Old Mill Road", "Heron Lane", "Quarry Street", "Cooper Hollow Road", "Ferry Street")
CAUSES = [Job.Cause.A_LEAK, Job.Cause.B_HIGH, Job.Cause.E_EQUIPMENT, Job.Cause.L_UNKNOWN]


def in_bulk(model, rows):
    rows = iter(rows)
    while chunk := list(islice(rows, CHUNK)):
        model.objects.bulk_create(chunk)


def make_people():
    return [make_staff("technician", last_name=f"Person {n}") for n in range(8)]


def grow(*, now, houses, jobs_each, follow_ups, people):
    """Up to so many houses, jobs and promises in all; what is there stays."""
    _places(houses, now)
    _jobs(houses, jobs_each, people, now)
    _follow_ups(follow_ups, now)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _places(houses, now):
    start, since = Site.objects.count(), company_day(now) - timedelta(days=DAYS)
    numbers = range(start, houses)
    if not numbers:
        return

    def site(n):
        street = f"{n + 1} {ROADS[n % len(ROADS)]}"
        key = street_key(street, "Kestrel Ford")
        return Site(street=street, town="Kestrel Ford", address_key=key)

    in_bulk(Site, (site(n) for n in numbers))
    in_bulk(
        Customer,
        (
            Customer(
                name=f"Household {n}",
                phone=f"+1518555{100 + n % 100:04d}",
                phone_digits=f"1518555{100 + n % 100:04d}",
                email=f"house{n}@example.com",
            )
            for n in numbers
        ),
    )
    sites = list(Site.objects.order_by("pk").values_list("pk", flat=True))[start:]
    holders = list(Customer.objects.order_by("pk").values_list("pk", flat=True))[-len(sites) :]
    in_bulk(
        SiteTenure,
        (
            SiteTenure(site_id=s, customer_id=c, from_on=since)
            for s, c in zip(sites, holders, strict=True)
        ),
    )
    in_bulk(Train, (Train(site_id=pk) for pk in sites))
    trains = list(Train.objects.filter(site__gte=sites[0]).values_list("pk", flat=True))
    in_bulk(
        Stage,
        (
            Stage(train_id=pk, position=1, kind=kind, fitted_on=since)
            for n, pk in enumerate(trains)
            for kind in [Stage.Kind.FEEDER if n % 3 else Stage.Kind.FILTER]
        ),
    )
    writer = User.objects.first()
    in_bulk(
        Measurement,
        (
            Measurement(
                site_id=pk,
                quantity_key="sulfide",
                place="raw",
                value=n % 6,
                entered="1",
                origin=Measurement.Origin.MEASURED,
                measured_at=now - timedelta(days=DAYS),
                recorded_at=now,
                recorded_by=writer,
            )
            for n, pk in enumerate(sites)
        ),
    )
    rebuild()


def _jobs(houses, each, people, now):
    """`each` jobs for every house that has none yet, and a callback after one in twenty."""
    idle = Train.objects.exclude(pk__in=Job.objects.exclude(train=None).values("train"))
    for places, copies in blocks(list(idle.order_by("pk").values_list("pk", "site")[:houses])):
        if places:
            copy_on(*_jobs_at(places, each, people, now), copies)


def _jobs_at(places, each, people, now):
    """The first and the last of them."""
    today, writer = company_day(now), User.objects.first()
    last = Job.objects.order_by("-pk").values_list("pk", flat=True).first() or 0

    def job(train, site, n):
        days = (train * 37 + n * 149) % DAYS
        day, at = today - timedelta(days=days), now - timedelta(days=days)
        return Job(
            site_id=site,
            train_id=train,
            kind=Job.Kind.SERVICE if n else Job.Kind.STARTUP,
            status=Job.Status.COMPLETED,
            reported_on=day,
            opened_at=at,
            completed_at=at,
            opened_by=writer,
            index_on=day,
            installer=people[(train + n) % len(people)],
            callback_answer=Job.CallbackAnswer.NO,
        )

    def callback(pk, train, site, day):
        return Job(
            site_id=site,
            train_id=train,
            kind=Job.Kind.CALLBACK,
            status=Job.Status.COMPLETED,
            reported_on=day + timedelta(days=pk % 80),
            opened_at=now,
            completed_at=now,
            opened_by=writer,
            origin_id=pk,
            callback_answer=Job.CallbackAnswer.YES,
            cause=CAUSES[pk % len(CAUSES)],
        )

    in_bulk(Job, (job(train, site, n) for train, site in places for n in range(each)))
    fresh = Job.objects.filter(pk__gt=last).order_by("pk")
    origins = list(fresh.values_list("pk", "train", "site", "index_on")[::20])
    in_bulk(Job, (callback(*origin) for origin in origins))
    _facts(Job.objects.filter(pk__gt=last).order_by("pk").select_related("train"))
    ends = Job.objects.filter(pk__gt=last).aggregate(Min("pk"), Max("pk"))
    return ends["pk__min"], ends["pk__max"]


def _facts(jobs):
    """As the acts behind these jobs would have frozen them; parts and readings are all alike."""
    kinds = {"feeder": "feeder", "filter": "filter"}
    of_train = dict(Stage.objects.values_list("train", "kind"))
    raw = Measurement.objects.filter(quantity_key="sulfide", place="raw")
    sulfide = {site: (pk, value) for site, pk, value in raw.values_list("site", "pk", "value")}

    def work(job):
        reading, value = sulfide[job.site_id]
        return {
            "kind": kinds[of_train[job.train_id]],
            "water": "sulfide" if value > 3 else "usual",
            "sulfide": value,
            "sulfide_reading_id": reading,
        }

    done = (job for job in jobs.iterator(chunk_size=CHUNK) if carried.was_handed_over(job))
    in_bulk(HandoverFact, (carried.handover(job, work(job)) for job in done))
    told = (job for job in jobs.iterator(chunk_size=CHUNK) if carried.was_reported(job))
    in_bulk(CallbackFact, (carried.report(job) for job in told))
    pks = iter(list(jobs.values_list("pk", flat=True)))
    while chunk := set(islice(pks, CHUNK)):
        follow(chunk)


def _follow_ups(wanted, now):
    """The first DUE are due by today; the others lie ahead; a third of all are done."""
    rules = [make_rule(f"b{harm}", harm=harm).versions.get() for harm in FollowUpRule.Harm.values]
    start, today = FollowUp.objects.count(), company_day(now)
    trains = list(Train.objects.values_list("pk", "site"))

    def follow_up(n):
        train, site = trains[n % len(trains)]
        done = n % 3 == 0
        due = today + timedelta(days=-(n % 20) if n < DUE else 12 + n % 700)
        return FollowUp(
            rule=rules[n % len(rules)].rule,
            terms=rules[n % len(rules)],
            site_id=site,
            train_id=train,
            subject_key=f"train:{train}",
            cycle=n + 1,
            due_on=due,
            first_due_on=due,
            window_from=due - timedelta(days=7),
            window_until=due + timedelta(days=7),
            reason="set at the start-up",
            made_at=now,
            status=FollowUp.Status.DONE if done else FollowUp.Status.OPEN,
            ended_at=now if done else None,
        )

    in_bulk(FollowUp, (follow_up(n) for n in range(start, wanted)))


def make_mails(count, now):
    customer = Customer.objects.first()
    in_bulk(
        OutboxMail,
        (
            OutboxMail(
                key=f"bench:{n}",
                mail_class=OutboxMail.MailClass.CUSTOMER,
                customer=customer,
                recipient="a@example.com",
                template="visit_reminder",
                subject="A visit",
                state=OutboxMail.State.SENT,
                sent_at=now,
                created_at=now,
                not_before=now,
                useful_until=now,
            )
            for n in range(OutboxMail.objects.count(), count)
        ),
    )


def make_visits(count, people, now):
    """So many visits from now on in all, an hour each, by turns."""
    there = Visit.objects.filter(lead__in=people).count()
    jobs = Job.objects.filter(callback_answer=Job.CallbackAnswer.NO).order_by("pk")[there:count]
    first = now.replace(minute=0, second=0, microsecond=0)
    for n, job in enumerate(jobs, there):
        lead, at = people[n % len(people)], first + timedelta(hours=n // len(people))
        make_visit(job=job, lead=lead, starts_at=at, now=now)
