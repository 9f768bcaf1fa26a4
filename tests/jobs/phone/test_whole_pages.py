"""Whole pages of a record, and acts that wait: the phone says what the office says with them."""

import re
from datetime import date, datetime, timedelta
from uuid import NAMESPACE_OID, uuid5

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import StripLot
from jobs.pages.handed import facts_for_phone
from jobs.records.loading import load_sheet
from jobs.workflows import answers, dial_back, timers
from jobs.workflows.answers import Place
from tests.conftest import NOW, signed_in
from tests.factories import make_startup_train
from tests.jobs.acts.phone import Phone
from tests.record_scenes import READINGS, answer, answer_all, make_house

from .unpacked import act, handed, on_phone, unpack

TOKEN = re.compile(r'<input type="hidden" name="csrfmiddlewaretoken"[^>]*>')


@pytest.fixture(scope="module")
def lies(tmp_path_factory):
    return unpack(tmp_path_factory.mktemp("phone"))


@pytest.fixture
def house(db, clock):
    record, _, lead = make_house()
    return record, lead


def plain(html):
    """Without what a phone cannot have, and without spaces between tags."""
    return re.sub(r"\s+", " ", TOKEN.sub("", html)).replace("> <", "><").strip()


def part_of(page):
    """What stands in #part of a page of the server."""
    return page.split('<div id="part">', 1)[1]


def on_server(person, record, block):
    return signed_in(person).get(reverse("record-block", args=[record.pk, block])).content.decode()


def pages_on_phone(lies, record, now, blocks, waiting=()):
    given = handed(facts_for_phone(record, now=now), at=now)
    calls = [["open", given]]
    for block in blocks:
        said = {"page": "part", "block": block, "now": now.isoformat(), "waiting": list(waiting)}
        calls.append(["page", said])
    (said,), rooms = on_phone(lies, [calls])
    assert rooms == []
    return dict(zip(blocks, said[1:], strict=True))


def waiting(kind, at, uuid, needs="", **payload):
    return {"kind": kind, "at": at.isoformat(), "uuid": uuid, "needs": needs, "payload": payload}


def test_every_page_is_the_server_s(lies, house):
    record, lead = house
    answer_all(record, lead, without=("tap-iron",))
    row = {"oxidant": "peroxide", "lot": "S-9", "expires_on": date(2027, 3, 31)}
    StripLot.objects.create(entered_by=lead, entered_at=NOW, **row)
    sheet = load_sheet(record, now=NOW)
    blocks = [block.key for block in sheet.blocks]
    there = pages_on_phone(lies, record, NOW, blocks)
    for block in blocks:
        mine = plain(there[block]["parts"]["part"])
        page = plain(part_of(on_server(lead, record, block)))
        same = len(mine)
        assert page[:same].replace("technician-", "") == mine.replace("technician-", ""), block


def boxes_read(page):
    """What can be chosen for the reading of a step: name and value of each button."""
    return re.findall(r'<input type="radio" name="(look|band|iron_clear)" value="([^"]+)"', page)


def test_a_step_that_waits_is_read_with_the_boxes_of_the_server(lies, house):
    record, lead = house
    answer_all(record, lead, without=("tap-iron",))
    setting = dial_back.PumpSetting(percent=20)
    dial_back.set_step(record=record, setting=setting, by=lead, now=NOW)
    there = pages_on_phone(lies, record, NOW, ["dial-back"])["dial-back"]["parts"]["part"]
    mine, theirs = boxes_read(there), boxes_read(on_server(lead, record, "dial-back"))
    assert mine == theirs
    assert ("band", "25-50") in mine


