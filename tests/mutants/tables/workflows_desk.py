"""Faults of what the pages of the desk read together."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/schedule/company_tables.py",
        "licences left_without_licence hours_and_licences two_stages driving time_of_people",
        ("Skill.objects.in_use().exclude(person=None)", "Skill.objects.exclude(person=None)"),
    ),
    *in_file(
        "jobs/models/visits.py",
        "requests",
        ("condition=Q(requests__handled_at=None)", "condition=Q(requests__pk__gt=0)"),
        ('"pk", "asked_at", "request"', '"pk", "-asked_at", "-request"'),
    ),
    *in_file(
        "jobs/pages/asked.py",
        "requests",
        ("asked.setdefault(row.pk, []).append(request)", "asked[row.pk] = [request]"),
    ),
    *in_file(
        "jobs/pages/visit.py",
        "visit_told to_go_on two_stages requests",
        ("if row.handled_at is None]", "]"),
    ),
]
