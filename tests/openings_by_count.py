"""The written rule of openings once more, by plain counting: every quarter hour of every person.

Nothing of the product is used but rows as they stand: no gap, no plan, no table is shared. The
rule, in words: somebody at work, not at lunch (work of four hours has it inside), not away, with no
time held; the licence held by one of those who come; a second person where the work takes two; the
drive from the visit before and to the one after fits; a sample reaches the laboratory the same day
before it shuts, or the next one as it opens, within 30 hours. An opening costs the driving it adds,
six a day from the due day, three an hour booked that day, less 20 for having set the system up, 20
for the work the promise comes from, 15 for having been there. Of each person and day the least
driving and then the earliest counts; the fewest first, then the earliest, then by name.
"""

from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import holidays
from django.conf import settings

from jobs.models import (
    Absence,
    Company,
    CompanyDay,
    LaboratoryDay,
    Skill,
    TechnicianSlot,
    TownDrive,
    Visit,
    WorkHours,
    WorkNeed,
)

FEDERAL = holidays.country_holidays("US", years=range(2024, 2030))
ZONE = ZoneInfo(settings.TIME_ZONE)
QUARTER, DAY = timedelta(minutes=15), timedelta(days=1)


def wall(day, at):
    """A time on the wall, as a moment of UTC."""
    if isinstance(at, int):
        day, at = (day + DAY, time()) if at == 24 else (day, time(at))
    return datetime.combine(day, at, tzinfo=ZONE).astimezone(UTC)