def test_acts_that_wait_read_as_they_will_once_the_office_has_them(lies, house):
    """Answers, a line left open, one passed over, a caution, a dial-back: told, then done."""
    record, lead = house
    answer_all(record, lead, without=("tap-flow", "handover-name", "tap-iron"))
    before = facts_for_phone(record, now=NOW)
    set_at, read_at = NOW + timedelta(minutes=1), NOW + timedelta(hours=3)
    acts = [
        {**act("tap-flow", "5", NOW, unit="gpm"), "uuid": "a"},
        waiting("skip", NOW, "b", line="handover-name", reason="nobody there"),
        waiting("override", NOW, "c", line="tap-iron", reason="kit is empty"),
        waiting("acknowledge", NOW, "d", caution="pit"),
        waiting("step-set", set_at, "e", setting_percent="20"),
        waiting(
            "step-read",
            read_at,
            "f",
            "e",
            look="clear",
            band="5-10",
            iron_clear="yes",
            odour_clear="yes",
        ),
        waiting("step-keep", read_at, "g", number=1),
    ]
    blocks = [block.key for block in load_sheet(record, now=NOW).blocks]
    assert facts_for_phone(record, now=NOW) == before
    mine = pages_on_phone(lies, record, read_at, blocks, acts)
    answer(record, lead, "tap-flow", "5", now=NOW, unit="gpm")
    by = {"record": record, "by": lead}
    answers.skip_line(place=Place("handover-name"), reason="nobody there", now=NOW, **by)
    answers.override_gate(line_key="tap-iron", reason="kit is empty", now=NOW, **by)
    answers.acknowledge_caution(caution="pit", now=NOW, **by)
    setting = dial_back.PumpSetting(percent=20)
    dial_back.set_step(setting=setting, now=set_at, **by)
    seen = dial_back.Seen("clear", 5.0, 10.0, True, True, by_strip=True)
    dial_back.read_step(number=1, seen=seen, now=read_at, **by)
    dial_back.keep_as_final(number=1, now=read_at, **by)
    theirs = pages_on_phone(lies, record, read_at, blocks)
    for block in blocks:
        assert mine[block]["parts"] == theirs[block]["parts"], block


#: percent, band: with a clear tap inside the aim once, then above it
FOUR = ((42, "25-50"), (34, "10-25"), (20, "0-0.5"), (50, "50-100"))
#: of three turnovers
WAIT = timedelta(minutes=100)


def named(word):
    """The name of an act, the same each time."""
    return str(uuid5(NAMESPACE_OID, word))


SEEN = {"look": "clear", "band": "5-10", "iron_clear": "yes"}


def four_read(at, four=FOUR):
    """Acts of four settings that none stays of, and the moment after them."""
    acts = []
    for number, (percent, band) in enumerate(four, 1):
        clear = "no" if band == "0-0.5" else "yes"
        tap = {"look": "clear", "iron_clear": clear, "odour_clear": clear}
        name = named(f"set {number}")
        acts.append(waiting("step-set", at, name, setting_percent=str(percent)))
        at += WAIT
        read = {"step": name, "band": band, **tap}
        acts.append(waiting("step-read", at, named(f"read {number}"), **read))
    return acts, at


def done_by(record, lead, acts):
    """The same acts as the office does them, each when it was done."""
    person = Phone(lead, record)
    for told in acts:
        at = datetime.fromisoformat(told["at"])
        said = person.tell(told["kind"], at=at, uuid=told["uuid"], **told["payload"])
        assert said["state"] == "kept", said


def test_strips_that_fail_read_as_they_will_once_the_office_has_them(lies, house, clock):
    record, lead = house
    answer_all(record, lead, without=("tap-iron",))
    row = {"oxidant": "peroxide", "lot": "S-9", "expires_on": date(2027, 3, 31)}
    lot = StripLot.objects.create(entered_by=lead, entered_at=NOW, **row)
    set_at, read_at = NOW + timedelta(minutes=1), NOW + timedelta(hours=3)
    acts = [
        waiting("strips", NOW, named("a"), lot=str(lot.pk), blank="0.5-2", mix="10-25"),
        waiting("step-set", set_at, named("set"), setting_percent="20"),
        waiting("step-read", read_at, named("read"), step=named("set"), **SEEN),
    ]
    mine = pages_on_phone(lies, record, read_at, ["dial-back"], acts)
    clock(read_at)
    done_by(record, lead, acts)
    theirs = pages_on_phone(lies, record, read_at, ["dial-back"])
    assert mine == theirs
    said = " ".join(mine["dial-back"]["parts"]["part"].split())
    assert "Not to be relied on: strips S-9: the blank read 0.5 to 2 mg/L, not below 0.5" in said


