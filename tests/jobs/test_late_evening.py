"""Half past eleven at night by the company's clock is the next day by UTC: the first is said."""

import re
from datetime import timedelta
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.notices import clinic_told
from tests.acts import booked, opened
from tests.conftest import NOW, signed_in
from tests.factories import make_site, make_special_use, make_staff, make_train

#: 10 June 2026, 23:30 eastern daylight time; 11 June, 03:30 UTC
LATE = NOW + timedelta(hours=13, minutes=30)
NEXT_DAY = NOW + timedelta(days=1)


@pytest.fixture
def site(clock):
    clock(NEXT_DAY)
    return make_site()


def page_of(client, site):
    return " ".join(client.get(reverse("site-detail", args=[site.pk])).content.decode().split())


@pytest.mark.django_db
def test_a_reading_stands_under_the_day_it_was_taken(dispatcher_client, site):
    """Iron at noon and pH late that evening are of one day: neither is older than its column."""
    by = make_staff("technician")
    for key, text, at in (("iron", "3.2 mg/L", NOW), ("ph", "7.1", LATE)):
        reading = Reading(key, text, origin="measured", place="raw")
        record_measurement(about=site, reading=reading, measured_at=at, by=by, now=NEXT_DAY)
    table = page_of(dispatcher_client, site).split("Last readings", 1)[1]
    assert "Raw<br>10 Jun</th>" in table
    assert "11 Jun" not in table
    assert "<small>" not in table.split("</table>")[0]


@pytest.mark.django_db
def test_a_clinic_was_told_on_the_day_of_the_call(dispatcher_client, site):
    use = make_special_use(site=site)
    clinic_told(special_use=use, whom="Nurse Adebayo", by=make_staff("dispatcher"), now=LATE)
    assert "Nurse Adebayo told 10 Jun by" in page_of(dispatcher_client, site)


@pytest.mark.django_db
def test_a_late_visit_stands_under_its_day_for_who_drives(clock):
    clock(NOW - timedelta(days=1))
    lead = make_staff("technician")
    booked(opened(make_train(), at=NOW), lead, at=LATE, hours=0.25, now=NOW - timedelta(days=1))
    mine = reverse("my-day")
    page = " ".join(signed_in(lead).get(mine).content.decode().split())
    assert "<b>10 Jun</b> 23:30" in page
    clock(NEXT_DAY)
    left_open = signed_in(lead).get(mine).content.decode()
    assert re.findall(r"<b>\s*(\d+\s[A-Z]\w+)\s*</b>", left_open) == ["10\u00a0Jun"]


# --- wherever a day is taken of a moment ----------------------------------------------------------

ROOT = Path(settings.BASE_DIR)
#: the day, or the day in words, of a moment as it is kept: by UTC
BY_UTC = re.compile(r"_at\.date\(\)|\{(?:\w+\.)+(?:\w+_at|at):%|\bshort_day\((?:\w+\.)*\w+_at\b")


def test_no_code_takes_the_day_of_a_moment_by_utc():
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()}"
        for room in ("config", "equipment", "jobs")
        for path in sorted((ROOT / room).rglob("*.py"))
        if "migrations" not in path.parts
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if BY_UTC.search(line)
    ]
    assert found == []


@pytest.mark.parametrize(
    "line",
    [
        "row.measured_at.date() != newest",
        'f"sample of {self.taken_at:%Y-%m-%d}"',
        'f"fill on {self.at:%Y-%m-%d}"',
        "short_day(row.measured_at, today)",
    ],
)
def test_the_pattern_finds_what_it_looks_for(line):
    assert BY_UTC.search(line)


@pytest.mark.parametrize(
    "line",
    [
        "short_day(company_day(row.measured_at), today)",
        'f"{timezone.localtime(told.at):%-d %B}"',
        'f"{lot.expires_on:%-d %b}"',
    ],
)
def test_the_pattern_passes_a_day_of_the_company(line):
    assert not BY_UTC.search(line)
