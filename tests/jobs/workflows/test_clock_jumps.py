"""A clock that is set, and hours that are left out or come twice: ticks, health and mail."""

from collections import Counter
from datetime import UTC, datetime, timedelta

import pytest
from django.core import mail as django_mail

from jobs.mail.about import visit_confirmation
from jobs.models import Night, OutboxMail
from jobs.workflows import tick
from jobs.workflows.health import health
from tests.jobs.mail.letters import NOW, a_visit

pytestmark = pytest.mark.django_db
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
#: New York sets its clocks at these moments in 2026: 8 March 07:00 and 1 November 06:00 UTC
#: (tz database, from memory); what is told are moments before, and what the clock shows next
SPRING = datetime(2026, 3, 8, 6, 55, tzinfo=UTC)
AUTUMN = datetime(2026, 11, 1, 5, 30, tzinfo=UTC)
MONTH_END = datetime(2026, 7, 1, 3, 57, tzinfo=UTC)
CASES = {
    "ahead a day and back": (NOW, [DAY + 10 * MINUTE, 20 * MINUTE]),
    "back a day": (NOW, [-DAY]),
    "ahead a year and back": (NOW, [366 * DAY, 10 * MINUTE]),
    "an hour left out in spring": (SPRING, [6 * MINUTE]),
    "an hour twice in autumn": (AUTUMN, [31 * MINUTE, 91 * MINUTE]),
    "over the end of a month": (MONTH_END, [5 * MINUTE]),
}


def five_ticks(begin):
    for minute in range(5):
        tick.scan(clock=lambda: begin + minute * MINUTE)  # noqa: B023
    return begin + 4 * MINUTE


def written_at(now):
    """A visit of ten days ahead with its letter, booked while the clock shows that."""
    visit = a_visit(starts_at=now + 10 * DAY, now=now)
    return visit_confirmation.write(visit=visit, now=now)


def lived(start, jumps):
    """Figures of a company whose clock does this, and then goes on for eleven days."""
    letters = [written_at(start)]
    end = five_ticks(start)
    well = [health(now=end).is_good]
    for jump in jumps:
        letters.append(written_at(start + jump))
        end = five_ticks(start + jump)
        well.append(health(now=end).is_good)
    for quarter in range(44):
        tick.scan(clock=lambda: end + quarter * 6 * HOUR)  # noqa: B023
    mails = OutboxMail.objects.filter(pk__in=[letter.pk for letter in letters])
    reminders = OutboxMail.objects.filter(template="visit_reminder")
    went = Counter(mail.message()["Message-ID"] for mail in django_mail.outbox)
    return {
        "well after five ticks": well,
        "letters": len(letters),
        "sent": mails.filter(state="sent").count(),
        "reminders": reminders.count(),
        "reminders sent": reminders.filter(state="sent").count(),
        "doubled": sum(times - 1 for times in went.values()),
        "nights": Night.objects.count(),
    }


@pytest.mark.parametrize("case", CASES)
def test_no_letter_is_lost_or_doubled_and_health_is_well_within_five_ticks(case):
    found = lived(*CASES[case])
    print(f"\n{case}: {found}")
    assert all(found["well after five ticks"])
    assert found["sent"] == found["letters"]
    assert found["reminders sent"] == found["reminders"]
    assert found["doubled"] == 0
    assert found["nights"] >= 10


def test_a_visit_is_reminded_of_although_the_day_of_it_was_shown_before():
    """Two days ahead and back: what was written then is not written again."""
    a_visit(days=8)
    tick.scan(clock=lambda: NOW + 2 * DAY)
    tick.scan(clock=lambda: NOW + MINUTE)
    tick.scan(clock=lambda: NOW + 2 * DAY)
    assert [letter.subject.split(":")[0] for letter in django_mail.outbox] == ["Reminder"]
