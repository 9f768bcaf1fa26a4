"""Finding due work, and the callback report against the same numbers by hand-written SQL."""

from datetime import timedelta

from django.db import connection
from django.utils import timezone

from jobs.models import FollowUp, Job
from jobs.models.company import company_day
from jobs.reports.callback_jobs import Selection, cells
from jobs.reports.callbacks import callback_report

from . import rows
from .clock import head, line, median_seconds, side_by_side

#: the same cells as the report, straight from the facts, by a person who knows both databases
BY_HAND = """
WITH looked AS (
    SELECT fact.job_id AS job, fact.installer_id, fact.day, fact.kind, fact.water,
        fact.site_id, fact.train_id
    FROM jobs_handoverfact fact
    WHERE fact.day BETWEEN %(since)s AND %(until)s AND NOT fact.is_inherited
      AND NOT EXISTS (SELECT 1 FROM jobs_handoverfact newer WHERE newer.corrects_id = fact.id)
      AND NOT EXISTS (
          SELECT 1 FROM jobs_callbackfact own WHERE own.job_id = fact.job_id AND own.answer = 'yes'
            AND NOT EXISTS (SELECT 1 FROM jobs_callbackfact newer WHERE newer.corrects_id = own.id))
), back AS (
    SELECT looked.job, again.cause, again.recheck_overdue, again.reported_on, ROW_NUMBER() OVER (
        PARTITION BY looked.job ORDER BY again.reported_on, again.job_id) AS place
    FROM jobs_callbackfact again JOIN looked ON looked.job = again.origin_id
    WHERE again.answer = 'yes' AND {reported} BETWEEN 0 AND %(window)s
      AND NOT EXISTS (SELECT 1 FROM jobs_callbackfact newer WHERE newer.corrects_id = again.id)
), gone AS (
    SELECT looked.job, MIN(loss.day) AS day
    FROM jobs_lossfact loss JOIN looked
      ON (loss.train_id = looked.train_id AND loss.day >= looked.day)
      OR (loss.site_id = looked.site_id AND loss.day > looked.day)
    WHERE loss.how <> 'stands' AND {lost} <= %(window)s
      AND NOT EXISTS (SELECT 1 FROM jobs_lossfact newer WHERE newer.corrects_id = loss.id)
    GROUP BY looked.job
), cells AS (
    SELECT looked.installer_id,
        CASE WHEN gone.day IS NOT NULL AND (back.job IS NULL OR back.reported_on > gone.day)
             THEN 'lost' WHEN looked.day > %(judged)s THEN 'recent' ELSE 'judgeable' END AS state,
        looked.kind, looked.water,
        CASE WHEN back.job IS NULL OR back.reported_on > gone.day THEN NULL
             WHEN back.cause = '' THEN 'not_coded'
             WHEN back.recheck_overdue AND back.cause IN ('B_high', 'B_low') THEN 'R_missed'
             ELSE back.cause END AS cause
    FROM looked LEFT JOIN back ON back.job = looked.job AND back.place = 1
    LEFT JOIN gone ON gone.job = looked.job
)
SELECT installer_id, state, kind, water, cause, COUNT(*) FROM cells GROUP BY 1, 2, 3, 4, 5
"""
DAYS = {
    "sqlite": "CAST(julianday({0}) - julianday(looked.day) AS INTEGER)",
    "postgresql": "({0} - looked.day)",
}
#: touches every row of the narrow table, which a bare count does not
SCAN = "SELECT COUNT(*), SUM(ended), SUM(how) FROM follow"


def by_hand_sql():
    days = DAYS[connection.vendor]
    return BY_HAND.format(reported=days.format("again.reported_on"), lost=days.format("loss.day"))


def show(asked):
    now = timezone.now()
    people = rows.make_people() if not Job.objects.exists() else people_so_far()
    rows.grow(
        now=now,
        houses=asked.customers,
        jobs_each=asked.jobs_each,
        follow_ups=asked.follow_ups,
        people=people,
    )
    due_work(company_day(now))
    report(company_day(now))


def people_so_far():
    from django.contrib.auth.models import User

    return list(User.objects.filter(last_name__startswith="Person ").order_by("pk"))


def due_work(day):
    head(f"Finding due work among {FollowUp.objects.count()} promises")
    due = FollowUp.objects.due_by(day)
    asked = {
        "whether anything is due": lambda: due.order_by().exists(),
        "which are due": lambda: list(due.order_by().values_list("pk", flat=True)),
        "the first 50 to act on, with what a list shows": lambda: list(due.with_site()[:50]),
    }
    for what, call in asked.items():
        line(what, f"{1000 * median_seconds(call, 15):.1f} ms", "< 50 ms")
    print(f"{due.count()} are due; how the database finds them:")
    for row in due.order_by().values("pk").explain().splitlines():
        print(f"    {row}")


def report(day):
    head(f"Callback report over {Job.objects.count()} jobs")
    selection = Selection(
        since=day - timedelta(days=rows.DAYS), until=day, window_days=90, today=day
    )
    ours, by_hand = side_by_side(
        lambda: callback_report(selection), lambda: counted_by_hand(selection), 3
    )
    line("the same counts by hand-written SQL", f"{1000 * by_hand:.0f} ms")
    line("the whole report", f"{1000 * ours:.0f} ms", "< 1000 ms")
    line("ratio", f"{ours / by_hand:.2f}", "<= 1.5")
    asked, scan = side_by_side(lambda: cells(selection), scanned, 5)
    line("a count that touches every row", f"{1000 * scan:.0f} ms")
    line("the questions of the page", f"{1000 * asked:.0f} ms")
    line("ratio", f"{asked / scan:.2f}", "<= 4")
    total = callback_report(selection).total
    found = counted_by_hand(selection)
    judged = sum(cell[-1] for cell in found if cell[1] == "judgeable")
    callbacks = sum(cell[-1] for cell in found if cell[1] == "judgeable" and cell[4])
    print(
        f"report: {total.judgeable} judgeable jobs, {total.callbacks} callbacks; "
        f"by hand: {judged}, {callbacks}"
    )


def scanned():
    with connection.cursor() as cursor:
        cursor.execute(SCAN)
        return cursor.fetchall()


def counted_by_hand(selection):
    values = {
        "since": selection.since,
        "until": selection.until,
        "window": selection.window_days,
        "judged": selection.judged_until,
    }
    with connection.cursor() as cursor:
        cursor.execute(by_hand_sql(), values)
        return cursor.fetchall()
