"""Somebody calls: a note to answer, or water that stings and a visit the same day."""

from __future__ import annotations

import uuid
from datetime import timedelta

from jobs.models import DoNotUse, FollowUp, Job, NoticeTold, PhoneCall
from jobs.models.company import company_day
from jobs.workflows.held import Held
from jobs.workflows.jobs import Wanted
from jobs.workflows.notice_telling import take_back_notice, tell_notice
from jobs.workflows.notices import OutOfPipes, lift_notice
from jobs.workflows.phone_calls import (
    Agreed,
    Said,
    answer_call,
    end_with_note,
    end_with_visit,
    keep_call,
)
from jobs.workflows.telling import Adult

from .booking import begun, ended, held_for
from .cast import OFFICE_HOUR, House, Told, World

#: from the call to the visit of the same day
COMES_AFTER = timedelta(hours=2, minutes=15)


def called(world: World, house: House, act: Told) -> None:
    """Taken by the office; `answer` says when and what was said, `visit` who comes for it."""
    held = held_for(world, act["visit"] | {"day": act["day"]}, 90) if "visit" in act else None
    now = world.calendar.moment(act["day"], act.get("hour", OFFICE_HOUR))
    now = held.starts_at - COMES_AFTER if held else now
    said = Said(
        caller=act["caller"],
        number=act["number"],
        words=act["words"],
        dangers=tuple(act.get("dangers", ())),
        asked_all=True,
        read_out=bool(act.get("dangers")),
    )
    call = keep_call(name=uuid.uuid4(), site=house.site, said=said, by=world.office, now=now)
    if "wrong_house" in act:
        _taken_back(world, house, call, why=act["wrong_house"])
    if held:
        _come(world, house, act, call=call, held=held)
        return
    by_day = world.calendar.day(act["answer_by"])
    call = end_with_note(call=call, answer_by=by_day, answerer=None, by=world.office, now=now)
    if "answer" in act:
        later = world.calendar.moment(act["answered"], 16.0)
        answer_call(call=call, answer=act["answer"], by=world.office, now=later)


def _come(world: World, house: House, act: Told, *, call: PhoneCall, held: Held) -> None:
    """A visit the same day takes along what the call promised, and reads the taps at its end."""
    now = call.at
    due = FollowUp.objects.open().filter(site=house.site, made_at=now)
    agreed = Agreed(held=held, along=tuple(due), on_the_call=True)
    visit = end_with_visit(
        call=call,
        wanted=Wanted(Job.Kind.REPAIR, company_day(now), act["words"]),
        train=house.train,
        agreed=agreed,
        by=world.office,
        now=now,
    )
    if not begun(world, visit):
        return
    ended(world, house, visit, outcome_note=act["visit"]["found"])
    taps = OutOfPipes(*act["visit"]["taps"])
    for notice in DoNotUse.objects.standing().filter(site=house.site, occasion=call.uuid):
        read_at = visit.ends_at + timedelta(minutes=5)
        lift_notice(notice=notice, by=world.office, now=read_at, reading=taps)


def _taken_back(world: World, house: House, call: PhoneCall, *, why: str) -> None:
    """Meant for another house: an hour later it ends under the office's name, and they are rung."""
    notice = DoNotUse.objects.standing().filter(site=house.site, occasion=call.uuid).earliest("pk")
    later = call.at + timedelta(hours=1)
    take_back_notice(notice=notice, reason=why, by=world.office, now=later)
    caller = Adult(call.caller, "telephone", call.number, read_back=True)
    for told in NoticeTold.objects.filter(notice__occasion=call.uuid):  # no letter of then is sent
        tell_notice(
            notice=told.notice,
            site=house.site,
            customer=told.customer,
            adult=caller,
            by=world.office,
            now=later + timedelta(minutes=10),
        )
