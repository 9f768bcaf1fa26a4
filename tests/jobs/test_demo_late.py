"""The demo's technician who is held up, on the day page, at whatever hour the demo is made."""

from datetime import UTC, datetime
from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command

from jobs.demo import loading
from jobs.models import Visit
from tests.conftest import signed_in

pytestmark = pytest.mark.django_db
#: hours that eastern daylight time is behind
EASTERN_H = 4
HOUSES = ("thistlecombe", "copperfen", "hobbinstone")


@pytest.fixture
def made(monkeypatch, clock):
    """made(hour, minute): the demo of these houses, whose story is today's alone."""
    whole = loading.read

    def cut(name):
        told = whole(name)
        houses = {key: told["houses"][key] for key in HOUSES}
        for house in houses.values():
            late = [act for act in house["story"] if act["do"] == "runs_late"]
            house["story"] = [{"day": -390, "do": "take_over", "fitted": -400}, *late]
        return told | {"houses": houses, "owner_acts": []}

    monkeypatch.setattr(loading, "read", cut)
    for command in ("load_catalog", "load_rules", "load_checklists"):
        call_command(command, stdout=StringIO())

    def at(hour, minute=0):
        now = datetime(2026, 6, 10, hour + EASTERN_H, minute, tzinfo=UTC)
        clock(now)
        call_command("load_demo", "--now", now.isoformat(), stdout=StringIO())
        return now

    return at


def day_page():
    page = signed_in(User.objects.get(username="marit")).get("/day/")
    return page, " ".join(page.content.decode().split())


@pytest.mark.parametrize(("hour", "minute"), [(8, 0), (8, 14), (11, 59), (13, 30), (18, 29)])
def test_the_day_says_who_must_be_called_behind_who_is_held_up(made, hour, minute):
    made(hour, minute)
    page, text = day_page()
    stuck, *behind = Visit.objects.order_by("starts_at")
    assert stuck.status == Visit.Status.ON_SITE
    reasons = {reason.code: reason.rows for reason in page.context["reasons"]}
    assert [row.visit for row in reasons["call"]] == behind
    assert [row.contact.name for row in reasons["call"]] == [
        told.tellings.get().whom for told in behind
    ]
    assert "Basil Harrowby-Finch is still at" in text
    assert f"/day/late/{stuck.lead_id}/" in text


@pytest.mark.parametrize("hour", [5, 19])
def test_before_and_after_work_nobody_is_late(made, hour):
    now = made(hour)
    page, _ = day_page()
    assert "call" not in {reason.code for reason in page.context["reasons"]}
    visits = Visit.objects.all()
    assert visits.count() == len(HOUSES)
    assert {visit.status for visit in visits} == {"confirmed" if hour == 5 else "closed"}
    assert not visits.filter(arrived_at__gt=now).exists()