@pytest.mark.parametrize("taken", ["before the kit", "on the phone"])
def test_strips_whose_day_ends_overnight_are_judged_by_the_day_and_not_by_that_of_the_kit(
    lies, house, clock, taken
):
    """Good on the day the kit was made, which is their last; over on the next, kit or not."""
    record, lead = house
    answer_all(record, lead, without=("tap-iron",))
    row = {"oxidant": "peroxide", "lot": "S-9", "expires_on": date(2026, 6, 10)}
    lot = StripLot.objects.create(entered_by=lead, entered_at=NOW, **row)
    taking = [waiting("strips", NOW, named("a"), lot=str(lot.pk))]
    clock(NOW)
    if taken == "before the kit":
        done_by(record, lead, taking)
        taking = []
    set_at, morning = NOW + timedelta(minutes=1), NOW + timedelta(hours=20)
    set_now = waiting("step-set", set_at, named("set"), setting_percent="20")
    read = waiting("step-read", morning, named("read"), step=named("set"), **SEEN)

    def said(at, *acts):
        page = {"page": "part", "block": "dial-back", "now": at.isoformat(), "waiting": list(acts)}
        given = handed(facts_for_phone(record, now=NOW), at=NOW)
        (told,), _ = on_phone(lies, [[["open", given], ["page", page]]])
        return told[1]["parts"]["part"]

    over = "strips S-9 were good until 10 Jun 2026"
    assert over not in said(set_at, *taking, set_now)
    assert f"Not to be relied on: {over}" in " ".join(said(morning, *taking, set_now).split())
    mine = said(morning, *taking, set_now, read)
    assert '<span class="late">not used</span>' in mine
    clock(morning)
    done_by(record, lead, [*taking, set_now, read])
    assert record.steps.get().doubt == over
    theirs = pages_on_phone(lies, record, morning, ["dial-back"])
    assert mine == theirs["dial-back"]["parts"]["part"]


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({"new_lot": "S-12", "expires_on": "2027-01-31"}, "strips S-12, good until 31 Jan 2027."),
        ({"new_lot": "s-9"}, "strips S-9, good until 31 Mar 2027."),
        ({"new_lot": "S-9", "expires_on": "2026-01-31"}, "Which strips read is not said yet."),
        ({"new_lot": "S-12"}, "Which strips read is not said yet."),
        ({"new_lot": "S-12", "expires_on": "soon"}, "Which strips read is not said yet."),
        ({}, "Which strips read is not said yet."),
    ],
)
def test_a_bottle_is_written_on_the_phone_as_the_office_takes_it(lies, house, told, said, clock):
    """Also where it refuses: the page goes on saying what the office will."""
    record, lead = house
    row = {"oxidant": "peroxide", "lot": "S-9", "expires_on": date(2027, 3, 31)}
    StripLot.objects.create(entered_by=lead, entered_at=NOW, **row)
    acts = [waiting("strips", NOW, "a", **told)]
    page = pages_on_phone(lies, record, NOW, ["dial-back"], acts)["dial-back"]["parts"]["part"]
    assert said in " ".join(page.split())
    clock(NOW)
    Phone(lead, record).tell("strips", **told)
    assert said in " ".join(on_server(lead, record, "dial-back").split())


