"""Faults of records between rows and paper."""

from tests.mutants.faults import in_file

FAULTS = [
    *in_file(
        "jobs/records/loading.py",
        "on_file recheck panels checklists",
        ("until=until", "until=now"),
        ("record.closed_at or now", "now"),
        ("wells=wells, until", "wells=[], until"),
        ("any(well.head_in_pit for well", "all(well.head_in_pit for well"),
        ("row.warning_confirmed_at is not None", "row.warning_confirmed_at is None"),
        ("standing().at_site(record.site)", "standing()"),
        (
            "if record.template.purpose == Purpose.RECHECK else",
            "if record.template.purpose == Purpose.STARTUP else",
        ),
        ("startups.exclude(pk=record.pk)", "startups"),
        ('order_by("-closed_at")', 'order_by("closed_at")'),
        ("stage__removed_on=None", "stage__removed_on__isnull=False"),
        ('order_by("-recorded_at", "-pk")', 'order_by("recorded_at", "pk")'),
        (
            "filter(train=record.train_id, name=PanelName.FEED_SETTING)",
            "filter(name=PanelName.FEED_SETTING)",
        ),
    ),
    *in_file(
        "jobs/records/paper.py",
        "records record_acts printed_figures record_pages",
        ("item.state != OPEN or item.line.required or", "item.state != OPEN or"),
        ("in (OVERRIDDEN, SKIPPED, FAILED)", "in (OVERRIDDEN, SKIPPED)"),
        (
            "deciding.warning and deciding.is_confirmed",
            "deciding.warning and not deciding.is_confirmed",
        ),
        ('"" if counts(step) else "early, not used"', '"early, not used" if counts(step) else ""'),
        ('"kept" if step.is_final', '"kept" if not step.is_final'),
        ('f"above {low:g}" if high is None', 'f"below {low:g}" if high is None'),
        ("if visit.status == Visit.Status.CANCELLED:", "if visit.status == Visit.Status.CLOSED:"),
        ('row.new_text or f"{row.new_value:g}"', 'row.new_text or f"{row.old_value}"'),
        ("zone_of(record.site)", "zone_of(None)"),
        ("alive().filter(site=record.site)", "alive()"),
        ('order_by("due_on", "pk")[:NEXT_SHOWN]', 'order_by("-due_on", "pk")[:NEXT_SHOWN]'),
    ),
]