class Count:
    """All that is asked of one company, read row by row."""

    def __init__(self, ask, people, now):
        self.ask, self.people, self.now = ask, people, now.astimezone(UTC)
        self.company = Company.objects.get()
        self.typed = {}
        for row in TownDrive.objects.all():
            self.typed[row.one.lower(), row.other.lower()] = row.minutes
            self.typed[row.other.lower(), row.one.lower()] = row.minutes
        self.closed = {row.day: row.is_worked for row in CompanyDay.objects.all()}
        self.hours = {(row.person_id, row.weekday): row for row in WorkHours.objects.all()}
        self.absences = list(Absence.objects.filter(withdrawn_at=None))
        self.held = set(TechnicianSlot.objects.values_list("technician", "quarter_at"))
        visits = Visit.objects.exclude(status="cancelled").select_related("job__site")
        self.visits = [row for row in visits if not ask.moving or row.pk != ask.moving.pk]
        if ask.moving:
            own = TechnicianSlot.objects.filter(visit=ask.moving)
            self.held -= set(own.values_list("technician", "quarter_at"))
        need = WorkNeed.objects.filter(kind=ask.kind).first()
        self.licence, self.number = (need.licence, need.people) if need else ("", 1)
        self.skills = list(Skill.objects.filter(withdrawn_on=None))
        self.shut = set(LaboratoryDay.objects.values_list("day", flat=True))
        self.of_day = {}

    def local_day(self, moment):
        return moment.astimezone(ZONE).date()

    def minutes(self, one, other):
        """Between two houses; a house that is a plain name is where the company stands."""
        sites = [each if not isinstance(each, str) else None for each in (one, other)]
        if all(sites) and sites[0].pk == sites[1].pk:
            return 0
        towns = [each if isinstance(each, str) else each.town for each in (one, other)]
        towns = [town.lower() for town in towns]
        if tuple(towns) in self.typed:
            return self.typed[tuple(towns)]
        return self.company.drive_in_town_min if towns[0] == towns[1] else self.company.drive_min

    def works(self, day):
        return self.closed.get(day, day not in FEDERAL)

    def shift(self, person, day):
        row = self.hours.get((person.pk, day.weekday()))
        if row is None and day.weekday() >= 5:
            return None
        if row is None:
            return wall(day, self.company.work_from_hour), wall(day, self.company.work_until_hour)
        return (wall(day, row.works_from), wall(day, row.works_until)) if row.works_from else None

    def lunch(self, person, day):
        own = getattr(person, "profile", None)
        begins, ends = (own.lunch_from, own.lunch_until) if own else (None, None)
        if not begins or not ends:
            begins, ends = self.company.lunch_from, self.company.lunch_until
        return (wall(day, begins), wall(day, ends)) if begins and ends else None

    def own_visits(self, person, day):
        if (person.pk, day) not in self.of_day:
            self.of_day[person.pk, day] = sorted(
                (
                    row
                    for row in self.visits
                    if person.pk in (row.lead_id, row.helper_id)
                    and self.local_day(row.starts_at) == day
                ),
                key=lambda row: row.starts_at,
            )
        return self.of_day[person.pk, day]

    def left(self, visit):
        return visit.left_at if visit.status == "closed" and visit.left_at else visit.ends_at

    def fits(self, person, day, begins, ends):
        """Added minutes of driving, or None where this person cannot."""
        shift, lunch = self.shift(person, day), self.lunch(person, day)
        if shift is None or begins < shift[0] or ends > shift[1]:
            return None
        short = ends - begins < timedelta(hours=4)
        if lunch and short and begins < lunch[1] and ends > lunch[0]:
            return None
        for row in self.absences:
            if row.person_id == person.pk and row.starts_at < ends and row.ends_at > begins:
                return None
        at = begins
        if self.ask.kind == "sample" and not self.takes(ends):
            return None
        while at < ends:
            if (person.pk, at) in self.held:
                return None
            at += QUARTER
        return self.driving(person, day, begins, ends)

    def takes(self, filled):
        """The laboratory has the bottle that day before it shuts, else the next one as it opens."""
        there = filled + timedelta(minutes=self.company.laboratory_drive_min)
        for more in (0, 1):
            day = self.local_day(there) + more * DAY
            works = str(day.weekday()) in self.company.laboratory_weekdays
            if not works or day in FEDERAL or day in self.shut:
                continue
            opens = wall(day, self.company.laboratory_from)
            if there <= wall(day, self.company.laboratory_until):
                return max(there, opens) <= filled + timedelta(hours=30)
        return False

    def driving(self, person, day, begins, ends):
        before = after = None
        for row in self.own_visits(person, day):
            if self.left(row) <= begins:
                before = row
            elif after is None:
                after = row
        base, site = self.company.town, self.ask.site
        there = back = 0
        if before:
            there = self.minutes(before.job.site, site)
            if begins - self.left(before) < timedelta(minutes=there):
                return None
        elif base:
            there = self.minutes(base, site)
        if after:
            back = self.minutes(site, after.job.site)
            if after.starts_at - ends < timedelta(minutes=back):
                return None
        elif base:
            back = self.minutes(site, base)
        comes = before.job.site if before else base
        goes = after.job.site if after else base
        without = self.minutes(comes, goes) if comes and goes and (before or after) else 0
        return there + back - without

    def licensed(self, people, day):
        if not self.licence:
            return True
        return any(
            row.person_id == person.pk
            and row.name.lower() == self.licence.lower()
            and (row.expires_on is None or row.expires_on >= day)
            for row in self.skills
            for person in people
        )

    def saved(self, person):
        """What knowing the house saves."""
        saves, there, set_up = 0, False, False
        for row in self.visits:
            known = row.job.site_id == self.ask.site.pk and row.status == "closed"
            if known and row.outcome != "no_access":
                there = there or person.pk in (row.lead_id, row.helper_id)
                train = self.ask.train and row.job.train_id == self.ask.train.pk
                set_up = set_up or (train and row.job.kind == "startup" and row.lead == person)
        if self.ask.train and self.ask.train.installed_by_id == person.pk:
            set_up = True
        saves += 20 if set_up else 0
        saves += 20 if self.ask.did_it and self.ask.did_it.pk == person.pk else 0
        return saves + (15 if there else 0)

    def booked(self, person, day):
        """Minutes of whole quarters that visits of the day hold, left early or not."""
        total = 0
        for row in self.own_visits(person, day):
            first = int(row.starts_at.timestamp()) // 900
            last = -(-int(self.left(row).timestamp()) // 900)
            total += (last - first) * 15
        return total

    def days(self):
        today = self.local_day(self.now)
        first, last = max(self.ask.window[0], today), self.ask.window[1]
        if last < today:
            first, last = today, today + 10 * DAY
        return [first + n * DAY for n in range((last - first).days + 1)]

    def earliest(self, last):
        found = self.now + timedelta(hours=2)
        for row in self.visits:
            here = row.job.site_id == self.ask.site.pk
            if here and row.is_to_come and self.local_day(row.starts_at) <= last:
                found = max(found, row.ends_at)
        if self.ask.not_before:
            found = max(found, wall(self.ask.not_before, 0))
        return found

    def ranked(self):
        """(person, moment, helper, cost), the best first."""
        days, found = self.days(), []
        earliest, length = self.earliest(days[-1]), timedelta(minutes=self.ask.minutes)
        named = sorted(self.people, key=lambda who: (who.last_name, who.first_name, who.pk))
        for day in filter(self.works, days):
            for place, person in enumerate(named):
                options = []
                at, midnight = wall(day, 0), wall(day, 24)
                while at < midnight:
                    if at >= earliest:
                        options += self.at(person, named, day, at, at + length)
                    at += QUARTER
                if options:
                    added, begins, _, helper = min(options)
                    cost = added + 6 * abs((day - self.ask.due_on).days)
                    cost += 3 * self.booked(person, day) // 60 - self.saved(person)
                    helper = named[helper] if helper >= 0 else None
                    found.append((cost, begins, place, person, helper))
        return [
            (person.pk, begins, helper.pk if helper else None, cost)
            for cost, begins, _, person, helper in sorted(found, key=lambda row: row[:3])
        ]

    def at(self, person, named, day, begins, ends):
        added = self.fits(person, day, begins, ends)
        if added is None:
            return []
        if self.number < 2:
            return [(added, begins, 0, -1)] if self.licensed([person], day) else []
        found = []
        for place, other in enumerate(named):
            more = None if other == person else self.fits(other, day, begins, ends)
            if more is not None and self.licensed([person, other], day):
                found.append((added + more, begins, place, place))
        return found


def by_count(ask, people, now: datetime) -> list[tuple[int, datetime, int | None, int]]:
    return Count(ask, people, now).ranked()
