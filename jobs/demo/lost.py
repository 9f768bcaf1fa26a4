"""What decides about counted jobs: put right by the owner, and houses lost to sight."""

from __future__ import annotations

from jobs.models import Job, LossFact, SiteTenure
from jobs.workflows import fact_corrections
from jobs.workflows.sites import Buyer, change_hands
from jobs.workflows.unreached import follow_no_more

from .cast import OFFICE_HOUR, House, Told, World


def sold_away(world: World, house: House, act: Told) -> None:
    """The house went to somebody nobody knows."""
    holders = list(SiteTenure.objects.open().filter(site=house.site))
    change_hands(
        site=house.site,
        customer=None,
        ending=holders,
        buyer=Buyer.UNKNOWN,
        on=world.calendar.day(act["day"]),
        by=world.office,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )


def unreached(world: World, house: House, act: Told) -> None:
    now = world.calendar.moment(act["day"], OFFICE_HOUR)
    follow_no_more(site=house.site, reason=act["reason"], by=world.office, now=now)


def service_ended(world: World, house: House, act: Told) -> None:
    """Written for the wrong house, and withdrawn by the owner where `withdrawn` says when."""
    moment = world.calendar.moment
    fact_corrections.end_service(
        site=house.site,
        on=world.calendar.day(act["day"]),
        reason=act["reason"],
        by=world.office,
        now=moment(act["day"], OFFICE_HOUR),
    )
    lost = LossFact.objects.standing().get(site=house.site, how=LossFact.How.CUSTOMER_GONE)
    fact_corrections.withdraw_loss(
        row=lost, reason=act["mistake"], by=world.owner, now=moment(act["withdrawn"], OFFICE_HOUR)
    )


def turned_off(world: World, house: House, act: Told) -> None:
    """For some days, at the customer's wish."""
    moment, day = world.calendar.moment, world.calendar.day
    assert house.train
    fact_corrections.turn_off(
        train=house.train,
        on=day(act["day"]),
        reason=act["reason"],
        by=world.office,
        now=moment(act["day"], OFFICE_HOUR),
    )
    fact_corrections.turn_on(
        train=house.train, on=day(act["until"]), by=world.office, now=moment(act["until"], 9.5)
    )


def lead_corrected(world: World, house: House, act: Told) -> None:
    """Of the newest job of that kind: somebody else led it."""
    job = Job.objects.filter(site=house.site, kind=act["kind"], index_on__isnull=False).latest("pk")
    assert job.index_on
    fact_corrections.correct_handover(
        job=job,
        handed=fact_corrections.Handed(world.people[act["who"]], job.index_on),
        reason=act["reason"],
        by=world.owner,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )


def report_corrected(world: World, house: House, act: Told) -> None:
    """The newest callback was none."""
    job = Job.objects.filter(site=house.site, callback_answer=Job.CallbackAnswer.YES).latest("pk")
    fact_corrections.correct_report(
        job=job,
        answer=Job.CallbackAnswer.NO,
        origin=None,
        reason=act["reason"],
        by=world.owner,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )
