"""A whole start-up where there is no signal: each entry has its effect once the office is there."""

import statistics
import time

import pytest

from .answers import CHLORINE, STARTUP, STEPS
from .apart import CLOCK, DRAWN, KEPT, Apart
from .product import poll
from .start_ups import (
    FITTED,
    TO_TYPE,
    USER,
    Kind,
    arrive_and_begin,
    back,
    check_each_once,
    cut,
    fill_all,
    sent,
    shown_by_the_office,
    shown_on,
)
from .technician import pressed
from .test_technician_story import BOOKED, STANDS
from .test_without_signal import take_along
from .visitors import PHONE, Visitor

pytestmark = pytest.mark.runtime

NEUTRALIZER_AND_CARBON = (
    {"kind": "neutralizer", "vessel": "vessel-10x54", "medium": "calcite", "bed_depth_in": 30,
     "media_volume_ft3": 1.4},
    {"kind": "filter", "label": "Carbon filter", "vessel": "vessel-10x54",
     "medium": "catalytic-carbon", "bed_depth_in": 36, "media_volume_ft3": 1.6},
)  # fmt: skip
#: from the card of the day to the last part
KINDS = {
    # two tanks and a disinfection
    "peroxide": Kind(
        "12 Sedgewren Lane",
        STARTUP,
        most_taps=74,
        most_keys=118,
        steps=STEPS,
        pours=True,
        promises=frozenset({"f1", "f2", "f3", "f11"}),
    ),
    # a weak solution, since chlorine is fed for little iron and less sulfide
    "chlorine": Kind(
        "5 Thistlecombe Road",
        CHLORINE,
        most_taps=65,
        most_keys=117,
        steps=[("70", "0-0.5", "milky"), ("86", "1-2", "clear")],
        pours=True,
        promises=frozenset({"f1", "f2", "f3", "f11"}),
        types_over=frozenset({"solution-strength"}),
    ),
    # no dosing pump, nothing poured
    "filter": Kind(
        "88 Teaselby Bend",
        {"disinfect-scope": "not_needed"},
        most_taps=23,
        most_keys=69,
        fitted=NEUTRALIZER_AND_CARBON,
    ),
    "softener": Kind(
        "9 Bramblewick Court", {"disinfect-scope": "not_needed"}, most_taps=25, most_keys=79
    ),
}


@pytest.fixture
def phone_at(browser, server):
    """phone_at(kind) -> a phone whose person has a start-up of that kind today."""
    people = []

    def start(kind):
        if kind.fitted:
            server.ask(FITTED.format(street=kind.street, parts=kind.fitted))
        booked = server.ask(BOOKED.format(street=kind.street))
        person = Visitor(browser, server.url, size=PHONE, is_cut=True)
        people.append(person)
        person.context.add_init_script(CLOCK)
        person.sign_in(booked["lead"])
        person.visit, person.name = booked["visit"], booked["lead"]
        person.user = server.rows(USER.format(booked["lead"]))[0][0]
        return person

    yield start
    for person in people:
        person.close()
        assert person.trouble == []


def all_but_the_notice(technician, parts):
    """What was raised is lifted where the office is asked; nothing else stands open."""
    technician.overview()
    assert technician.open_answers() == 1, technician.text()
    assert f"All {len(parts)} parts" in technician.text(), "one was opened by an answer"
    assert "the notice still stands" in technician.text()
    poll(lambda: "The office does not know yet" in technician.text())


def lift(phone, number):
    """With signal, on the page that the phone knows."""
    page = phone.page
    page.goto(f"/records/{number}/flush/")
    pressed(page, page.get_by_role("button", name="The chlorine is out"))


def close(phone, technician, record):
    """Kept without signal, and closed as it arrives."""
    page = phone.page
    take_along(page)
    phone.context.set_offline(True)
    page.goto(f"/records/{record}/")
    poll(lambda: page.evaluate(DRAWN) != "0", 180)
    technician.drawn(page.get_by_role("link", name="Close the record").click)
    technician.press("Close the record")
    poll(lambda: "closes when it has reached the office" in technician.text())
    phone.context.set_offline(False)
    sent(phone)


@pytest.mark.parametrize("name", KINDS)
def test_a_start_up_without_signal_reaches_the_office_whole(name, phone_at, server, capsys):
    kind = KINDS[name]
    phone = phone_at(kind)
    page = phone.page
    answers = server.ask(TO_TYPE.format(visit=phone.visit, told=kind.told))
    take_along(page)
    cut(phone, server)
    begun = time.monotonic()
    taps = arrive_and_begin(phone)
    technician = Apart(phone, server, answers=answers, types_over=kind.types_over)
    technician.tap("button", taps)
    parts = fill_all(technician, kind)
    if kind.pours:
        all_but_the_notice(technician, parts)
    seconds = time.monotonic() - begun
    shown = shown_on(technician, parts)
    number, told = technician.record, page.evaluate(KEPT, phone.user)
    assert {row["state"] for row in told} == {"waiting"}
    back(phone, server)
    record = check_each_once(server, phone, kind, told, sent(phone))
    assert shown == shown_by_the_office(page, record, parts)
    if kind.pours:
        lift(phone, number)
    close(phone, technician, record)
    stands = server.ask(STANDS.format(record=record))
    assert stands["status"] == "closed"
    assert kind.promises <= set(stands["promises"])
    assert stands["setting"] == (float(kind.steps[-1][0]) if kind.steps else None)
    with capsys.disabled():
        print(
            f"\n{name}: {len(told)} acts kept without signal, {len(parts)} parts: "
            f"{technician.taps} taps, {technician.keys} keys, {seconds:.0f} s of this machine, "
            f"median {statistics.median(technician.saves_ms):.0f} ms for an answer\n"
            f"{dict(technician.counted)}"
        )
    assert technician.taps <= kind.most_taps
    assert technician.keys <= kind.most_keys
