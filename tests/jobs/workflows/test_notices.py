"""Three levels of not using the water: who opens them, what lifts them."""

import pytest

from jobs.errors import BadEntry, WrongState
from jobs.models import DoNotUse
from jobs.workflows.notices import Danger, OutOfPipes, clinic_told, lift_notice, open_notice
from tests.acts import HOUR, lifted
from tests.conftest import NOW
from tests.factories import make_site, make_special_use, make_staff
from tests.record_scenes import make_house

pytestmark = pytest.mark.django_db


CAUSE = {"no_drinking": "coliform", "no_use": "oxidant"}


def opened(site, by, level="no_drinking"):
    return open_notice(danger=Danger(site, level, "positive sample", CAUSE[level]), by=by, now=NOW)


def test_one_notice_of_a_level_stands_at_a_house(technician):
    site = make_site()
    assert opened(site, technician) == opened(site, technician)
    assert opened(site, technician, "no_use") != opened(site, technician)
    assert DoNotUse.objects.standing().count() == 2


@pytest.mark.parametrize(("level", "reason"), [("no_bathing", "x"), ("no_use", "  ")])
def test_a_notice_has_a_level_and_a_reason(technician, level, reason):
    with pytest.raises(BadEntry):
        open_notice(
            danger=Danger(site=make_site(), level=level, reason=reason), by=technician, now=NOW
        )


@pytest.mark.parametrize(
    ("readings", "field"),
    [((10, 0.1, 0.1), "high"), ((0, 0.21, 0.1), "cold"), ((0, 0.1, 0.21), "hot")],
)
def test_no_use_is_lifted_on_readings_of_cold_and_hot_taps(technician, readings, field):
    """High range first, since strong chlorine bleaches the colour of a low one (MEMORY)."""
    notice = opened(make_site(), technician, "no_use")
    with pytest.raises(BadEntry, match="readings"):
        lift_notice(notice=notice, by=technician, now=NOW)
    with pytest.raises(BadEntry, match="Flush on") as refused:
        lift_notice(notice=notice, reading=OutOfPipes(*readings), by=technician, now=NOW)
    assert refused.value.field == field
    good = OutOfPipes(9.9, 0.2)
    done = lift_notice(notice=notice, reading=good, by=technician, now=NOW)
    assert (done.lifted_by, done.lifted_at) == (technician, NOW)


def test_the_clinic_is_told_by_a_named_person(technician):
    use = make_special_use(site=make_site())
    with pytest.raises(BadEntry, match="who at the clinic"):
        clinic_told(special_use=use, whom="", by=technician, now=NOW)
    told = clinic_told(special_use=use, whom="nurse on duty", by=technician, now=NOW)
    assert not told.blocks_oxidant
    other = make_special_use(site=make_site(), kind="aquarium")
    with pytest.raises(WrongState):
        clinic_told(special_use=other, whom="nurse", by=technician, now=NOW)


def test_who_lifted_it_stays_whoever_lifts_it_again(technician):
    notice = opened(make_site(), technician, "no_use")
    first = lifted(notice, technician)
    again = lifted(notice, make_staff("technician"), at=NOW + HOUR)
    assert (again.lifted_by, again.lifted_at) == (technician, first.lifted_at)


def test_what_stands_at_another_house_does_not_stop_this_start_up(technician):
    """Neither water that must not be drunk there nor a dialysis there."""
    elsewhere = make_site()
    opened(elsewhere, technician)
    make_special_use(site=elsewhere)
    record, _, _ = make_house()
    assert not record.is_closed
