"""Who and what is there: staff, customers, houses, wells and the parts of each system."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import Group, User

from equipment.models import (
    FeedPump,
    Medium,
    OxidantProduct,
    Resin,
    RetentionTank,
    Site,
    Stage,
    Train,
    Vessel,
    Well,
)
from jobs.models import Company, Customer, SiteTenure, StaffProfile
from jobs.workflows.licences import enter_licence
from jobs.workflows.measurements import Reading
from jobs.workflows.sites import create_site
from jobs.workflows.telling import Adult
from jobs.workflows.trains import fit_stage, save_train
from jobs.workflows.wells import save_well

from .calendar import Calendar
from .passing import split

Told = dict[str, Any]
CATALOG: dict[str, Any] = {
    "feed_pump": FeedPump,
    "product": OxidantProduct,
    "vessel": Vessel,
    "medium": Medium,
    "retention_tank": RetentionTank,
    "resin": Resin,
}
#: office work of the demo is written at this hour unless told
OFFICE_HOUR = 9.25
#: the day on which the licences of everybody were entered
FILED = -400


@dataclass
class House:
    told: Told
    site: Site
    wells: list[Well]
    train: Train | None = None

    @property
    def feeder(self) -> Stage:
        return Stage.objects.fitted().with_catalog().get(train=self.train, kind=Stage.Kind.FEEDER)


@dataclass
class World:
    """Everything an act may ask for."""

    told: Told
    calendar: Calendar
    people: dict[str, User] = field(default_factory=dict)
    customers: dict[str, Customer] = field(default_factory=dict)
    houses: dict[str, House] = field(default_factory=dict)

    @property
    def now(self) -> datetime:
        return self.calendar.now

    @property
    def office(self) -> User:
        return self.people[self.told["office"]]

    @property
    def owner(self) -> User:
        return self.people[self.told["owner"]]


def gather(told: Told, *, now: datetime) -> World:
    """Staff and customers at once; houses come when their story begins."""
    world = World(told, Calendar(now))
    _company(told["company"])
    for row in told["people"]:
        world.people[row["username"]] = _person(row, world)
    for key, row in told["customers"].items():
        world.customers[key] = Customer(**row)
    return world


def _company(values: Told) -> None:
    company = Company.load()
    for name, value in values.items():
        setattr(company, name, value)
    company.full_clean()
    company.save()


def _person(row: Told, world: World) -> User:
    user = User(
        username=row["username"],
        first_name=row["first_name"],
        last_name=row["last_name"],
        email=f"{row['username']}@example.com",
    )
    user.set_unusable_password()
    user.save()
    user.groups.set(Group.objects.filter(name__in=row["roles"]))
    StaffProfile.objects.create(
        user=user, phone=row["phone"], unit_system=row.get("units", StaffProfile.UnitSystem.US)
    )
    for skill in row.get("skills", []):
        enter_licence(
            person=user,
            name=skill["name"],
            number=skill.get("number", ""),
            expires_on=world.calendar.day(skill["expires"]),
            by=world.owner,
            now=world.calendar.moment(FILED, OFFICE_HOUR),
        )
    return user


def move_in(world: World, key: str, told: Told) -> House:
    """The house, who holds it, its wells and what is known of them."""
    now = world.calendar.moment(told["since"], OFFICE_HOUR)
    site = Site(
        street=told["street"], town=told["town"], county=world.told["county"], **told["site"]
    )
    holder = world.customers[told["holder"]]
    create_site(
        site=site,
        holder=holder,
        by=world.office,
        now=now,
        from_on=world.calendar.day(told.get("held_since") or told["since"]),
    )
    wells = [_well(row, site, world, now) for row in told["wells"]]
    if "on_well_of" in told:
        wells.append(_shared(world.houses[told["on_well_of"]].wells[0], site, world, now))
    world.houses[key] = House(told, site, wells)
    return world.houses[key]


def _well(row: Told, site: Site, world: World, now: datetime) -> Well:
    fields = {name: value for name, value in row.items() if name not in ("figures", "origin")}
    figures = [
        Reading(key, *split(text), origin=row.get("origin", "state_record"))
        for key, text in row["figures"].items()
    ]
    return save_well(
        well=Well(site=site, **fields), also_serves=[], figures=figures, by=world.office, now=now
    )


def _shared(well: Well, site: Site, world: World, now: datetime) -> Well:
    """A neighbour draws from it too."""
    served = [*well.also_serves.all(), site]
    version = well.version
    return save_well(
        well=well, also_serves=served, figures=[], by=world.office, now=now, version=version
    )


def build(
    world: World,
    house: House,
    *,
    by: User,
    fitted_on: date,
    now: datetime,
    told: Told | None = None,
) -> Train:
    """The system of the house, or another as told, with its parts in the order of the water."""
    told = told or house.told["system"]
    fields = {name: value for name, value in told.items() if name != "parts"}
    ours = not told.get("is_inherited", False)
    train = Train(site=house.site, installed_on=fitted_on, **fields)
    if ours:
        train.designed_by, train.installed_by = world.owner, by
    house.train = save_train(train=train, wells=house.wells, by=by, now=now)
    for position, part in enumerate(told["parts"], 1):
        stage = Stage(
            train=house.train,
            position=position,
            fitted_on=fitted_on,
            fitted_by=by if ours else None,
            **part_fields(part),
        )
        fit_stage(stage=stage, by=by, now=now)
    return house.train


def part_fields(part: Told) -> Told:
    """Columns of a part; catalog rows are named by their slugs."""
    return {
        name: CATALOG[name].objects.get(slug=value) if name in CATALOG else value
        for name, value in part.items()
    }


def adult_of(house: House, whom: str, *, on: date) -> Adult:
    """Somebody on the telephone of that house, who said back what was read out."""
    contact = SiteTenure.objects.contacts([house.site.pk], on)[house.site.pk]
    return called(contact, whom)


def called(contact: Customer, whom: str = "") -> Adult:
    """Whoever took the telephone of that customer, who said back what was read out."""
    number = contact.phones[0].as_national
    return Adult(whom or contact.name, "telephone", number, read_back=True)
