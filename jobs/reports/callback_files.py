"""The callback report as tables for a spreadsheet, with the rules it was counted by."""

from __future__ import annotations

from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import GROUPS, Interval, Person, Report
from jobs.reports.job_list import JobLine, Narrowed, lines, rows_for
from jobs.reports.tables import Table, Value, as_csv, as_xlsx, table

PEOPLE = (
    "Lead installer",
    "Jobs of the period",
    "Judgeable",
    "Too recent",
    "Customer left",
    "System removed",
    "Water off",
    "Callbacks",
    "Workmanship",
    "Cause not known",
    "Excluded by rule",
    "Excluded, by cause",
    "Rate",
    "95 % from",
    "95 % to",
    "Workmanship rate",
    "Workmanship 95 % from",
    "Workmanship 95 % to",
    "Expected",
    "Observed/expected",
    "O/E 95 % from",
    "O/E 95 % to",
    "Defects at planned rechecks",
    "Callbacks of too recent jobs",
    "Callbacks with repeats",
)
JOBS = (
    "Job",
    "Handed over",
    "Street",
    "Town",
    "Kind of job",
    "Lead installer",
    "Helpers",
    "State",
    "System",
    "Raw water",
    "Callback reported",
    "Days after",
    "Cause",
    "Group",
    "Workmanship",
    "Defect at a recheck",
    "What the customer said",
)


def rules(selection: Selection) -> tuple[tuple[str, str], ...]:
    """The definitions, as they stand on the page."""
    window = selection.window_days
    return (
        ("Period", f"handed over {selection.since.isoformat()} to {selection.until.isoformat()}"),
        ("Looked at on", selection.today.isoformat()),
        (
            "A job",
            "start-up, new media, repair or service on one system, counted for its lead installer "
            "from the day treated water was handed to the house; systems taken over from others "
            "are left out, and so are callbacks themselves",
        ),
        (
            "A callback",
            f"an unplanned return to the same system, first reported by the customer within "
            f"{window} days of that day; a job counts once, its first callback decides",
        ),
        (
            "Judgeable",
            f"handed over at least {window} days ago, the customer still there and the system "
            f"still in place at the end of the {window} days",
        ),
        (
            "Workmanship",
            "causes of the groups workmanship and setting; an oxidant setting is the office's "
            "when its recheck was overdue at the report",
        ),
        (
            "Cause not known",
            "nobody could name the cause, or nobody has entered it yet: beside the rate, never "
            "excluded",
        ),
        ("Rate", "callbacks by judgeable jobs, Wilson limits; none below 10 judgeable jobs"),
        (
            "Expected",
            "judgeable jobs of each kind of system and raw water, times the company's rate for "
            "that kind; exact Poisson limits, none below 1 expected",
        ),
        *((f"Cause: {group.name}", group.why) for group in GROUPS.values()),
    )


def of_people(report: Report, above: str) -> list[Table]:
    """`above` stands in the first row: no figure of a person leaves without it."""
    rows = [_person(person) for person in report.people]
    return [
        table("People", PEOPLE, rows, above=above),
        table("Rules", ("Word", "What it means here"), rules(report.selection)),
    ]


def of_jobs(selection: Selection, asked: Narrowed, above: str) -> list[Table]:
    rows = [_job(line) for line in lines(rows_for(selection, asked))]
    return [
        table("Jobs", JOBS, rows, above=above),
        table("Rules", ("Word", "What it means here"), rules(selection)),
    ]


def written(tables: list[Table], kind: str) -> bytes:
    """A CSV holds the first table only."""
    return as_csv(tables[0]) if kind == "csv" else as_xlsx(tables)


def _person(person: Person) -> tuple[Value, ...]:
    counts = person.counts
    reasons = "; ".join(f"{GROUPS[group].name} {jobs}" for group, jobs in person.excluded)
    return (
        person.name,
        counts.jobs,
        counts.judgeable,
        counts.recent,
        counts.left,
        counts.removed,
        counts.off,
        counts.callbacks,
        counts.workmanship,
        counts.unknown,
        counts.excluded,
        reasons,
        *_three(counts.rate),
        *_three(counts.workmanship_rate),
        round(person.expected, 2),
        *_three(person.ratio),
        counts.defects,
        counts.outside,
        person.returns,
    )


def _three(interval: Interval | None) -> tuple[float | None, float | None, float | None]:
    if interval is None:
        return None, None, None
    return round(interval.value, 4), round(interval.low, 4), round(interval.high, 4)


def _job(line: JobLine) -> tuple[Value, ...]:
    job, callback = line.job, line.callback
    return (
        job.pk,
        job.index_on,
        job.site.street,
        job.site.town,
        job.get_kind_display(),
        line.installer,
        "; ".join(f"{name} ({did})" for name, did in line.helpers),
        line.state,
        line.system,
        line.water,
        callback.reported_on if callback else None,
        line.days_after,
        line.cause,
        line.group,
        line.counts if callback else None,
        line.defect,
        callback.symptom if callback else "",
    )
