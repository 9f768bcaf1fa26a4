"""One of two processes that book the same technicians at the same moments."""

from datetime import timedelta


def opened(database):
    """In a process of its own: the test database."""
    import django
    from django.conf import settings

    settings.DATABASES["default"].update(database)
    django.setup()


def book_all(database, starts, barrier, results):
    """Try every time in turn."""
    opened(database)
    from django.contrib.auth.models import User
    from django.db import connection

    from jobs.errors import TechnicianBooked
    from jobs.models import Job
    from jobs.workflows.visits import Held, book_visit

    lead = User.objects.get(username="the-technician")
    by = User.objects.get(username="the-dispatcher")
    job = Job.objects.get()
    won = []
    for start in starts:
        barrier.wait(60)
        try:
            held = Held(lead, start, start + timedelta(hours=1))
            book_visit(job=job, held=held, by=by, now=start)
            won.append(True)
        except TechnicianBooked:
            won.append(False)
    results.put(won)
    connection.close()


def book_proposed(database, promises, barrier, results, now):
    """Book each promise at what is proposed first; where that went meanwhile, at what is then."""
    opened(database)
    from django.contrib.auth.models import User
    from django.db import connection

    from jobs.errors import TechnicianBooked
    from jobs.models import FollowUp
    from jobs.pages.openings import of_promise
    from jobs.schedule.free_times import technicians
    from jobs.workflows.follow_up_booking import book_from
    from jobs.workflows.held import Held

    by, people, refused = User.objects.get(username="the-dispatcher"), technicians(), 0
    for pk in promises:
        promise = FollowUp.objects.with_site().get(pk=pk)
        found = of_promise(promise, people, now)
        barrier.wait(60)
        while found:
            first = found[0]
            held = Held(first.person, first.starts_at, first.ends_at, first.helper)
            try:
                book_from(follow_up=promise, held=held, by=by, now=now)
                break
            except TechnicianBooked:
                refused += 1
                found = of_promise(promise, people, now)
    results.put(refused)
    connection.close()
