"""A whole start-up where there is no signal: each entry has its effect once the office is there."""

import statistics
import time

import pytest

from .answers import STARTUP, STEPS, TYPED
from .apart import CLOCK, DRAWN, KEEPS, KEPT, Apart
from .product import poll
from .technician import pressed
from .test_technician_story import AFTER_DIAL, BEFORE_DIAL, BOOKED, STANDS
from .test_without_signal import take_along
from .visitors import PHONE, Visitor

pytestmark = pytest.mark.runtime

AHEAD_H = 24
#: with peroxide, two tanks and a disinfection, from the card of the day to the last part
MOST_TAPS, MOST_KEYS = 98, 135
USER = "SELECT id FROM auth_user WHERE username = '{}'"
#: what passes on the record that the phone is about to begin
TO_TYPE = TYPED.replace(
    "ChecklistRecord.objects.get(pk={record})", "to_begin(job=visit.job, by=visit.lead, now=now)"
).replace(
    "from jobs.models import ChecklistRecord",
    "from jobs.models import Visit\n"
    "from jobs.workflows.records import to_begin\n"
    "visit = Visit.objects.get(pk={visit})",
)
#: what the office holds of these acts, and of the record
HELD = """
import json
from jobs.models import Act, ChecklistRecord
acts = Act.objects.filter(uuid__in={names!r})
record = ChecklistRecord.objects.get(job__visits={visit})
print(json.dumps({{
    "states": [act.answer.state for act in acts],
    "steps": record.steps.count(),
    "waits": [(t.stopped_at - t.started_at).total_seconds() / 3600 for t in record.timers.all()],
    "poured": record.poured.count(),
    "answers": {{f"{{a.line_key}}/{{a.stage_id}}/{{a.tank}}/{{a.side}}": a.text
                 for a in record.answers.all()}},
}}))
"""


@pytest.fixture
def phone(browser, server):
    booked = server.ask(BOOKED.format(street="12 Sedgewren Lane"))
    person = Visitor(browser, server.url, size=PHONE, is_cut=True)
    person.context.add_init_script(CLOCK)
    person.sign_in(booked["lead"])
    person.visit, person.name = booked["visit"], booked["lead"]
    person.user = server.rows(USER.format(booked["lead"]))[0][0]
    yield person
    person.close()
    assert person.trouble == []


def cut(phone, server):
    server.stop()
    phone.context.set_offline(True)


def back(phone, server):
    """The office is there again, a day later by its clock; a demo gives new passwords."""
    server.set_ahead(AHEAD_H)
    server.start()
    phone.context.set_offline(False)
    phone.sign_in(phone.name)


def pour(technician):
    page = technician.page
    page.get_by_role("link", name="All told: pour").click()
    page.wait_for_url("**/pour/")
    poll(lambda: page.evaluate(KEEPS) == "yes")
    name = page.locator("button[data-puts]").first
    who = name.get_attribute("data-puts")
    name.click()
    assert page.get_by_label("Adult who was told").input_value() == who
    page.get_by_label("Asked here for each of these").check()
    page.get_by_role("button", name="All told: pour").click()
    page.wait_for_url("**/disinfect/")
    technician.tap("button", 3)
    technician.tap("tick")
    poll(lambda: f"{who} told" in technician.text(), 60)


def disinfect(technician):
    pour(technician)
    technician.page.get_by_label("The chlorine is poured").check()
    technician.tap("tick")
    technician.press("Start the contact time")
    technician.hours_pass(13)
    technician.press("The chlorine is being flushed out now")
    technician.fill_block()


def dial_back(technician):
    technician.open_block("dial-back")
    technician.fill_block(without="feed-")  # drawn at the end, at the final setting
    technician.set_step(STEPS[0][0])
    assert technician.page.locator(".timer").count() == 1
    with technician.uncounted():  # by mistake: no part of a usual start-up
        technician.read_step(*STEPS[0][1:])
    assert "too early" in technician.text()
    technician.hours_pass(3)
    technician.read_step(*STEPS[0][1:])
    technician.set_step(STEPS[1][0])
    technician.hours_pass(3)
    technician.read_step(*STEPS[1][1:])
    assert "This setting stays" in technician.text()
    technician.press(f"{STEPS[-1][0]}")
    technician.fill_block()


def fill_all(technician):
    for block in BEFORE_DIAL:
        technician.open_block(block)
        technician.fill_block()
        if block == "disinfect":
            disinfect(technician)
    dial_back(technician)
    for block in AFTER_DIAL:
        technician.open_block(block)
        technician.fill_block()


