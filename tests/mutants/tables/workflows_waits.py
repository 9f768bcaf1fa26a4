"""Faults of who is told of results, of visits that wait, and of the days of the laboratory."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/models/water_told.py",
        "told bacteria",
        ("~Exists(whole), ", ""),
        ("Exists(untold) | nobody", "Exists(untold)"),
        ("Exists(untold) | nobody", "nobody"),
        ("must = SiteTenure.objects.open().told_of_water()", "must = SiteTenure.objects.open()"),
    ),
    *in_file(
        "jobs/workflows/samples.py",
        "told",
        ("if len(people) > 1:", "if False:"),
        ("    if before:\n        return before\n", ""),
    ),
    *in_file(
        "jobs/workflows/waits.py",
        "two_stages",
        ('**{**booked, "status": WAITS}', "**booked"),
        ("    refuse_too_early(row, visit.starts_at)\n", ""),
        ("after.job.site_id != site or", "False or"),
        ("after.starts_at >= visit.starts_at", "after.starts_at > visit.ends_at"),
        ("sample.site_id != site", "False"),
        ("if not visit.is_only_held:", "if False:"),
    ),
    *in_file(
        "jobs/workflows/visits.py",
        "two_stages",
        ("    refuse_while_waiting(visit, now)\n", ""),
        ("    refuse_move(current, held.starts_at)\n", ""),
        ("if status != WAITS:", "if False:"),
        ("    _check_water(visit.job, now=now)\n    visit.status", "    visit.status"),
    ),
    *in_file(
        "jobs/schedule/waiting.py",
        "two_stages",
        ("company_day(starts_at) < first", "company_day(starts_at) <= first"),
        ("company_day(wait.visit.starts_at) < first", "False"),
        ("after.outcome not in DONE", "False"),
        ("after.status == Visit.Status.CANCELLED", "False"),
        ("sample.is_found for sample", "False for sample"),
        ("sample.outcome == Outcome.SPOILED", "False"),
        ("today >= overdue_on", "today > overdue_on"),
        ("<= today + DAY", "<= today"),
        ("waiting.state != State.MET", "False"),
        ("min(each, key=", "max(each, key="),
        ("sample.site_id == after.job.site_id and", "sample.site_id != after.job.site_id and"),
    ),
    *in_file(
        "jobs/schedule/laboratory.py",
        "laboratory",
        ("found = max(there, opens)", "found = there"),
        ("if there <= shuts:", "if there < shuts:"),
        ("if self.shut(day):\n                continue", "if False:\n                continue"),
        ("holiday_on(day, {})", '""'),
        ("minutes=self.company.laboratory_drive_min)", "minutes=0)"),
        ("DAYS_LOOKED_AT = 2", "DAYS_LOOKED_AT = 1"),
    ),
    *in_file(
        "jobs/schedule/openings.py",
        "laboratory two_stages",
        ("if ask.kind in SAMPLING else None", "if False else None"),
        ("    if ask.not_before:\n", "    if False:\n"),
    ),
]
