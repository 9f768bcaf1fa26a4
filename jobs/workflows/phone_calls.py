"""A call as it is taken: kept, its dangers acted on at once, ended by a visit or a note."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Site, SpecialUse, Well
from jobs.errors import BadEntry, WrongState
from jobs.fieldwork.dangers import RED
from jobs.fieldwork.dangers import Told as Told
from jobs.fieldwork.kinds import NoticeLevel
from jobs.mail.about import visit_confirmation
from jobs.models import DoNotUse, FollowUp, FollowUpRule, PhoneCall, SiteTenure, Visit
from jobs.models.company import company_day

from . import follow_ups
from .held import Held
from .jobs import Wanted, open_job
from .log import log
from .notice_telling import tell_caller
from .notices import Danger, open_notice
from .reasons import SHORT, reason_given
from .sites import note_special_use
from .telling import Adult, Call, How, tell_by_telephone
from .visits import book_visit

End = PhoneCall.End


@dataclass(frozen=True)
class Said:
    """What the caller says, and what was asked and read out."""

    caller: str = ""
    number: str = ""
    words: str = ""
    dangers: tuple[str, ...] = ()
    asked_all: bool = False
    read_out: bool = False
    #: where the house has several wells: the one that is meant, None for all of them
    well: Well | None = None
    #: boxes of the page as they stand
    typed: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True)
class Agreed:
    """A visit agreed on the telephone: when, what comes along, and who knows of it."""

    held: Held
    note: str = ""
    along: tuple[FollowUp, ...] = ()
    #: they said day and hours back on this call
    on_the_call: bool = False
    #: a letter says it too, where they can be mailed
    by_mail: bool = True


@transaction.atomic
def keep_call(
    *, name: uuid.UUID, site: Site | None, said: Said, by: User, now: datetime
) -> PhoneCall:
    """The call as it stands; whatever is new of danger is acted on. Again changes nothing.

    `name` was made when the page was opened, so that sending it again is the same call.
    """
    _check(said)
    call, _ = PhoneCall.objects.select_for_update().get_or_create(
        uuid=name, defaults={"at": now, "by": by}
    )
    if call.end or call.taken_back_at:
        return call
    known = set(call.dangers) if site and call.site_id == site.pk else set()
    if not said.read_out:
        call.read_out_at, call.read_out_by = None, None
    elif said.dangers and (call.read_out_at is None or set(said.dangers) - set(call.dangers)):
        call.read_out_at, call.read_out_by = now, by
    call.site, call.customer = site, _customer(site, said, company_day(now))
    call.caller, call.number, call.words = said.caller, said.number, said.words
    call.dangers = list(dict.fromkeys([*call.dangers, *said.dangers]))
    call.asked_all, call.typed = said.asked_all, said.typed
    call.save()
    if site:
        for key in [each for each in call.dangers if each not in known]:
            _act_on(call, site, Told(key), said.well, by=by, now=now)
    if site and call.read_out_at:
        _heard(call, site, by=by, now=now)
    return call


def _heard(call: PhoneCall, site: Site, *, by: User, now: datetime) -> None:
    """Who holds the house and called knows what was read out; a neighbour who calls is not them."""
    who, digits = call.customer, "".join(filter(str.isdigit, call.number))[-7:]
    if who is None:
        return
    is_named = call.caller.strip().casefold() in ("", who.name.casefold())
    if not is_named and not (digits and digits in who.phone_digits):
        return
    number = call.number.strip() or next((phone.as_national for phone in who.phones), "")
    whom = call.caller.strip() or who.name
    adult = Adult(whom, How.TELEPHONE.value, number, read_back=True)
    tell_caller(occasion=call.uuid, site=site, adult=adult, customer=who, by=by, now=now)


def _check(said: Said) -> None:
    for key in said.dangers:
        if key not in RED:
            raise BadEntry("This is none of the red questions.", field="dangers")


def _customer(site: Site | None, said: Said, day: date) -> Any:
    """Who holds the house and calls, by name, else by number; else whom we call there."""
    if site is None:
        return None
    digits = "".join(filter(str.isdigit, said.number))[-7:]
    rows = list(SiteTenure.objects.at(day).of_site(site).order_by("-is_contact", "-from_on"))
    name = said.caller.strip().casefold()
    named = [row for row in rows if row.customer.name.casefold() == name]
    of_number = [row for row in rows if digits and digits in row.customer.phone_digits]
    return next((row.customer for row in [*named, *of_number, *rows]), None)


def _act_on(
    call: PhoneCall, site: Site, told: Told, well: Well | None, *, by: User, now: datetime
) -> None:
    """The notice, the use of the water, and what is promised."""
    red = RED[told]
    reason = f"told on the telephone: {red.title[:1].lower()}{red.title[1:]}"
    wells: list[Well | None] = [well] if well else list(Well.objects.at_site(site))
    if red.level == NoticeLevel.NO_USE or not wells:
        wells = [None]
    for each in wells if red.level else []:
        danger = Danger(site, red.level, reason, red.cause, each, call.uuid)
        open_notice(danger=danger, by=by, now=now)
    kind = SpecialUse.Kind.DIALYSIS
    standing = SpecialUse.objects.filter(site=site, kind=kind, ended_on=None)
    if told == Told.DIALYSIS and not standing.exists():
        use = SpecialUse(site=site, kind=kind, noted_on=company_day(now), note="told by telephone")
        note_special_use(use=use, by=by, now=now)
    follow_ups.happened(
        event=FollowUpRule.Event.DANGER_TOLD,
        about=follow_ups.About(site),
        day=company_day(now),
        by=by,
        now=now,
        danger=told.value,
    )


@transaction.atomic
def end_with_visit(
    *, call: PhoneCall, wanted: Wanted, train: Any, agreed: Agreed, by: User, now: datetime
) -> Visit:
    """Open the job, book its visit, take promises along, and keep who was told on this call."""
    call = _to_end(call)
    if call.site is None:
        raise BadEntry("Choose the house, or enter a new one.", field="house")
    job = open_job(site=call.site, train=train, wanted=wanted, by=by, now=now)
    visit = book_visit(
        job=job,
        held=agreed.held,
        note=agreed.note,
        follow_ups=agreed.along,
        writes=agreed.by_mail,
        by=by,
        now=now,
    )
    if agreed.on_the_call:
        told = Call(call.caller, call.number, read_back=True, customer=call.customer)
        tell_by_telephone(visit=visit, sequence=visit.sequence, call=told, by=by, now=now)
    if not agreed.by_mail:  # the caller wants no letter; who else is told of visits gets theirs
        first = [call.customer.pk] if call.customer else []
        visit_confirmation.write(visit=visit, now=now, besides=first)
    call.visit = visit
    _end(call, End.VISIT, by=by, now=now)
    return visit


@transaction.atomic
def end_with_note(
    *,
    call: PhoneCall,
    answer_by: date | None,
    answerer: User | None,
    answer: str = "",
    by: User,
    now: datetime,
) -> PhoneCall:
    """No visit: somebody answers by a day, or what was said on this call ends it."""
    call, today = _to_end(call), company_day(now)
    if not (call.words.strip() or call.dangers):
        raise BadEntry("Write what the caller says.", field="symptom")
    if not (call.caller.strip() or call.number.strip()):
        raise BadEntry("Write who called, or the number to call back.", field="caller")
    if not answer.strip() and answer_by is None:
        raise BadEntry("Say by which day somebody answers, or what you said.", field="answer_by")
    if answer_by and answer_by < today:
        raise BadEntry("This day is over: choose today or a later one.", field="answer_by")
    call.answer_by, call.answerer = answer_by or today, answerer
    if answer.strip():
        _answered(call, answer, by=by, now=now)
    _end(call, End.NOTE, by=by, now=now)
    return call


@transaction.atomic
def answer_call(*, call: PhoneCall, answer: str, by: User, now: datetime) -> PhoneCall:
    """Somebody called back: the note closes with what was said. What was not read out is now."""
    call = _locked(call)
    if call.answered_at or call.taken_back_at:
        raise WrongState("This call is answered or taken back already.")
    if not answer.strip():
        raise BadEntry("Write what was said.", field="answer")
    if call.end == End.NONE:
        call.answer_by = call.answer_by or company_day(now)
        _end(call, End.NOTE, by=by, now=now)
    if call.must_be_read_out:
        call.read_out_at, call.read_out_by = now, by
    _answered(call, answer, by=by, now=now)
    call.save()
    log(verb="call_answered", subject=call, by=by, now=now, site=call.site)
    return call


@transaction.atomic
def take_back(*, call: PhoneCall, reason: str, by: User, now: datetime) -> PhoneCall:
    """Noted by mistake. A visit is cancelled on its page; what was opened is lifted on evidence."""
    call = _locked(call)
    if call.taken_back_at:
        return call
    if call.end == End.VISIT:
        raise WrongState("A visit came of this call: cancel the visit.")
    if DoNotUse.objects.filter(occasion=call.uuid, taken_back_why="").exists():
        raise WrongState(
            "This call opened a notice over the house: lift it on evidence, or take it back where "
            "it was the wrong house. The call stays."
        )
    reason = reason_given(reason, "Say why the call is taken back.", least=SHORT)
    call.taken_back_at, call.taken_back_by = now, by
    call.taken_back_why = reason[:200]
    call.typed = {}
    call.save()
    log(verb="call_taken_back", subject=call, by=by, now=now, site=call.site, reason=reason)
    return call


def _locked(call: PhoneCall) -> PhoneCall:
    rows = PhoneCall.objects.select_for_update(of=("self",)).select_related("site", "visit")
    return rows.get(pk=call.pk)


def _to_end(call: PhoneCall) -> PhoneCall:
    call = _locked(call)
    if call.end == End.VISIT:
        raise WrongState("A visit was booked on this call already: open the call.")
    if call.end or call.taken_back_at:
        raise WrongState("This call is ended already: open the call.")
    return call


def _answered(call: PhoneCall, answer: str, *, by: User, now: datetime) -> None:
    call.answered_at, call.answered_by, call.answer = now, by, answer.strip()[:400]


def _end(call: PhoneCall, end: str, *, by: User, now: datetime) -> None:
    call.end, call.ended_at, call.typed = end, now, {}
    call.save()
    log(verb="call_kept", subject=call, by=by, now=now, site=call.site, end=end)