def sent(phone):
    """Every act, once none of them waits."""

    def settled():
        rows = phone.page.evaluate(KEPT, phone.user)
        return rows and all(row["state"] != "waiting" for row in rows) and rows

    return poll(settled, 120)


def arrive_and_begin(phone):
    """From the card of the day to the first page of the record, each press kept here."""
    page = phone.page
    page.goto("/my-day/")
    poll(lambda: page.evaluate(KEEPS) == "yes")
    card = page.locator("li", has=page.locator(f"a[href='/visits/{phone.visit}/']")).first
    card.get_by_role("button", name="I have arrived").click()
    page.wait_for_url(f"**/visits/{phone.visit}/")
    page.get_by_role("link", name="Begin the record").click()
    page.wait_for_url("**/record/")
    assert "Arrived" not in page.locator("main").inner_text()
    poll(lambda: page.evaluate(KEEPS) == "yes")
    page.get_by_role("button", name="Start-up", exact=True).click()
    page.wait_for_url("**/records/*/")
    poll(lambda: page.evaluate(DRAWN) != "0", 180)
    return 4  # taps


def all_but_the_notice(technician):
    """What was raised is lifted where the office is asked; nothing else stands open."""
    overview = technician.page.locator(f"main a[href='/records/{technician.record}/']")
    technician.drawn(overview.first.click)
    technician.tap("all parts")
    poll(lambda: "1 answer is still open" in technician.text())
    assert "the notice still stands" in technician.text()
    poll(lambda: "The office does not know yet" in technician.text())


def lift_and_close(phone, technician, number):
    """Lifted with signal; the closing is kept without it, and closes as it arrives."""
    page = phone.page
    page.goto(f"/records/{number}/flush/")  # the one that the phone knows
    pressed(page, page.get_by_role("button", name="The chlorine is out"))
    record = int(page.url.split("/records/")[1].split("/")[0])
    take_along(page)
    phone.context.set_offline(True)
    page.goto(f"/records/{record}/")
    poll(lambda: page.evaluate(DRAWN) != "0", 180)
    technician.drawn(page.get_by_role("link", name="Close the record").click)
    technician.press("Close the record")
    poll(lambda: "closes when it has reached the office" in technician.text())
    phone.context.set_offline(False)
    sent(phone)
    return record


def test_a_start_up_without_signal_reaches_the_office_whole(phone, server, capsys):
    page = phone.page
    answers = server.ask(TO_TYPE.format(visit=phone.visit, told=STARTUP))
    take_along(page)
    cut(phone, server)
    begun = time.monotonic()
    taps = arrive_and_begin(phone)
    technician = Apart(phone, server, answers=answers)
    technician.tap("button", taps)
    fill_all(technician)
    all_but_the_notice(technician)
    seconds = time.monotonic() - begun
    number, told = technician.record, page.evaluate(KEPT, phone.user)
    assert {row["state"] for row in told} == {"waiting"}
    back(phone, server)
    check_each_once(server, phone, told, sent(phone))
    record = lift_and_close(phone, technician, number)
    stands = server.ask(STANDS.format(record=record))
    assert stands["status"] == "closed"
    assert {"f1", "f2", "f3", "f11"} <= set(stands["promises"])
    assert stands["setting"] == float(STEPS[-1][0])
    assert technician.taps <= MOST_TAPS
    assert technician.keys <= MOST_KEYS
    with capsys.disabled():
        print(
            f"\n{len(told)} acts kept without signal: {technician.taps} taps, "
            f"{technician.keys} keys, {seconds:.0f} s of this machine, "
            f"median {statistics.median(technician.saves_ms):.0f} ms for an answer\n"
            f"{dict(technician.counted)}"
        )


def check_each_once(server, phone, told, rows):
    """None lost, none twice, none refused; what was typed is what stands."""
    assert [row for row in rows if row["state"] != "kept"] == []
    assert {row["uuid"] for row in rows} <= {row["uuid"] for row in told}
    held = server.ask(HELD.format(names=[row["uuid"] for row in told], visit=phone.visit))
    assert held["states"] == ["kept"] * len(told)
    assert (held["steps"], held["poured"]) == (2, 1)
    assert held["waits"] == pytest.approx([13], abs=0.2)
    typed = {}
    for row in (row["payload"] for row in told if row["kind"] == "answer"):
        place = [row["line"], row["stage"], row["tank"] or 0, row["side"]]
        typed["/".join(map(str, place))] = row["text"]
    assert held["answers"] == typed
