"""Every kind of act that a phone tells, and what of the house it may tell about."""

from datetime import timedelta
from uuid import uuid4

import pytest

from equipment.models import Fill, Measurement
from jobs.models import DoNotUse, StripLot, Visit
from tests.acts import arrived
from tests.conftest import NOW
from tests.factories import make_job, make_visit
from tests.record_scenes import answer_all, make_house, make_ready

from .phone import MINUTE, Phone, kept

pytestmark = pytest.mark.django_db


def test_a_day_told_in_the_evening(phone, clock):
    """Set out, arrived, a record of its own name, a fill, a notice, left."""
    train = phone.record.train
    job = make_job(train=train, kind="service")
    visit = make_visit(job=job, lead=phone.user, starts_at=NOW + timedelta(hours=8))
    clock(NOW + timedelta(hours=12))
    phone.visit, at = visit, NOW + timedelta(hours=8)
    tank = train.stages.get(kind="feeder")
    poured = {"part": tank.pk, "at": "2026-06-10T18:30", "filled_by": "company", "product_gal": 5}
    warned = {"level": "no_use", "cause": "other", "reason": "smells of fuel"}
    left = {"outcome": "completed", "feeder_left": "off", "bypass_left": "service"}
    phone.record = None
    phone.tell("set-out", at=at)
    phone.tell("arrive", at=at + 20 * MINUTE)
    assert phone.tell("fill", at=at + 30 * MINUTE, about={"payload": poured})["state"] == "kept"
    phone.tell("notice", at=at + 35 * MINUTE, site=train.site_id, **warned)
    name = uuid4()
    opened = phone.tell(
        "record-open", at=at + 36 * MINUTE, about={"record": str(name)}, purpose="recheck"
    )
    assert opened["record"] == str(name)
    said = phone.tell("visit-close", at=at + 50 * MINUTE, **left)
    assert said["state"] == "kept", said
    visit.refresh_from_db()
    assert (visit.arrived_at, visit.left_at) == (at + 20 * MINUTE, at + 50 * MINUTE)
    assert visit.closed_at == NOW + timedelta(hours=12)
    assert Fill.objects.get().product_gal == 5
    assert DoNotUse.objects.get().opened_at == at + 35 * MINUTE


def test_a_record_that_somebody_opened_first_takes_what_a_phone_told_under_its_own_name(phone):
    name, standing = str(uuid4()), phone.record
    opened = phone.tell("record-open", about={"record": name}, purpose="startup")
    assert opened["record"] == str(standing.uuid)
    said = phone.tell("answer", about={"record": name}, line="raw-iron", text="3", version=0)
    assert (said["state"], kept(standing)) == ("kept", [("3", 1)])


def test_nobody_home(phone):
    arrived(phone.visit, at=NOW)
    assert phone.tell("no-access", note="rang twice", at=NOW + 9 * MINUTE)["state"] == "kept"
    assert Visit.objects.get(pk=phone.visit.pk).left_at == NOW + 9 * MINUTE


def test_parts_and_wells_put_right(phone):
    train = phone.record.train
    well = train.wells.get()
    told = {"tag": well.tag, "kind": well.kind, "status": well.status, "version": well.version}
    told |= {"control": well.control or "unknown"}
    figure = {"figure-static_level": "40", "figure-static_level_unit": "ft"}
    about = {"site": train.site_id, "well": well.pk}
    said = phone.tell("well", at=NOW + MINUTE, **about, **told, **figure)
    assert said["state"] == "kept", said
    row = Measurement.objects.get(quantity_key="static_level")
    assert row.measured_at == NOW + MINUTE
    again = phone.tell("well", at=NOW + MINUTE, **about, **told, pump_note="new pump")
    assert again["state"] == "look"
    lamp = phone.tell(
        "part-new", system=train.pk, kind="uv", position=5, fitted_on="2026-06-10", parallel_count=1
    )
    assert lamp["state"] == "kept", lamp
    ended = phone.tell("part-end", part=lamp["part"], fitted_on="2026-06-10")
    assert ended["state"] == "kept", ended


def test_a_house_of_others_is_not_known(phone):
    other = make_house()[0]
    feeder = other.train.stages.get(kind="feeder")
    for said in (
        phone.tell("notice", site=other.site_id, level="no_use", cause="other", reason="x"),
        phone.tell("fill", part=feeder.pk, at=NOW),
        phone.tell("part-end", part=feeder.pk, fitted_on="2026-06-10"),
        phone.tell("system", system=other.train_id),
        phone.tell("answer", about={"record": str(other.uuid)}, line="raw-iron", text="3"),
    ):
        assert said["state"] == "refused"


