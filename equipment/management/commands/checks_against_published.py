"""Print how far every calculation is from the published values it is checked against.

One line for each name: rows checked, sources, worst relative deviation and where, and what was
left out and why. Exit status 1 if a row misses its tolerance.
"""

from __future__ import annotations

from collections import defaultdict
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from equipment.engineering import registry
from equipment.published import Answered, Published, other_tables, published_rows, table_rows

#: arithmetic done elsewhere shows that sums are right, not that the method is
NO_EVIDENCE = "DERIVED"
HEAD = ("name", "rows", "of them arithmetic", "sources", "worst deviation", "allowed", "row")


class Command(BaseCommand):
    help = __doc__
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def handle(self, *args: Any, **options: Any) -> None:
        by_name: dict[str, list[tuple[Published, Answered]]] = defaultdict(list)
        failed = []
        for row in published_rows():
            value = row.answered()
            by_name[row.calculation].append((row, value))
            if not row.agrees(value):
                failed.append(f"{row}: published {row.published} {row.unit}, ours {value}")
        for line in in_columns([HEAD, *(line_of(n, by_name[n]) for n in sorted(registry.load()))]):
            self.stdout.write(line)
        self.stdout.write(f"\n{total_line(by_name)}\n")
        for name, count in other_tables().items():
            if name != "left_out":
                self.stdout.write(f"{name}: {count} rows with a test of their own")
        self.stdout.write("\nLeft out, because the source is wrong:")
        for out in table_rows("left_out"):
            printed = f"{out['published']} {out['unit']}".strip()
            self.stdout.write(
                f"  {out['calculation']}: {out['source']} prints {printed}; {out['why']}"
            )
        if failed:
            raise CommandError("\n".join(["Outside their tolerance:", *failed]), returncode=1)


def line_of(name: str, rows: list[tuple[Published, Answered]]) -> tuple[str, ...]:
    """The cells of one name; a word or a printed nought has no relative deviation."""
    derived = sum(row.mark == NO_EVIDENCE for row, _ in rows)
    sources = {row.source.split(",")[0] for row, _ in rows if row.mark != NO_EVIDENCE}
    counts = (name, str(len(rows)), str(derived), str(len(sources)))
    deviations = [
        (deviation, row.tolerance / abs(float(row.published)), f"{row.table}-{row.id} ({row.mark})")
        for row, value in rows
        if (deviation := row.deviation(value)) is not None
    ]
    if not deviations:
        return (*counts, "", "", "a definition: nothing printed to check it by")
    worst, allowed, where = max(deviations)
    return (*counts, f"{worst:.2%}", f"{allowed:.2%}", where)


def total_line(by_name: dict[str, list[tuple[Published, Answered]]]) -> str:
    rows = [row for pairs in by_name.values() for row, _ in pairs]
    printed = [row for row in rows if row.mark != NO_EVIDENCE]
    return (
        f"{len(rows)} rows, {len(printed)} of them published values from "
        f"{len({row.source for row in printed})} places"
    )


def in_columns(lines: list[tuple[str, ...]]) -> list[str]:
    widths = [max(len(cells[i]) for cells in lines) for i in range(len(lines[0]))]
    return [
        "  ".join(cell.ljust(width) for cell, width in zip(cells, widths, strict=True)).rstrip()
        for cells in lines
    ]
