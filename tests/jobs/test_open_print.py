"""The pages of all answers, printed while the work still goes on."""

import io
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command
from django.urls import reverse
from pypdf import PdfReader

from jobs.workflows.records import close_record
from tests.acts import HOUR
from tests.closings import squeezed
from tests.conftest import NOW
from tests.jobs.mail.test_what_comes import promised, rechecked
from tests.jobs.test_loading import started_up
from tests.record_scenes import make_house, make_ready

pytestmark = pytest.mark.django_db


@pytest.fixture
def printed(dispatcher_client, clock):
    def of(record):
        clock(NOW)
        content = dispatcher_client.get(reverse("answers-sheet", args=[record.pk])).content
        pages = PdfReader(io.BytesIO(content)).pages
        return squeezed(" ".join(page.extract_text() for page in pages))

    return of


def test_what_is_still_to_be_asked_stands_as_open_and_what_need_not_be_takes_no_room(printed):
    record, *_ = make_house()
    lines = record.template.lines.filter(block="raw-water", condition={}, from_file=False)
    asked = lines.filter(required=True, is_gate=False).first()
    text = printed(record)
    assert squeezed(asked.label) in text
    spare = record.template.lines.filter(required=False, is_gate=False, condition={}).first()
    assert squeezed(spare.label) not in text


def test_hours_are_those_of_the_house(printed):
    record, visit, lead = make_ready()
    record.site.time_zone = "America/Los_Angeles"
    record.site.save()
    record = close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)
    there = (NOW + 5 * HOUR).astimezone(ZoneInfo("America/Los_Angeles"))
    assert squeezed(f"{there:%-I:%M %p}".lower()) in printed(record).lower()


def test_what_this_visit_is_about_to_keep_does_not_come_next(printed):
    call_command("load_rules", verbosity=0)
    first, lead = started_up()
    promise = promised("f1", at=first.site)
    name = squeezed(promise.terms.name)
    early, _ = rechecked(first.train, lead, day=3)
    assert name in printed(early)
    late, _ = rechecked(first.train, lead, day=14)
    assert name not in printed(late)
