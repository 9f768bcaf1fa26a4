"""A whole start-up where there is no signal, driven by the hands of one technician.

Which parts a kind of system has, and which boxes stand on them, is read from the phone's own pages;
only what is poured and dialled in is told here.
"""

from dataclasses import dataclass, field

import pytest

from .answers import TYPED
from .apart import DRAWN, KEEPS, KEPT
from .product import poll

AHEAD_H = 24
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
#: a system that was put into a house without one
FITTED = """
from django.contrib.auth.models import User
from django.utils import timezone
from equipment.models import Site, Stage, Train
from jobs.demo.cast import part_fields
from jobs.models.company import company_day
from jobs.workflows.trains import fit_stage, save_train
now, office = timezone.now(), User.objects.get(username="marit")
site = Site.objects.get(street="{street}")
day = company_day(now)
train = save_train(
    train=Train(site=site, installed_on=day, designed_by=office, installed_by=office),
    wells=site.wells.all(), by=office, now=now)
for position, part in enumerate({parts!r}, 1):
    stage = Stage(train=train, position=position, fitted_on=day, **part_fields(part))
    fit_stage(stage=stage, by=office, now=now)
"""
#: what the office holds of these acts, and of the record
HELD = """
import json
from jobs.models import Act, ChecklistRecord
acts = Act.objects.filter(uuid__in={names!r})
record = ChecklistRecord.objects.get(job__visits={visit})
print(json.dumps({{
    "states": [act.answer.state for act in acts],
    "record": record.pk,
    "steps": record.steps.count(),
    "waits": [(t.stopped_at - t.started_at).total_seconds() / 3600 for t in record.timers.all()],
    "poured": record.poured.count(),
    "answers": {{f"{{a.line_key}}/{{a.stage_id}}/{{a.tank}}/{{a.side}}": a.text
                 for a in record.answers.all()}},
}}))
"""
#: glasses, what must pass and states of lines of a page of text, or of the one that stands
SHOWN = """(html) => {
  const page = html ? new DOMParser().parseFromString(html, "text/html") : document;
  const shown = {};
  for (const part of page.querySelectorAll(".measure[id], #gates, #answers [id^='s-']")) {
    const copy = part.cloneNode(true);
    for (const mark of copy.querySelectorAll(".worked-out")) mark.remove();
    for (const more of copy.querySelectorAll("details")) more.open = false;
    shown[part.id] = copy.innerHTML.replace(/\\d\\d:\\d\\d/g, "")
      .replace(/records\\/\\d+\\//g, "records/N/").replace(/\\s+/g, " ").trim();
  }
  return shown;
}"""
OF_THE_OFFICE = "async (address) => (await fetch(address)).text()"


@dataclass(frozen=True)
class Kind:
    """A house and what is told of its start-up; what it may cost at most."""

    street: str
    told: dict
    most_taps: int
    most_keys: int
    #: of the dial-back: setting, band of the strip and look of the glass; none without a pump
    steps: list = field(default_factory=list)
    pours: bool = False
    promises: frozenset = frozenset()
    #: lines at which something else was read or mixed than what is offered there
    types_over: frozenset = frozenset()
    #: parts that were put in before the visit, in the order of the water
    fitted: tuple = ()


def cut(phone, server):
    server.stop()
    phone.context.set_offline(True)


def back(phone, server):
    """The office is there again, a day later by its clock; a demo gives new passwords."""
    server.set_ahead(AHEAD_H)
    server.start()
    phone.context.set_offline(False)
    phone.sign_in(phone.name)


def arrive_and_begin(phone):
    """From the card of the day to the first question of the record, each press kept here."""
    page = phone.page
    page.goto("/my-day/")
    poll(lambda: page.evaluate(KEEPS) == "yes")
    card = page.locator("li", has=page.locator(f"a[href='/visits/{phone.visit}/']")).first
    card.get_by_role("button", name="I have arrived").click()
    page.wait_for_url(f"**/visits/{phone.visit}/")
    poll(lambda: page.evaluate(KEEPS) == "yes")
    page.get_by_role("button", name="Begin the record").click()
    page.wait_for_url(lambda url: "/isolate/" in url)
    assert "Arrived" not in page.locator("main").inner_text()
    poll(lambda: page.evaluate(DRAWN) != "0", 180)
    return 3  # taps, with the one that opens Today


