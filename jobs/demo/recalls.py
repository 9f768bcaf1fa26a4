"""A recall of the demo: opened, told by telephone, one part exchanged, others booked or open."""

from __future__ import annotations

from datetime import timedelta

from equipment.models import Stage
from jobs.models import Recall, RuleCode
from jobs.models.company import company_day
from jobs.workflows import recalls
from jobs.workflows.trains import replace_stage

from .booking import begun, booked_from, ended
from .cast import OFFICE_HOUR, House, Told, World, adult_of

#: columns of a recall that the story tells
TOLD = ("title", "what", "first", "last", "reason", "source", "caution")


def recall_opened(world: World, act: Told) -> None:
    recall = Recall(**{name: act[name] for name in TOLD})
    now = world.calendar.moment(act["day"], OFFICE_HOUR)
    recalls.open_recall(recall=recall, by=world.owner, now=now)


def recall_told(world: World, house: House, act: Told) -> None:
    day, now = world.calendar.day(act["day"]), world.calendar.moment(act["day"], 10.0)
    adult = adult_of(house, act.get("whom", ""), on=day)
    recalls.tell(
        recall=Recall.objects.get(), site=house.site, adult=adult, by=world.office, now=now
    )


def exchanged(world: World, house: House, act: Told) -> None:
    """The part that is called back is replaced by one of another lot; or the visit is to come."""
    visit = booked_from(world, house, act, RuleCode.RECALL, minutes=60)
    if not begun(world, visit):
        return
    old = Stage.objects.fitted().get(train=house.train, kind=act["kind"])
    new = old.like_it()
    new.fitted_on, new.fitted_by, new.lot = company_day(visit.starts_at), visit.lead, act["lot"]
    replace_stage(old=old, new=new, by=visit.lead, now=visit.ends_at - timedelta(minutes=20))
    ended(world, house, visit)
