"""Answers typed by a limit that the company has changed since: kept, judged by the new one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from django.utils.dateparse import parse_datetime

from jobs.fieldwork.facts import Facts
from jobs.fieldwork.sheet import read_sheet
from jobs.fieldwork.states import FAILED
from jobs.models import Company
from jobs.records.loading import company_facts, load_facts
from jobs.workflows.acts import Done
from jobs.workflows.answers import Place

from .doing import Doing

Where = tuple[str, int | None, int]
NEW_LIMIT = "It passed by the limit on this phone. The company has changed it since"


def judged_anew(doings: Iterable[tuple[Place, Doing, Done]]) -> None:
    """Says at each answer told later which limit it does not pass any more."""
    kept = [row for row in doings if row[2].refusal is None and row[1].by_phone]
    if not kept:
        return
    doing = kept[0][1]
    former = _figures_known(min(_known_at(row[1]) for row in kept))
    if former is None:
        return
    facts = load_facts(doing.the_record(), now=doing.now)
    now_failed = _failed(facts, doing.now)
    then_failed = _failed(replace(facts, company=former), doing.now)
    for place, _, done in kept:
        where = (place.line_key, place.stage_id, place.tank)
        if where in now_failed and where not in then_failed:
            done.against = f"{NEW_LIMIT}: {now_failed[where]}"


def _known_at(doing: Doing) -> datetime:
    """As of when the phone knew what it judged by."""
    at = doing.at or doing.now
    try:
        said = parse_datetime(doing.kit_made)
    except ValueError:
        return at
    return min(said, at) if said and said.tzinfo else at


def _figures_known(at: datetime) -> dict[str, float] | None:
    """The company's figures then; None where they are the same still.

    Before its first row the company had what that row says: it is made with the figures of the
    start, by whoever asks for them first, and that may be the phone.
    """
    rows = Company.history.order_by("history_date", "history_id")
    if not rows.filter(history_date__gt=at).exists():
        return None
    row = rows.filter(history_date__lte=at).last() or rows.first()
    return company_facts(row.instance)


def _failed(facts: Facts, now: datetime) -> dict[Where, str]:
    """Sentence by place of what must pass and does not."""
    found = {}
    for item in read_sheet(facts, now=now).items:
        if item.state == FAILED:
            stage = item.stage
            where = (item.line.key, stage.pk if stage else None, stage.tank if stage else 0)
            found[where] = item.sentence
    return found
