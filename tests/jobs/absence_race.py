"""Two processes about one technician: one books each hour, the other says they are away in it."""

from datetime import timedelta


def opened(database):
    import django
    from django.conf import settings

    settings.DATABASES["default"].update(database)
    django.setup()
    from django.contrib.auth.models import User

    return (User.objects.get(username=f"the-{role}") for role in ("technician", "dispatcher"))


def book_all(database, starts, barrier, results):
    """In a process of its own: which of the hours could be booked."""
    lead, by = opened(database)
    from django.db import connection

    from jobs.errors import BadEntry
    from jobs.models import Job
    from jobs.workflows.visits import Held, book_visit

    job, won = Job.objects.get(), []
    for start in starts:
        barrier.wait(60)
        try:
            held = Held(lead, start, start + timedelta(hours=1))
            book_visit(job=job, held=held, by=by, now=start)
            won.append(True)
        except BadEntry:
            won.append(False)
    results.put(won)
    connection.close()


def away_all(database, starts, barrier, results):
    """In a process of its own: away in each of the hours."""
    lead, by = opened(database)
    from django.db import connection
    from django.utils import timezone

    from jobs.workflows.absences import Away, enter_absence

    for start in starts:
        local = timezone.localtime(start)
        until = local + timedelta(hours=1)
        away = Away("ill", local.date(), until.date(), local.time(), until.time())
        barrier.wait(60)
        enter_absence(person=lead, away=away, by=by, now=start)
    results.put([])
    connection.close()
