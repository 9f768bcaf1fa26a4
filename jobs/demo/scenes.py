"""What happens now and then: a notice held, a record put right, a customer asked by mail; and what
the owner changes for the whole company."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from jobs.mail.links import AnswerClaim, answer_token
from jobs.models import ChecklistRecord, ChecklistTemplate, DoNotUse, FollowUpRule, Visit
from jobs.workflows import checklist_templates
from jobs.workflows.corrections import Right, correct_record
from jobs.workflows.rules import end_rule, save_rule
from jobs.workflows.treated import Holding, hold
from jobs.workflows.visit_answers import answer
from jobs.workflows.visits import book_visit, propose_visit

from .booking import booked_at, held_for, job_for
from .cast import OFFICE_HOUR, House, Told, World, adult_of
from .phones import phone_heard

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
    records = ChecklistRecord.objects.filter(job__site=house.site, status="closed")
    record = records.order_by("closed_at").first()
    assert record
    correct_record(
        record=record,
        item_key=act["line"],
        side="",
        right=Right(text=act["text"], reason=act["note"], unit=act.get("unit", "")),
        by=record.opened_by,
        now=world.calendar.moment(act["day"], 16.0),
    )


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


DEEDS: dict[str, Deed] = {
    "rule_added": rule_added,
    "rule_ended": rule_ended,
    "line_changed": line_changed,
    "phone_heard": phone_heard,
}