@pytest.mark.parametrize("four", [FOUR, (*FOUR[2:], *FOUR[:2])], ids=["set back", "stays"])
def test_a_dial_back_that_is_left_reads_as_it_will_and_goes_on_when_it_is_set_again(
    lies, house, clock, four
):
    record, lead = house
    answer_all(record, lead, without=("steps",))
    acts, at = four_read(NOW, four)
    blocks = [block.key for block in load_sheet(record, now=NOW).blocks]
    offered = pages_on_phone(lies, record, at, ["dial-back"], acts)["dial-back"]["parts"]["part"]
    setting = re.search(r'name="leave" value="([^"]+)"', offered)[1]
    left = [*acts, waiting("step-leave", at, named("left"), leave=setting)]
    again = [*left, waiting("step-set", at, named("again"), setting_percent="30")]
    mine = pages_on_phone(lies, record, at, blocks, left)
    on = pages_on_phone(lies, record, at, blocks, again)
    clock(at)
    done_by(record, lead, left)
    theirs = pages_on_phone(lies, record, at, blocks)
    for block in blocks:
        assert mine[block]["parts"] == theirs[block]["parts"], block
    assert "Left at 34" in mine["dial-back"]["parts"]["part"]
    done_by(record, lead, again[-1:])
    theirs = pages_on_phone(lies, record, at, blocks)
    for block in blocks:
        assert on[block]["parts"] == theirs[block]["parts"], block
    assert "Left at" not in on["dial-back"]["parts"]["part"]


def test_a_reading_may_name_the_press_that_found_its_step_standing(lies, house, clock):
    """The same setting pressed twice is one step, by whichever name it is read."""
    record, lead = house
    answer_all(record, lead, without=("steps",))
    at = NOW + timedelta(hours=3)
    acts = [
        waiting("step-set", NOW, named("one"), setting_percent="20"),
        waiting("step-set", NOW + timedelta(minutes=1), named("two"), setting_percent="20"),
        waiting("step-read", at, named("read"), step=named("two"), **SEEN),
    ]
    mine = pages_on_phone(lies, record, at, ["dial-back"], acts)
    clock(at)
    done_by(record, lead, acts)
    assert record.steps.get().read_at == at
    assert mine == pages_on_phone(lies, record, at, ["dial-back"])


#: by a page of today, and by one that asked for the name alone
TOLD = {"told-1": "C. Prudhomme", "how-1": "door", "number-1": "", "read_back-1": "on"}
TOLD |= {"told-2": "M. Okafor"}


def test_a_wait_begins_ends_and_is_taken_back_as_on_the_server(lies, db, clock):
    record, _, lead = make_house(train=make_startup_train(injection="before"))
    answer(record, lead, "disinfect-scope", "here", now=NOW)
    later = NOW + timedelta(hours=2)
    acts = [
        waiting("pour", NOW, "a", **TOLD),
        waiting("timer-start", NOW, "b", line="contact", sure=True),
        waiting("timer-stop", later, "c", line="contact"),
    ]
    shown = pages_on_phone(lies, record, later, ["disinfect"], acts)["disinfect"]["parts"]["part"]
    assert "Stopped 10 Jun 2026 12:00" in re.sub(r"\s+", " ", shown)
    assert "C. Prudhomme told at the house, said it back" in re.sub(r"\s+", " ", shown)
    assert "M. Okafor told, way not noted" in re.sub(r"\s+", " ", shown)
    back = [*acts, waiting("timer-undo", later, "d", line="contact", reason="pressed by mistake")]
    again = pages_on_phone(lies, record, later, ["disinfect"], back)["disinfect"]["parts"]["part"]
    assert "Stopped" not in re.sub(r"Stopped by mistake|is stopped", "", again)
    assert 'data-started-at="2026-06-10T10:00:00-04:00"' in again
    with pytest.raises(Exception, match="pour"):
        timers.start_timer(record=record, line_key="contact", by=lead, now=NOW)