def test_a_record_is_filled_passed_over_and_closed_from_a_phone(clock):
    record, visit, lead = make_ready(without=("tap-iron",))
    phone = Phone(lead, record, visit)
    clock(NOW + timedelta(hours=7))
    early = phone.tell("record-close", at=NOW + timedelta(hours=5))
    assert (early["state"], early["sentence"][:10]) == ("refused", "Not closed")
    assert phone.tell("skip", line="raw-sulfide", reason="no kit", version=1)["version"] == 2
    assert phone.answer("raw-sulfide", "2", version=2)["state"] == "kept"
    phone.answer("tap-iron", "< 0.05", at=NOW + timedelta(hours=4))
    out = {"reason": "no power", "unplugged": True, "bypass": "bypassed"}
    assert phone.tell("override", line="no-start", **out)["state"] == "kept"
    assert phone.tell("override-back", line="no-start")["state"] == "kept"
    assert phone.tell("acknowledge", caution="pit")["state"] == "kept"
    DoNotUse.objects.all().delete()
    done = phone.tell("record-close", at=NOW + timedelta(hours=6))
    assert done["state"] == "kept", done
    record.refresh_from_db()
    assert record.closed_at == NOW + timedelta(hours=6)


def test_strips_are_taken_once_when_they_were_and_the_reading_after_them_is_by_them(phone):
    """Strips that read a blank of 0.5 to 2 prove nothing: common practice, no source."""
    answer_all(phone.record, phone.user, without=("steps",))
    told = {"new_lot": "S-114", "expires_on": "2027-03-31", "blank": "0.5-2"}
    act = phone.act("strips", at=NOW + MINUTE, **told)
    assert [phone.send(act).json()["state"] for _ in range(2)] == ["kept", "kept"]
    check = phone.record.strip_checks.get()
    assert (check.at, check.lot.lot, StripLot.objects.count()) == (NOW + MINUTE, "S-114", 1)
    set_by = phone.tell("step-set", at=NOW + 2 * MINUTE, setting_percent="20")
    read = {"look": "clear", "band": "5-10"}
    phone.tell("step-read", at=NOW + 90 * MINUTE, needs=set_by["uuid"], **read)
    assert "the blank read 0.5 to 2" in phone.record.steps.get().doubt
    again = phone.tell("strips", at=NOW + 91 * MINUTE, lot=check.lot_id, blank="0.5-2")
    assert (again["state"], phone.record.strip_checks.count()) == ("kept", 1)
    phone.tell("strips", at=NOW + 91 * MINUTE, lot=check.lot_id, blank="0-0.5")
    assert phone.record.strip_checks.count() == 2


@pytest.mark.parametrize(
    ("told", "field"),
    [
        ({}, "lot"),
        ({"new_lot": "S-9"}, "expires_on"),
        ({"new_lot": "S-9", "expires_on": "soon"}, "expires_on"),
        ({"lot": "99"}, "lot"),
        ({"new_lot": "S-9", "expires_on": "2027-03-31", "blank": "3-4"}, "blank"),
    ],
)
def test_half_a_lot_is_refused_and_nothing_is_half_taken(phone, told, field):
    said = phone.tell("strips", **told)
    assert (said["state"], said["field"]) == ("refused", field)
    assert not StripLot.objects.exists()
    assert not phone.record.strip_checks.exists()


def left(phone, setting):
    return phone.tell("step-leave", at=NOW + 119 * MINUTE, leave=setting)


def test_a_dial_back_is_left_once_and_where_the_phone_said(phone):
    """Four settings a visit at most, then a recheck: common practice, no source."""
    answer_all(phone.record, phone.user, without=("steps",))
    early = left(phone, "34 %")
    assert (early["state"], early["sentence"][:21]) == ("refused", "The dial-back goes on")
    for number, (percent, band) in enumerate(
        ((42, "25-50"), (34, "10-25"), (50, "50-100"), (67, ">100"))
    ):
        at = NOW + 25 * number * MINUTE
        made = phone.tell("step-set", at=at, setting_percent=str(percent), tap_flow_gpm="20")
        tap = {"look": "clear", "iron_clear": "yes", "odour_clear": "yes"}
        phone.tell("step-read", at=at + 24 * MINUTE, needs=made["uuid"], band=band, **tap)
    elsewhere = left(phone, "50 %")
    assert elsewhere["state"] == "refused"
    assert elsewhere["sentence"].startswith("It was left at 50 %; by what was read since")
    assert not phone.record.overrides.exists()
    given = left(phone, "34 %")
    assert (given["state"], given["step"]) == ("kept", 5)
    again = phone.send(phone.told[given["uuid"]]).json()
    assert (again["again"], left(phone, "34 %")["step"]) == (True, 5)
    step = phone.record.steps.get(is_final=True)
    assert (step.setting_percent, step.set_at) == (34, NOW + 119 * MINUTE)
    assert phone.record.overrides.get().line_key == "steps"
