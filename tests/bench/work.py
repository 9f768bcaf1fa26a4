"""Finding due work, and the callback report against the same numbers by hand-written SQL."""

from datetime import timedelta

from django.db import connection
from django.utils import timezone

from jobs.models import FollowUp, Job
from jobs.models.company import company_day
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report
from jobs.reports.water_classes import class_sql

from . import rows
from .clock import head, line, median_seconds, side_by_side

#: the same cells as the report, by a person who knows both databases: every rare thing (callbacks,
#: ended tenures, defects) is gathered once and joined
BY_HAND = """
WITH looked AS (
    SELECT job.id, job.installer_id, job.index_on, job.train_id, job.site_id, train.removed_on
    FROM jobs_job job JOIN equipment_train train ON train.id = job.train_id
    WHERE NOT train.is_inherited AND job.index_on BETWEEN %(since)s AND %(until)s
      AND job.kind IN ('startup', 'rebed', 'repair', 'service') AND job.status <> 'cancelled'
      AND job.callback_answer <> 'yes' AND job.installer_id IS NOT NULL
), back AS (
    SELECT looked.id, again.cause, again.recheck_missed, ROW_NUMBER() OVER (
        PARTITION BY looked.id ORDER BY again.reported_on, again.id) AS place
    FROM jobs_job again JOIN looked ON looked.id = again.origin_id
    WHERE again.callback_answer = 'yes' AND NOT again.planned AND again.status <> 'cancelled'
      AND {reported} BETWEEN 0 AND %(window)s
), gone AS (
    SELECT DISTINCT looked.id FROM jobs_sitetenure held JOIN looked ON looked.site_id = held.site_id
    WHERE held.is_contact AND held.until_on <= %(today)s AND held.from_on <= looked.index_on
      AND held.until_on > looked.index_on AND {ended} <= %(window)s
), bad AS (
    SELECT DISTINCT looked.id FROM jobs_job again JOIN looked ON looked.train_id = again.train_id
    WHERE again.defect_found AND (again.planned OR again.kind IN ('recheck', 'interval'))
      AND again.callback_answer <> 'yes' AND again.id <> looked.id
      AND {completed} BETWEEN 0 AND %(window)s
), cells AS (
    SELECT looked.installer_id,
        CASE WHEN looked.removed_on <= %(today)s AND {removed} <= %(window)s THEN 'removed'
             WHEN gone.id IS NOT NULL THEN 'left'
             WHEN looked.index_on > %(judged)s THEN 'recent' ELSE 'judgeable' END AS state,
        CASE WHEN {fitted} AND stage.kind = 'feeder') THEN 'feeder'
             WHEN {fitted} AND stage.kind IN ('filter', 'neutralizer', 'aeration')) THEN 'filter'
             ELSE 'other' END AS kind,
        {sulfide} AS sulfide, {ph} AS ph,
        CASE WHEN back.id IS NULL THEN NULL WHEN back.cause = '' THEN 'not_coded'
             WHEN back.recheck_missed AND back.cause IN ('B_high', 'B_low') THEN 'R_missed'
             ELSE back.cause END AS cause,
        bad.id IS NOT NULL AS defect
    FROM looked LEFT JOIN back ON back.id = looked.id AND back.place = 1
    LEFT JOIN gone ON gone.id = looked.id LEFT JOIN bad ON bad.id = looked.id
)
SELECT installer_id, state, kind,
    {water} AS water,
    cause, defect, COUNT(*)
FROM cells GROUP BY 1, 2, 3, 4, 5, 6
"""
FITTED = """EXISTS (SELECT 1 FROM equipment_stage stage WHERE stage.train_id = looked.train_id
    AND stage.fitted_on <= looked.index_on
    AND (stage.removed_on IS NULL OR stage.removed_on > looked.index_on)"""
RAW = """(SELECT CASE WHEN reading.comparator = '<' AND reading.quantity_key = 'sulfide' THEN 0
        ELSE reading.value END FROM equipment_measurement reading
    WHERE reading.site_id = looked.site_id AND reading.quantity_key = '{key}'
      AND reading.place = 'raw' AND reading.value IS NOT NULL AND reading.measured_at < {until}
      AND NOT EXISTS (
          SELECT 1 FROM equipment_measurement newer WHERE newer.corrects_id = reading.id)
    ORDER BY reading.measured_at DESC, reading.id DESC LIMIT 1)"""
DAYS = {
    "sqlite": "CAST(julianday({0}) - julianday(looked.index_on) AS INTEGER)",
    "postgresql": "({0} - looked.index_on)",
}
UNTIL = {
    "sqlite": "datetime(looked.index_on, '+2 day')",
    "postgresql": "((looked.index_on + 2)::timestamp AT TIME ZONE 'UTC')",
}


def by_hand_sql():
    days, until = DAYS[connection.vendor], UNTIL[connection.vendor]
    parts = {
        "reported": "again.reported_on",
        "ended": "held.until_on",
        "removed": "looked.removed_on",
        "completed": "CAST(again.completed_at AS date)",
    }
    if connection.vendor == "sqlite":
        parts["completed"] = "date(again.completed_at)"
    return BY_HAND.format(
        **{name: days.format(day) for name, day in parts.items()},
        fitted=FITTED,
        water=class_sql(),
        sulfide=RAW.format(key="sulfide", until=until),
        ph=RAW.format(key="ph", until=until),
    )


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
    line("the whole report", f"{1000 * ours:.0f} ms")
    line("ratio", f"{ours / by_hand:.2f}", "<= 1.5")
    total = callback_report(selection).total
    cells = counted_by_hand(selection)
    judged = sum(cell[-1] for cell in cells if cell[1] == "judgeable")
    callbacks = sum(cell[-1] for cell in cells if cell[1] == "judgeable" and cell[4])
    print(
        f"report: {total.judgeable} judgeable jobs, {total.callbacks} callbacks; "
        f"by hand: {judged}, {callbacks}"
    )


def counted_by_hand(selection):
    values = {
        "since": selection.since,
        "until": selection.until,
        "window": selection.window_days,
        "today": selection.today,
        "judged": selection.judged_until,
    }
    with connection.cursor() as cursor:
        cursor.execute(by_hand_sql(), values)
        return cursor.fetchall()
