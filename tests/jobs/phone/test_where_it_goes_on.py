"""A record that is begun opens on its next question, on the server as on a phone without signal."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.pages.handed import facts_for_phone
from jobs.records.loading import load_sheet
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.jobs.acts.phone import Phone
from tests.record_scenes import acknowledge_all, answer_all, make_house, make_ready

from .unpacked import act, handed, on_phone, unpack

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=5)


@pytest.fixture(scope="module")
def lies(tmp_path_factory):
    return unpack(tmp_path_factory.mktemp("phone"))


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


def leads_to(person, record):
    return signed_in(person).get(reverse("record-next", args=[record.pk])).url


def part(record, key):
    return reverse("record-block", args=[record.pk, key])


def first_on_phone(lies, record, waiting=(), now=NOW):
    given = handed(facts_for_phone(record, now=now), at=now)
    said = {"now": now.isoformat(), "waiting": list(waiting)}
    (told,), _ = on_phone(lies, [[["open", given], ["first", said]]])
    return told[1]["block"]


def answers_of(record, key):
    """Acts that answer a page of it as it passes."""
    return [
        {**act(item.line.key, text, NOW), "uuid": f"{number}", "needs": ""}
        for number, (item, text) in enumerate(
            (item, {"scope": "new", "switching": "switch_load"}.get(item.line.key, "yes"))
            for item in load_sheet(record, now=NOW).block(key).items
            if not item.text
        )
    ]


def test_it_goes_on_at_the_first_part_with_something_open(lies):
    record, _, lead = make_house()
    assert leads_to(lead, record) == part(record, "isolate")
    assert first_on_phone(lies, record) == "isolate"
    acts = answers_of(record, "isolate")
    assert first_on_phone(lies, record, acts) == "hold"  # the office does not know of them yet
    for told in acts:
        Phone(lead, record).tell("answer", at=NOW, **told["payload"])
    assert leads_to(lead, record) == part(record, "hold")
    assert first_on_phone(lies, record) == "hold"


def test_both_people_of_a_start_up_go_on_at_the_same_step():
    record, visit, lead = make_house()
    visit.helper = make_staff("technician")
    visit.save()
    answer_all(record, lead, without=("steps", "handover-name"))
    assert leads_to(lead, record) == leads_to(visit.helper, record) == part(record, "dial-back")


def test_where_nothing_is_open_all_parts_are_shown(lies):
    record, visit, lead = make_ready()
    overview = reverse("record-detail", args=[record.pk])
    assert leads_to(lead, record) == overview
    assert first_on_phone(lies, record, now=LATER) == ""
    assert "Close the record" in signed_in(lead).get(overview).content.decode()
    close = reverse("record-close", args=[record.pk])
    signed_in(lead).post(close)
    record.refresh_from_db()
    assert record.is_closed
    assert leads_to(lead, record) == overview


def test_whoever_only_reads_is_led_to_all_parts(dispatcher):
    record, *_ = make_house()
    assert leads_to(dispatcher, record) == reverse("record-detail", args=[record.pk])
    other = signed_in(make_staff("technician"))
    assert other.get(reverse("record-next", args=[record.pk])).status_code == 404


def left_open(html):
    """Lines that the closing names as left open, by the address of their part."""
    said = html.split("Left open, and may be")[1]
    rows = re.findall(
        r'<li>\s*<a class="act quiet" href="([^"]+)">Part \d+</a>(.*?)</li>', said, re.S
    )
    return {path: " ".join(words.split()) for path, words in rows}


def test_the_closing_names_what_may_stay_open_on_the_server_and_on_the_phone(lies):
    """A page goes on by itself past such lines; nobody has to remember them."""
    record, _, lead = make_ready(answers={"odour-cold": "none"})
    acknowledge_all(record, lead)
    html = signed_in(lead).get(reverse("record-close", args=[record.pk])).content.decode()
    said = left_open(html)
    assert "Odour, hot" in said[part(record, "baseline")]
    assert "Warranty, as it was promised" in said[part(record, "handover")]
    assert "Odour, cold" not in str(said)
    assert "stands against closing" not in html
    given = handed(facts_for_phone(record, now=NOW), at=NOW)
    page = {"page": "closing", "block": "", "now": NOW.isoformat(), "waiting": []}
    (told,), _ = on_phone(lies, [[["open", given], ["page", page]]])
    assert left_open(told[1]["parts"]["closing"]) == said