def pour(technician):
    page = technician.page
    page.get_by_role("link", name="All told: pour").click()
    page.wait_for_url("**/pour/")
    poll(lambda: page.evaluate(KEEPS) == "yes")
    here = page.locator("button[data-tells]").first
    who = here.inner_text().split(" is told here and said it back")[0]
    here.click()
    assert page.get_by_label("Adult who was told").input_value() == who
    assert page.get_by_label("at the house").is_checked()
    assert page.get_by_label("They said it back").is_checked()
    page.get_by_label("Asked here for each of these").check()
    page.get_by_role("button", name="All told: pour").click()
    page.wait_for_url("**/disinfect/")
    technician.tap("button", 3)
    technician.tap("tick")
    poll(lambda: f"{who} told at the house, said it back" in technician.text(), 60)


def disinfect(technician):
    pour(technician)
    technician.press("start the contact time")
    technician.hours_pass(13)
    technician.press("The chlorine is being flushed out now")
    if technician.part == "disinfect":  # else nothing was open on it any more
        technician.fill_block()


def dial_back(technician, steps):
    technician.fill_block(without="feed-")  # drawn at the end, at the final setting
    technician.set_step(steps[0][0])
    assert technician.page.locator(".timer").count() == 1
    with technician.uncounted():  # by mistake: no part of a usual start-up
        technician.read_step(*steps[0][1:])
    assert "too early" in technician.text()
    technician.hours_pass(3)
    technician.read_step(*steps[0][1:])
    for setting, band, look in steps[1:]:
        technician.set_step(setting)
        technician.hours_pass(3)
        technician.read_step(band, look)
    assert "This setting stays" in technician.text()
    technician.press(f"{steps[-1][0]}")
    technician.fill_block()


def fill_all(technician, kind):
    """Part after part, as the button at the thumb leads; what each of them shows at the end."""
    assert technician.part == "isolate"  # a record opens on its next question
    parts = []
    while True:
        part = technician.part
        parts.append(part)
        if part == "dial-back":
            dial_back(technician, kind.steps)
        else:
            technician.fill_block()
        if part == "disinfect" and kind.pours:
            disinfect(technician)
        if not technician.go_on(part):
            break
    return parts


def shown_on(technician, parts):
    """What the phone shows on each part once all is typed; looked at again, so not counted."""
    shown = {}
    with technician.uncounted():
        for part in parts:
            technician.open_block(part)
            shown[part] = technician.page.evaluate(SHOWN, "")
    return shown


def shown_by_the_office(page, record, parts):
    return {
        part: page.evaluate(SHOWN, page.evaluate(OF_THE_OFFICE, f"/records/{record}/{part}/"))
        for part in parts
    }


def sent(phone):
    """Every act, once none of them waits."""

    def settled():
        rows = phone.page.evaluate(KEPT, phone.user)
        return rows and all(row["state"] != "waiting" for row in rows) and rows

    return poll(settled, 120)


def check_each_once(server, phone, kind, told, rows):
    """None lost, none twice, none refused; what was typed is what stands."""
    assert [row for row in rows if row["state"] != "kept"] == []
    assert {row["uuid"] for row in rows} <= {row["uuid"] for row in told}
    held = server.ask(HELD.format(names=[row["uuid"] for row in told], visit=phone.visit))
    assert held["states"] == ["kept"] * len(told)
    assert (held["steps"], held["poured"]) == (len(kind.steps), int(kind.pours))
    assert held["waits"] == pytest.approx([13] * kind.pours, abs=0.2)
    typed = {}
    for row in (row["payload"] for row in told if row["kind"] == "answer"):
        place = [row["line"], row["stage"], row["tank"] or 0, row["side"]]
        typed["/".join(map(str, place))] = row["text"]
    assert held["answers"] == typed
    return held["record"]
