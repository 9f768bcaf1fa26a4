"""The kit of the day: own visits, what is read at the gate, the open record, and nothing else."""

import gzip
import json
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.fieldwork.facts_json import from_said
from jobs.models import ChecklistRecord, Visit
from jobs.records.loading import load_facts
from jobs.workflows import visits as workflow
from jobs.workflows.records import open_record
from jobs.workflows.visit_closing import Ending, close_visit
from tests.conftest import NOW, signed_in
from tests.factories import make_job, make_notice, make_staff, make_startup_train, make_visit
from tests.jobs.test_on_file import measured
from tests.record_scenes import answer, make_house

#: of one answer, compressed; a budget of our own
MOST_BYTES = 400_000
VISITS = 8
#: of a kit of so many visits, and of each visit more: what only its own forms ask
MOST_QUERIES, MOST_MORE = 150, 13


@pytest.fixture
def house(db, clock):
    record, visit, lead = make_house()
    return record, visit, lead


def kit_of(person):
    given = signed_in(person).get(reverse("field-kit"))
    assert given.status_code == 200
    return given.json()


def row_of(person, visit):
    return next(row for row in kit_of(person)["visits"] if row["visit"] == visit.pk)


def put(site, **fields):
    for name, value in fields.items():
        setattr(site, name, value)
    site.save()


def more_houses(lead, hours):
    """Start-ups more on the same day, so many hours later, each with its record begun."""
    for number in hours:
        train = make_startup_train(injection="before", switching="switch_load")
        job = make_job(train=train)
        make_visit(job=job, lead=lead, starts_at=NOW + timedelta(hours=number))
        open_record(job=job, purpose="startup", by=lead, now=NOW)


def test_it_holds_the_record_as_the_server_reads_it(house):
    record, visit, lead = house
    answer(record, lead, "pump-flow", "8", now=NOW)
    kit = kit_of(lead)
    row = next(row for row in kit["visits"] if row["visit"] == visit.pk)
    said = row["facts"] | {"lines": kit["checklists"][row["checklist"]]}
    assert from_said(said) == load_facts(record, now=NOW)
    assert (kit["user"], kit["by"]["name"], kit["made"]) == (lead.pk, "Tess Alder", NOW.isoformat())


def test_each_house_of_the_day_reads_its_own_files(house):
    """Of two houses on wells of their own, what was read at one is not on file at the other."""
    record, visit, lead = house
    more_houses(lead, [1])
    records = {row.pk: row for row in ChecklistRecord.objects.all()}
    for number, row in enumerate(records.values()):
        well = row.train.wells.get()
        measured(well, "well_yield", str(3 + number), lead, at=NOW)
    kit = kit_of(lead)
    read = {row["facts"]["record"]["pk"]: row for row in kit["visits"]}
    assert len(read) == len(records) == 2
    for pk, row in read.items():
        said = row["facts"] | {"lines": kit["checklists"][row["checklist"]]}
        assert from_said(said) == load_facts(records[pk], now=NOW)


def test_its_pages_are_those_that_the_server_shows(house):
    record, visit, lead = house
    pages = row_of(lead, visit)["pages"]
    blocks = list(dict.fromkeys(record.template.lines.values_list("block", flat=True)))
    shown = [key for key in blocks if reverse("record-block", args=[record.pk, key]) in pages]
    assert len(shown) >= 10
    path = reverse("record-block", args=[record.pk, "raw-water"])
    there = signed_in(lead).get(path).content.decode()
    assert without_token(pages[path]) == without_token(there)
    for name in ("record-detail", "record-close"):
        assert reverse(name, args=[record.pk]) in pages


def without_token(page):
    """Nor the lines between two tags, which a kit makes one."""
    from jobs.views.kit import BETWEEN, TOKEN

    return BETWEEN.sub("\n", TOKEN.sub("", page))


def test_visits_of_others_and_of_later_days_are_not_in_it(house):
    record, visit, lead = house
    other = make_visit(lead=make_staff("technician"), starts_at=NOW)
    later = make_visit(lead=lead, starts_at=NOW + timedelta(days=2))
    tomorrow = make_visit(lead=lead, starts_at=NOW + timedelta(days=1))
    kit = kit_of(lead)
    assert {row["visit"] for row in kit["visits"]} == {visit.pk, tomorrow.pk}
    text = json.dumps(kit)
    for row in (other, later):
        assert row.job.site.street not in text
        assert row.job.customer.name not in text


def test_a_visit_that_was_moved_to_somebody_else_or_cancelled_leaves_it(house, dispatcher):
    record, visit, lead = house
    workflow.cancel_visit(visit=visit, reason="customer away", by=dispatcher, now=NOW)
    assert kit_of(lead)["visits"] == []


