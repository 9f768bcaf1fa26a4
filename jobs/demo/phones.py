"""What a phone tells once it has signal again, when it is heard of, and one that was lost."""

from __future__ import annotations

import json
from datetime import timedelta
from uuid import NAMESPACE_URL, uuid5

from jobs.acts import door
from jobs.models import ChecklistRecord, Phone
from jobs.workflows import phones

from .cast import House, Told, World

#: after the record was opened, until it is typed on the phone
TYPED_AFTER = timedelta(minutes=5)


def phone(world: World, house: House, act: Told) -> None:
    """An answer of the newest record; closed or changed meanwhile, it waits for somebody."""
    records = ChecklistRecord.objects.filter(job__site=house.site).order_by("opened_at")
    record = records.select_related("opened_by").last()
    assert record
    visit = record.job.visits.filter(lead=record.opened_by).order_by("starts_at").last()
    assert visit
    typed_at = record.opened_at + TYPED_AFTER
    told = {
        "uuid": str(uuid5(NAMESPACE_URL, f"{record.uuid}/{act['line']}")),
        "act": 1,
        "user": record.opened_by_id,
        "kind": "answer",
        "record": str(record.uuid),
        "visit": visit.pk,
        "at": typed_at.isoformat(),
        "payload": {"line": act["line"], "text": act["text"], "unit": "", "version": 0},
    }
    now = min(world.now, (record.closed_at or world.now) + timedelta(hours=1))
    door.answer_to(door.read(json.dumps(told)), by=record.opened_by, now=now)


def phone_heard(world: World, act: Told) -> None:
    """It says hello in the morning, with so many entries that wait."""
    number = uuid5(NAMESPACE_URL, f"demo-phone-{act['who']}-{act['day']}")
    heard_at = world.calendar.moment(act["day"], 7.5)
    phones.heard(
        number=number, user=world.people[act["who"]], waiting=act.get("waiting", 0), now=heard_at
    )
    if act.get("lost"):
        row = Phone.objects.get(number=number)
        phones.phone_lost(phone=row, by=world.office, now=heard_at + timedelta(hours=9))
