"""A company with an invented past, different for each seed: people act, and a diary says how.

The acts go through the workflows in the order of their days. The diary keeps in plain words what
was done, for `recount.py` to count by hand; it is never read back from the database.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import count

from equipment.models import Site, Stage, Train
from jobs.models import Job
from jobs.models.visits import day_start
from jobs.workflows import sites, trains
from jobs.workflows.causes import review_cause, settle_question
from jobs.workflows.fact_nights import complete_classes
from jobs.workflows.jobs import cancel_job
from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.removals import take_out
from tests.acts import arrived, booked, called_back, closed, opened, sold
from tests.factories import make_customer, make_rule, make_staff, make_stage

TODAY = date(2026, 6, 10)
BEGIN = date(2025, 1, 1)
STAGES = [("feeder", "retention", "filter"), ("filter",), ("softener",), ("uv",), ()]
DAY, QUARTER = timedelta(days=1), timedelta(minutes=15)
#: of the promise that a start-up makes
RECHECK_FROM, RECHECK_UNTIL = 7, 21


def noon(day):
    return day_start(day) + timedelta(hours=12)


@dataclass
class House:
    train: Train
    inherited: bool
    #: (kind, fitted on, taken out on)
    parts: list[tuple[str, date, date | None]] = field(default_factory=list)
    #: (figure, place, value, day); what was corrected is gone
    readings: list[tuple[str, str, float, date]] = field(default_factory=list)
    #: sold to somebody who is not our customer, or nobody knows to whom
    gone_on: date | None = None
    removed_on: date | None = None
    started_on: date | None = None
    rechecked_on: list[date] = field(default_factory=list)

    def recheck_was_late(self, day):
        """On that day: promised by the start-up, its window over, and not done."""
        done = [each for each in self.rechecked_on if each <= day]
        late = self.started_on and self.started_on + RECHECK_UNTIL * DAY < day
        return bool(late) and not any(each >= self.started_on + RECHECK_FROM * DAY for each in done)


@dataclass
class Work:
    """A job as its people would tell it."""

    job: Job
    house: House
    kind: str
    reported_on: date
    planned: bool = False
    #: who led the visit that ended it, the day they left, and the day they told it
    who: int | None = None
    left_on: date | None = None
    told_on: date | None = None
    cancelled: bool = False
    defect: bool = False
    answer: str = ""
    #: the first job of the chain
    first: Work | None = None
    cause: str = ""
    recheck_was_late: bool = False


class Company:
    """Draws what happens when, then lets it happen in that order."""

    def __init__(self, seed, houses, jobs):
        self.dice = random.Random(seed)
        self.people = [
            make_staff("technician", last_name=name, first_name=first)
            for name, first in [("Quill", "Ada"), ("abbot", "Ben"), ("Marsh", "Cy"), ("", "Dov")]
        ]
        self.office, self.owner = make_staff("dispatcher"), make_staff("owner")
        make_rule(
            "f1",
            event="visit_closed",
            filter={"job_kind": "startup", "completed": True},
            closing_parameters={"job_kinds": ["recheck"]},
        )
        self.houses: list[House] = []
        self.works: list[Work] = []
        self._coming: list[tuple[date, int, Callable[[], None]]] = []
        self._order, self._taken = count(), Counter()
        for _ in range(houses):
            self._move_in()
        for _ in range(jobs):
            self._ask_for_work(self.dice.choice(self.houses))
        for month in range((TODAY - BEGIN).days // 30 + 1):
            self.on(BEGIN + 30 * month * DAY, self._night)
        self.on(TODAY, self._night)
        while self._coming:
            self._coming.sort()
            _, _, act = self._coming.pop(0)
            act()

    def on(self, day, act, *arguments):
        if day <= TODAY:
            self._coming.append((day, next(self._order), lambda: act(day, *arguments)))

    @staticmethod
    def _night(day):
        """What laboratories answered, and readings put right, complete the classes."""
        complete_classes(noon(day))

    def day(self, first, last):
        return BEGIN + self.dice.randrange(first, last) * DAY

    # --- houses ---------------------------------------------------------------------------------

    def _move_in(self):
        dice, then = self.dice, BEGIN - 120 * DAY
        site = sites.create_site(
            site=Site(street=f"{next(self._order)} Old Mill Road", town="Kestrel Ford"),
            holder=make_customer(email=""),
            from_on=then,
            by=self.office,
            now=noon(then),
        )
        train = Train(site=site, is_inherited=dice.random() < 0.1)
        trains.save_train(train=train, wells=[], by=self.office, now=noon(then))
        house = House(train, train.is_inherited)
        self.houses.append(house)
        for position, kind in enumerate(dice.choice(STAGES), 1):
            fitted = self.day(-100, 200)
            gone = fitted + dice.randrange(1, 300) * DAY if dice.random() < 0.3 else None
            self.on(fitted, self._fit, house, Stage.Kind(kind), position, gone)
        for figure, values in (("sulfide", [0, 2.9, 3, 3.1, 6]), ("ph", [5.8, 6.4, 6.5, 7.2])):
            for _ in range(dice.choice([0, 1, 2])):
                self.on(self.day(-30, 400), self._read, house, figure, dice.choice(values))
        if dice.random() < 0.7:
            self._ask_for_work(house, "startup")
        if dice.random() < 0.3:
            self.on(self.day(40, 540), self._sell, house)
        if dice.random() < 0.2:
            self.on(self.day(40, 540), self._take_out, house)

    def _fit(self, day, house, kind, position, gone):
        if house.removed_on:
            return
        stage = make_stage(train=house.train, kind=kind, position=position, fitted_on=day)
        house.parts.append((kind, day, gone if gone and gone <= TODAY else None))
        if gone:
            self.on(gone, self._take_part_out, house, stage)

    def _take_part_out(self, day, house, stage):
        if not house.removed_on:
            trains.end_stage(stage=stage, on=day, by=self.office, now=noon(day))

    def _read(self, day, house, figure, value, corrects=None):
        place = self.dice.choice(["raw", "raw", "tap"])
        row = record_measurement(
            about=house.train.site,
            reading=Reading(figure, f"{value}", origin="measured", place=place),
            measured_at=noon(day),
            corrects=corrects,
            by=self.office,
            now=noon(day),
        )
        house.readings.append((figure, place, value, day))
        if corrects is None and self.dice.random() < 0.3:
            said = house.readings[-1]
            self.on(day + 2 * DAY, self._read_anew, house, figure, row, said)

    def _read_anew(self, day, house, figure, wrong, said):
        house.readings.remove(said)
        self._read(day, house, figure, self.dice.choice([1, 4, 6]), wrong)

    def _sell(self, day, house):
        if house.gone_on:
            return
        buyer = self.dice.choice(["ours", "not_ours", "unknown"])
        to = make_customer(email="") if buyer == "ours" else None
        sold(house.train.site, on=day, at=noon(day), to=to, buyer=buyer)
        if buyer != "ours":
            house.gone_on = day

    def _take_out(self, day, house):
        """Work that is still open is called off first."""
        for work in self.works:
            if work.house is house and not work.cancelled and not work.left_on:
                cancel_job(job=work.job, reason="taken out", by=self.office, now=noon(day))
                work.cancelled = True
        take_out(train=house.train, on=day, reason="too big", by=self.office, now=noon(day))
        house.removed_on = day
        house.parts = [(kind, on, min(gone or day, day)) for kind, on, gone in house.parts]

    # --- work -----------------------------------------------------------------------------------

    def _ask_for_work(self, house, kind=""):
        kind = kind or self.dice.choice(["service", "repair", "rebed", "refill"])
        self.on(self.day(0, 520), self._work, house, kind)

    def _work(self, day, house, kind):
        if house.removed_on or (kind == "startup" and house.started_on):
            return
        work = self._opened(house, opened(house.train, kind, at=noon(day), by=self.office))
        ending = self.dice.choice(["done"] * 8 + ["open", "cancelled"])
        self._end(work, day, ending)
        if not work.left_on:
            return
        if kind == "startup":
            house.started_on = work.left_on
            if self.dice.random() < 0.5:
                self.on(day + self.dice.choice([5, 7, 21, 30]) * DAY, self._look_again, house)
        for _ in range(self.dice.choice([0, 0, 1, 1, 2])):
            after = self.dice.choice([0, 5, 29, 30, 31, 60, 90, 91, 200, 365, 366])
            self.on(work.left_on + after * DAY, self._call_back, house, work)
        if self.dice.random() < 0.2:
            after = self.dice.choice([0, 14, 30, 31, 90, 91])
            self.on(work.left_on + after * DAY, self._plan, house)

    def _opened(self, house, job, **told):
        work = Work(job, house, job.kind, job.reported_on, **told)
        self.works.append(work)
        return work

    def _end(self, work, day, ending="done", **facts):
        """Cancelled, left open with parts missing, or done; sometimes told days later."""
        if ending == "cancelled":
            cancel_job(job=work.job, reason="called off", by=self.office, now=noon(day))
            work.cancelled = True
            return
        who = self.dice.choice(self.people)
        at = day_start(day) + timedelta(hours=7) + self._taken[who.pk, day] * QUARTER
        self._taken[who.pk, day] += 1
        visit = booked(work.job, who, at=at, hours=0.25, by=self.office)
        arrived(visit)
        if ending == "open":
            closed(visit, "incomplete_parts", at=at + QUARTER)
            return
        told = min(day + self.dice.choice([0, 0, 0, 2]) * DAY, TODAY)
        work.defect = self.dice.random() < 0.7 if work.planned else False
        outcome, ticked = "completed", work.defect
        if work.defect and self.dice.random() < 0.5:
            outcome, ticked = "defect_found", False
        later = at + QUARTER + (told - day)
        closed(visit, outcome, at=at + QUARTER, now=later, defect_found=ticked, **facts)
        work.who, work.left_on, work.told_on = who.pk, day, told
        if work.kind == "recheck":
            work.house.rechecked_on.append(told)

    def _look_again(self, day, house):
        if house.removed_on:
            return
        job = opened(house.train, "recheck", at=noon(day), by=self.office, planned=True)
        self._end(self._opened(house, job, planned=True), day)

    def _plan(self, day, house):
        if house.removed_on:
            return
        kind = self.dice.choice(["interval", "service"])
        planned = kind == "service" or self.dice.random() < 0.7
        job = opened(house.train, kind, at=noon(day), by=self.office, planned=planned)
        self._end(self._opened(house, job, planned=planned), day)

    def _call_back(self, day, house, origin):
        if house.removed_on:
            return
        dice = self.dice
        answer = dice.choice(["yes"] * 5 + ["not_sure"])
        planned = dice.random() < 0.1
        job = called_back(
            origin.job,
            at=noon(day),
            answer=answer,
            kind=dice.choice(["callback", "repair"]),
            planned=planned,
            by=self.office,
        )
        work = self._opened(
            house,
            job,
            answer=answer,
            first=origin.first or origin,
            recheck_was_late=house.recheck_was_late(day),
        )
        cause = dice.choice([*Job.Cause.values, *["B_low"] * 8])
        facts = {"cause": cause, "cause_note": "as found"}
        self._end(work, day, dice.choice(["done"] * 5 + ["open", "cancelled"]), **facts)
        if work.left_on:
            work.cause = cause
            self._decide(work)
            if dice.random() < 0.3:
                self.on(work.left_on + 20 * DAY, self._call_back, house, work)

    def _decide(self, work):
        """The owner looks: another cause, or what was not sure is decided."""
        dice, now = self.dice, noon(work.told_on) + timedelta(hours=2)
        work.job.refresh_from_db()
        reason = {"reason": "looked at it with both", "by": self.owner, "now": now}
        if work.answer == "not_sure" and dice.random() < 0.5:
            work.answer = dice.choice(["yes", "no"])
            settle_question(job=work.job, answer=work.answer, **reason)
            work.job.refresh_from_db()
            if work.answer == "no":
                work.first, work.recheck_was_late = None, False
        elif work.answer == "yes" and dice.random() < 0.2:
            work.cause = dice.choice(Job.Cause.values)
            seen = work.job.cause
            review_cause(callback=work.job, cause=work.cause, seen=seen, **reason)


def build_company(seed, houses=9, jobs=24):
    return Company(seed, houses, jobs)
