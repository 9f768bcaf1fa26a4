"""What happens now and then: a notice held, a record put right, a customer asked by mail; and what
the owner changes for the whole company."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

from jobs.mail.links import AnswerClaim, answer_token
from jobs.models import (
    ChecklistRecord,
    ChecklistTemplate,
    DoNotUse,
    FollowUpRule,
    Photo,
    SiteTenure,
    Visit,
)
from jobs.records.loading import load_sheet
from jobs.records.poured import poured_of
from jobs.workflows import checklist_templates
from jobs.workflows.contacts import add_contact, change_contact
from jobs.workflows.corrections import Right, correct_record
from jobs.workflows.photos import remove
from jobs.workflows.rules import end_rule, save_rule
from jobs.workflows.step_corrections import RightStep, RightWait, correct_step, correct_wait
from jobs.workflows.telling_corrections import RightTelling, correct_telling
from jobs.workflows.treated import Holding, hold
from jobs.workflows.visit_answers import answer
from jobs.workflows.visits import book_visit, propose_visit

from .billing import billed
from .booking import booked_at, held_for, job_for
from .cast import OFFICE_HOUR, House, Told, World, adult_of, called
from .letters import mail_answered
from .licences import licence_corrected, licence_entered, licence_renewed
from .phones import phone_heard
from .recalls import recall_opened
from .two_stages import laboratory_day
from .working_time import away, day_closed, drives, hours, needs

Deed = Callable[[World, Told], None]


def held(world: World, house: House, act: Told) -> None:
    """Bacteria stay in the well; treatment keeps them from the taps of this house."""
    holding = Holding(
        alarm=act["alarm"],
        alarm_tested_on=world.calendar.day(act["tested"]),
        told=adult_of(house, act["whom"], on=world.calendar.day(act["day"])),
    )
    hold(
        notice=DoNotUse.objects.standing().at_site(house.site).get(level="no_drinking"),
        site=house.site,
        holding=holding,
        by=world.office,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )


def corrected(world: World, house: House, act: Told) -> None:
    """A figure of a closed record was written wrong; its technician says so days later."""
    record = _first_closed(house)
    correct_record(
        record=record,
        item_key=act["line"],
        side="",
        right=Right(text=act["text"], reason=act["note"], unit=act.get("unit", "")),
        by=record.opened_by,
        now=world.calendar.moment(act["day"], 16.0),
    )


def corrected_step(world: World, house: House, act: Told) -> None:
    """What was read at a step of the dial-back was written down wrong."""
    record = _first_closed(house)
    step = next(s for s in load_sheet(record, now=world.now).steps if s.number == act["step"])
    low, high = act["residual"]
    right = RightStep(
        setting=step.setting,
        set_at=step.set_at,
        read_at=step.read_at,
        residual_low=low,
        residual_high=high,
        reason=act["note"],
    )
    now = world.calendar.moment(act["day"], 16.0)
    correct_step(record=record, number=step.number, right=right, by=record.opened_by, now=now)


def corrected_wait(world: World, house: House, act: Told) -> None:
    """A wait began later than its clock says, or lasted so many hours."""
    record = _first_closed(house)
    wait = record.timers.get(line_key=act["line"])
    began = wait.started_at + timedelta(minutes=act.get("later", 0))
    over = began + timedelta(hours=act["lasted"]) if "lasted" in act else wait.stopped_at
    right = RightWait(started_at=began, stopped_at=over, reason=act["note"])
    now = world.calendar.moment(act["day"], 16.0)
    correct_wait(record=record, line_key=act["line"], right=right, by=record.opened_by, now=now)


def corrected_telling(world: World, house: House, act: Told) -> None:
    """Somebody else was told before the chlorine went in than was written down."""
    record = _first_closed(house)
    (row,) = (each for each in poured_of(record) if each.house == house.site.pk)
    adult = replace(called(world.customers[house.told["holder"]]), whom=act["whom"])
    right = RightTelling(adult=adult, told_at=row.told_at or row.at, reason=act["note"])
    now = world.calendar.moment(act["day"], 16.0)
    correct_telling(record=record, house=row.house, right=right, by=record.opened_by, now=now)


def _first_closed(house: House) -> ChecklistRecord:
    records = ChecklistRecord.objects.filter(job__site=house.site, status="closed")
    record = records.order_by("closed_at").first()
    assert record
    return record


def photo_removed(world: World, house: House, act: Told) -> None:
    """The office takes a photo away that nobody should see."""
    photo = Photo.objects.get(record__job__site=house.site, caption=act["says"])
    remove(photo=photo, by=world.office, now=world.calendar.moment(act["day"], OFFICE_HOUR))


def proposed(world: World, house: House, act: Told) -> None:
    """Time is held, the customer is asked by mail whether it suits, and says yes."""
    job, now = job_for(world, house, act, act["kind"]), booked_at(world, act)
    visit = book_visit(
        job=job,
        held=held_for(world, act, 60),
        by=world.office,
        now=now,
        status=Visit.Status.TENTATIVE,
    )
    visit = propose_visit(visit=visit, by=world.office, now=now + timedelta(minutes=2))
    assert job.customer
    claim = AnswerClaim(visit.pk, visit.sequence, job.customer.pk)
    answer(token=answer_token(claim), choice="confirm", now=now + timedelta(hours=5))


# --- of the whole company -------------------------------------------------------------------------


def rule_added(world: World, act: Told) -> None:
    rule = FollowUpRule(code="", **act["rule"])
    now = world.calendar.moment(act["day"], 19.0)
    save_rule(rule=rule, seen=0, by=world.owner, now=now, reason=act["note"])


def rule_ended(world: World, act: Told) -> None:
    rule = FollowUpRule.objects.get(name=act["name"])
    now = world.calendar.moment(act["day"], 19.0)
    end_rule(rule=rule, give_up=True, reason=act["note"], by=world.owner, now=now)


def line_changed(world: World, act: Told) -> None:
    checklist_templates.change_line(
        template=ChecklistTemplate.objects.get(purpose=act["purpose"], is_current=True),
        key=act["line"],
        changes=act["changes"],
        by=world.owner,
        now=world.calendar.moment(act["day"], 19.0),
    )


def line_added(world: World, act: Told) -> None:
    checklist_templates.add_line(
        template=ChecklistTemplate.objects.get(purpose=act["purpose"], is_current=True),
        block=act["block"],
        asked=act["asked"],
        by=world.owner,
        now=world.calendar.moment(act["day"], 19.0),
    )


DEEDS: dict[str, Deed] = {
    "rule_added": rule_added,
    "rule_ended": rule_ended,
    "line_changed": line_changed,
    "line_added": line_added,
    "mail_answered": mail_answered,
    "phone_heard": phone_heard,
    "hours": hours,
    "away": away,
    "day_closed": day_closed,
    "drives": drives,
    "needs": needs,
    "laboratory_day": laboratory_day,
    "billed": billed,
    "recall_opened": recall_opened,
    "licence_entered": licence_entered,
    "licence_renewed": licence_renewed,
    "licence_corrected": licence_corrected,
}


def joined(world: World, house: House, act: Told) -> None:
    """Somebody becomes a contact of the house: in which part, told what."""
    says = {key: value for key, value in act.items() if key not in ("day", "do", "who")}
    tenure = SiteTenure(
        site=house.site,
        customer=world.customers[act["who"]],
        from_on=world.calendar.day(act["day"]),
        **{"is_contact": False, **says},
    )
    add_contact(tenure=tenure, by=world.office, now=world.calendar.moment(act["day"], OFFICE_HOUR))


def told_other_things(world: World, house: House, act: Told) -> None:
    """A contact is told other things from now on, or pays."""
    whose = world.customers[act["who"]]
    tenure = SiteTenure.objects.open().get(site=house.site, customer=whose)
    for key, value in act.items():
        if key not in ("day", "do", "who"):
            setattr(tenure, key, value)
    now = world.calendar.moment(act["day"], OFFICE_HOUR)
    change_contact(tenure=tenure, version=tenure.version, by=world.office, now=now)
