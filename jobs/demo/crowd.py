"""The same company at the size of a real day: twelve technicians, sixty visits, forty promises.

It is told like the small one, as people, customers and houses with a story, and lived the same way.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle, islice, product
from random import Random
from typing import Any

from .calendar import Calendar

Told = dict[str, Any]
HOUSES = 160
#: working days of full work: the last one, today and those ahead
DAYS_BACK, DAYS_AHEAD = 1, 5
SINCE = -400
#: their systems were fitted one after the other over half a year, and entered ten days later
FITTED_FIRST, FITTED_LAST, STRIDE, ENTERED = -209, -40, 37, 10
#: houses whose tank was filled in the last weeks, and where nobody was at home lately
FILLED, MISSED = 40, 3
HOURS, LATE = (8.0, 9.5, 11.0, 13.0, 14.5), 16.0
#: of ten households nine have a mail address
WITH_MAIL = 0.9
#: the telephone numbers nobody has: 555-0100 to 555-0199, here behind four area codes
NUMBERS = [f"+1 {area} 555 01{end}" for area in (518, 607, 315, 845) for end in range(50, 100)]


def grown(told: Told, more: Told, calendar: Calendar) -> Told:
    """The story with the crowd around it; the same for the same day."""
    chance = Random(more["about"])
    people = [*told["people"], *more["people"]]
    customers = {f"crowd-{n}": row for n, row in enumerate(_customers(more, chance))}
    houses = {f"house-{n}": _house(n, key, told, more) for n, key in enumerate(customers)}
    technicians = [row["username"] for row in people if "technician" in row["roles"]]
    _fill_days(told, houses, technicians, more, calendar)
    return {
        **told,
        "people": people,
        "owner_acts": [*told["owner_acts"], *more["owner_acts"]],
        "customers": {**told["customers"], **customers},
        # before the story of the same day, which looks for free hours by itself
        "houses": {**houses, **told["houses"]},
    }


def _customers(more: Told, chance: Random) -> Iterator[Told]:
    names = list(product(more["first_names"], more["last_names"]))
    chance.shuffle(names)
    for (first, last), phone in zip(islice(names, HOUSES), cycle(NUMBERS), strict=False):
        row = {"name": f"{first} {last}", "phone": phone}
        if chance.random() < WITH_MAIL:
            row["email"] = f"{first}.{last}@example.com".lower()
        yield row


def _house(n: int, holder: str, told: Told, more: Told) -> Told:
    """A house like one of the story, with a well of its own and a system in use."""
    patterns = [house for house in told["houses"].values() if _has_feeder(house)]
    like = patterns[n % len(patterns)]
    streets, towns = more["streets"], more["towns"]
    wells = [{**well, "tag": f"LM-2{n:04d}"} for well in like["wells"][:1]]
    fitted = FITTED_FIRST + n * STRIDE % (FITTED_LAST - FITTED_FIRST)
    taken = {"do": "take_over", "day": fitted + ENTERED, "fitted": fitted, "in_use": True}
    story: list[Told] = [taken]
    return {
        **like,
        "street": f"{2 + n // len(streets) * 3} {streets[n % len(streets)]}",
        "town": towns[(n + n // len(towns)) % len(towns)],
        "holder": holder,
        "since": SINCE,
        "held_since": SINCE,
        "wells": wells,
        "story": story,
    }


def _has_feeder(house: Told) -> bool:
    parts = house.get("system", {}).get("parts", [])
    return any(part["kind"] == "feeder" for part in parts) and not house["system"].get(
        "is_inherited"
    )


def _fill_days(
    told: Told, houses: Told, technicians: list[str], more: Told, calendar: Calendar
) -> None:
    """Fills of the last weeks, doors that stayed shut, and the days of full work."""
    everybody, of_the_story = cycle(technicians), {row["username"] for row in told["people"]}
    rows = list(houses.values())
    for n, (house, who) in enumerate(zip(rows[:FILLED], everybody, strict=False)):
        act = {"do": "work", "kind": "service", "fill": True, "found": "Tank filled."}
        house["story"].append({"day": -24 + n % 12, "who": who, "hour": HOURS[n % 5], **act})
    for n, (house, who) in enumerate(zip(rows[-MISSED:], everybody, strict=False)):
        act = {"do": "nobody_home", "kind": "service", "tried": more["tried"]}
        house["story"].append({"day": -6 + n % 5, "who": who, "hour": HOURS[n % 5], **act})
    next_house, work = cycle(rows), cycle(more["work"])
    for number, day in enumerate(_full_days(calendar)):
        for who in technicians:
            for hour in _hours(day, who in of_the_story, calendar):
                act = {"do": "work", "day": day, "who": who, "hour": hour, "booked": 3 + number}
                next(next_house)["story"].append({**act, **next(work)})


def _hours(day: int, is_of_the_story: bool, calendar: Calendar) -> tuple[float, ...]:
    """Who has a part in the story keeps the time for it: up to now, and today around now."""
    if not is_of_the_story:
        return (*HOURS, LATE) if day <= 0 else HOURS
    if day > 0:
        return HOURS[1:]
    now = calendar.hour_now()
    return tuple(hour for hour in HOURS if day == 0 and not now - 4 < hour < now + 4)


def _full_days(calendar: Calendar) -> list[int]:
    back = (day for day in range(-1, -15, -1) if calendar.day(day) == calendar.working_day(day))
    ahead = (day for day in range(1, 21) if calendar.day(day) == calendar.working_day(day))
    return [*islice(back, DAYS_BACK), 0, *islice(ahead, DAYS_AHEAD)]
