"""When the laboratory takes samples: its days, the way there, and what booking makes of it."""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings
from django.urls import reverse

from jobs.models import Company, LaboratoryDay, Visit
from jobs.schedule.laboratory import Laboratory, words_of_sending
from jobs.schedule.openings import Ask, ranked
from jobs.workflows.waits import keep_laboratory_day
from tests.conftest import signed_in
from tests.factories import make_site, make_staff, make_train

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo(settings.TIME_ZONE)
#: Monday to Friday of one week
MON, TUE, WED, THU, FRI, SAT, SUN = (date(2026, 6, 8) + timedelta(days=n) for n in range(7))
NEXT = date(2026, 6, 15)


def at(day, hour, minute=0):
    return datetime.combine(day, time(hour, minute), tzinfo=ZONE)


@pytest.fixture(autouse=True)
def _clock(clock):
    clock(at(MON, 8))


@pytest.mark.parametrize(
    ("filled", "there"),
    [
        # 60 min away, 8:00 to 16:00, Monday to Friday. Coliform: from sampling to the start of
        # incubation at most 30 hours, 40 CFR 141.852(a) (SEEN)
        (at(MON, 10), at(MON, 11)),
        (at(MON, 15), at(MON, 16)),
        (at(MON, 15, 1), at(TUE, 8)),
        (at(MON, 6), at(MON, 8)),
        (at(FRI, 14), at(FRI, 15)),
        (at(FRI, 15, 15), None),
        (at(SAT, 10), None),
        (at(SUN, 10), at(NEXT, 8)),
        # Friday 3 July 2026 is a federal holiday: Independence Day observed (5 U.S.C. 6103)
        (at(date(2026, 7, 2), 14), at(date(2026, 7, 2), 15)),
        (at(date(2026, 7, 2), 15, 30), None),
    ],
)
def test_when_a_bottle_reaches_the_laboratory(filled, there):
    assert Laboratory(Company.load()).reached(filled) == there


def test_a_laboratory_that_takes_none_on_a_friday():
    company = Company.load()
    company.laboratory_weekdays = "0123"
    laboratory = Laboratory(company)
    assert laboratory.reached(at(THU, 14)) == at(THU, 15)
    assert laboratory.why_not(at(THU, 15, 30)) == (
        "A sample of Thursday 11 June reaches the laboratory too late: it takes them until 16:00 "
        "and is 60 min away, and on Friday it is closed (it takes none on a Friday). It keeps 30 "
        "hours."
    )
    assert laboratory.why_not(at(FRI, 9)).startswith(
        "A sample of Friday 12 June reaches the laboratory too late: it takes none on a Friday"
    )


def test_a_bottle_of_a_closed_day_is_asked_about_and_not_proposed():
    train, lead = make_train(site=make_site()), make_staff("technician")
    ask = Ask(train.site, "sample", 30, FRI, (FRI, FRI))
    rows = ranked(ask, [lead], now=at(MON, 8), company=Company.load())
    assert [row.starts_at.date() for row in rows] == [FRI]
    keep_laboratory_day(day=FRI, name="stock-taking", by=make_staff("owner"), now=at(MON, 8))
    assert ranked(ask, [lead], now=at(MON, 8), company=Company.load()) == []
    address = reverse("visit-book") + f"?site={train.site_id}&kind=sample"
    form = {
        "kind": "sample",
        "train": train.pk,
        "reported_on": "2026-06-08",
        "lead": lead.pk,
        "day": f"{FRI:%Y-%m-%d}",
        "start": "10:00",
        "status": "confirmed",
        "once": "friday",
    }
    page = signed_in(make_staff("dispatcher")).post(address, form).content.decode()
    assert "reaches the laboratory too late: stock-taking" in page
    assert not Visit.objects.exists()
    assert words_of_sending(at(FRI, 10)).startswith("A sample of Friday 12 June reaches")
    assert words_of_sending(at(THU, 10)) == "The laboratory can have it Thursday 11 June, 11:00."


def test_the_owner_keeps_days_of_the_laboratory():
    train, client = make_train(site=make_site()), signed_in(make_staff("owner"))
    said = {"day": "2026-06-19", "name": "Inventory", "once": "a-day"}
    page = client.post(reverse("laboratory-days"), said, follow=True).content.decode()
    assert "Inventory" in page
    page = client.get(reverse("sample-new", args=[train.site_id])).content.decode()
    assert "not 19 June: Inventory" in page
    client.post(reverse("laboratory-day-drop", args=[LaboratoryDay.objects.get().pk]))
    assert not LaboratoryDay.objects.exists()