def test_it_has_one_telephone_and_no_mail_address(house):
    record, visit, lead = house
    customer = visit.job.customer
    customer.email, customer.phone = "somebody@example.com", "+12015550123"
    customer.save()
    kit = kit_of(lead)
    assert "@example.com" not in json.dumps(kit)
    card = kit["visits"][0]["card"]
    assert card["phone"] == "+12015550123"


def test_it_names_whom_to_call_and_who_has_the_key(house, dispatcher_client):
    """The neighbour was added on the page of the house; no mail address travels along."""
    record, visit, lead = house
    where = reverse("contact-new", args=[visit.job.site_id])
    sent = {"part": "neighbour", "has_key": "on", "from_on": f"{NOW:%Y-%m-%d}", "once": "key"}
    sent |= {"customer-kind": "person", "customer-name": "Milo Reeve"}
    sent |= {"customer-phone": "518-555-0177", "customer-email": "milo@example.com"}
    assert dispatcher_client.post(where, sent).status_code == 302
    row = row_of(lead, visit)
    first, neighbour = row["card"]["contacts"]
    assert (first["part"], first["first"], first["key"]) == ("owner", True, False)
    assert (neighbour["name"], neighbour["part"], neighbour["key"]) == (
        "Milo Reeve",
        "neighbour",
        True,
    )
    assert neighbour["phones"] == [["+15185550177", "(518) 555-0177"]]
    assert "milo@example.com" not in json.dumps(row)
    page = signed_in(lead).get(reverse("visit-detail", args=[visit.pk])).content.decode()
    assert "has a key" in page


def test_the_code_of_the_gate_is_there_today_with_its_hours(house):
    record, visit, lead = house
    put(visit.job.site, gate_code="4072", hazards="dog in the yard")
    tomorrow = make_visit(lead=lead, starts_at=NOW + timedelta(days=1))
    put(tomorrow.job.site, gate_code="9911")
    kit = kit_of(lead)
    cards = {row["visit"]: row["card"] for row in kit["visits"]}
    assert cards[visit.pk]["gate"]["code"] == "4072"
    assert cards[visit.pk]["gate"]["from"] == (visit.starts_at - timedelta(minutes=30)).isoformat()
    assert cards[visit.pk]["hazards"] == "dog in the yard"
    text = json.dumps(kit)
    assert "9911" not in text
    assert text.count("4072") == 1  # beside its hours, on no page


def test_the_code_is_gone_once_the_technician_has_left(house):
    record, visit, lead = house
    put(visit.job.site, gate_code="4072")
    workflow.arrive(visit=visit, by=lead, now=NOW)
    ending = Ending(outcome="waiting", feeder_left="off", bypass_left="bypassed", outcome_note="")
    close_visit(visit=visit, ending=ending, by=lead, now=NOW + timedelta(hours=1))
    assert "4072" not in json.dumps(kit_of(lead))


def test_what_can_hurt_somebody_and_the_word_left_are_on_the_card(house, dispatcher):
    record, visit, lead = house
    make_notice(site=visit.job.site, by=dispatcher)
    card = row_of(lead, visit)["card"]
    assert card["notices"]
    assert card["cautions"]


def test_messages_that_wait_are_not_eaten_by_it(house):
    record, visit, lead = house
    client = signed_in(lead)
    client.post(reverse("visit-close", args=[visit.pk]), {})
    client.post(reverse("record-timer", args=[record.pk]), {"do": "start", "line": "contact"})
    assert client.get(reverse("field-kit")).status_code == 200
    assert (
        "Confirm first" in client.get(reverse("record-detail", args=[record.pk])).content.decode()
    )


def test_eight_visits_cost_little_more_than_one_and_stay_small(house):
    record, visit, lead = house

    def asked():
        client = signed_in(lead)
        with CaptureQueriesContext(connection) as seen:
            given = client.get(reverse("field-kit"), headers={"Accept-Encoding": "gzip"})
        return len(seen), given

    asked()
    one, _ = asked()
    more_houses(lead, range(1, VISITS))
    eight, given = asked()
    assert Visit.objects.filter(lead=lead).count() == VISITS
    print(f"queries {one}, {eight}; {len(given.content)} bytes")
    assert eight <= MOST_QUERIES
    assert eight - one <= (VISITS - 1) * MOST_MORE
    assert given["Content-Encoding"] == "gzip"
    assert len(json.loads(gzip.decompress(given.content))["visits"]) == VISITS
    assert len(given.content) < MOST_BYTES
