"""One of two processes that book the same technician at the same moments."""

from datetime import timedelta


def book_all(database, starts, barrier, results):
    """In a process of its own: open the test database and try every time in turn."""
    import django
    from django.conf import settings

    settings.DATABASES["default"].update(database)
    django.setup()
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