def test_a_line_that_is_left_answers_as_the_office_does(lies, house):
    record, lead = house
    answer_all(record, lead, answers=READINGS, without=("tap-iron",))
    typed = {"item": "tap-iron", "tap-iron": "0.4", "tap-iron~unit": "mg/L"}
    given = handed(facts_for_phone(record, now=NOW), at=NOW)
    said = {
        "key": "tap-iron",
        "typed": typed,
        "shown": [],
        "now": timezone.localtime(NOW).isoformat(),
        "waiting": [{**act("tap-iron", "0.4", NOW, unit="mg/L"), "uuid": "a"}],
    }
    wrong = said | {"typed": typed | {"tap-iron": "about 4"}, "waiting": []}
    (answered,), _ = on_phone(lies, [[["open", given], ["saved", said], ["saved", wrong]]])
    path = reverse("record-answer", args=[record.pk])
    kept = signed_in(lead).post(path, typed)
    assert plain(answered[1]["html"]) == plain(kept.content.decode())
    assert (answered[1]["status"], answered[2]["status"]) == (200, 422)
    refused = signed_in(lead).post(path, typed | {"tap-iron": "about 4"})
    assert refused.status_code == 422
    sentence = re.search(r"Not saved.</strong>\s*([^<]+)", refused.content.decode())[1].strip()
    assert sentence in answered[2]["html"]


def other_page(lies, record, now, kind, waiting=()):
    """The overview or the closing of a record."""
    said = {"page": kind, "address": "/{}/", "now": now.isoformat(), "waiting": list(waiting)}
    given = handed(facts_for_phone(record, now=now), at=now)
    (answered,), _ = on_phone(lies, [[["open", given], ["page", said]]])
    return answered[1]["parts"]


def test_a_notice_raised_on_the_phone_lies_over_the_pages_of_the_house(lies, house, clock):
    record, lead = house
    answer_all(record, lead, without=("tap-iron",))
    told = {"level": "no_use", "cause": "other", "reason": " smells of fuel "}
    here = waiting("notice", NOW, named("here"), site=str(record.site_id), **told)
    again = waiting("notice", NOW, named("again"), site=record.site_id, **told | {"reason": "x"})
    stings = told | {"cause": "oxidant", "reason": "it stings"}
    beside = waiting("notice", NOW, named("beside"), site=record.site_id, **stings)
    elsewhere = waiting("notice", NOW, named("else"), site=record.site_id + 1, **told)
    blocks = [block.key for block in load_sheet(record, now=NOW).blocks]
    before = pages_on_phone(lies, record, NOW, blocks)
    assert pages_on_phone(lies, record, NOW, blocks, [elsewhere]) == before
    mine = pages_on_phone(lies, record, NOW, blocks, [here, again, beside])
    first = other_page(lies, record, NOW, "overview", [here, again, beside])
    clock(NOW)
    done_by(record, lead, [here, again, beside])
    theirs = pages_on_phone(lies, record, NOW, blocks)
    for block in blocks:
        assert mine[block]["parts"] == theirs[block]["parts"], block
    assert first == other_page(lies, record, NOW, "overview")
    assert "smells of fuel; x" in first["notices"]
    assert "it stings" in first["notices"], "another kind of evidence ends it"
    page = signed_in(lead).get(reverse("record-detail", args=[record.pk])).content.decode()
    assert plain(first["notices"]) in plain(page)


def test_what_is_typed_into_a_panel_stays_when_its_page_is_drawn_again(lies, house):
    record, lead = house
    answer_all(record, lead, without=("tap-iron",))
    page = on_server(lead, record, "dial-back")
    name = re.search(r'<input class="panel-box"[^>]* name="([^"]+)"', page)[1]
    boxes = {name: "17.5"}
    said = {"page": "part", "block": "dial-back", "now": NOW.isoformat(), "waiting": []}
    given = handed(facts_for_phone(record, now=NOW), at=NOW)
    calls = [["open", given], ["page", said | {"panel_boxes": boxes}]]
    (answered,), _ = on_phone(lies, [calls])
    mine = plain(answered[1]["parts"]["part"])
    path = reverse("record-block", args=[record.pk, "dial-back"])
    theirs = plain(part_of(signed_in(lead).get(path, boxes).content.decode()))
    assert theirs[: len(mine)].replace("technician-", "") == mine.replace("technician-", "")
    assert 'value="17.5"' in mine
