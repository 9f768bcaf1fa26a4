"""The dispatcher's hard days at 1280 pixels: ill, on leave, urgent, late.

Actions and seconds of a machine's hand; each letter that went with the reason it says itself.
"""

import json
import re
import time

import pytest

from .product import ROOT, poll, running
from .stories import keeps
from .test_call_story import booked, choose, say, something_else
from .test_dispatcher_story import Counted
from .visitors import DESK

HALF_A_DAY_H = 12
#: from the open list to the first page that books; and links before the times of that page
MOST_KEYS, TABS_TO_THE_TIMES = 3, 40
#: what a letter about a change says is other than before
REASONS = re.compile(
    r"\w[\w -]+ comes\s+instead\s+of\s+[\w -]+\."
    r"|The\s+hours\s+are\s+others|The\s+day\s+is\s+another|A\s+visit\s+is\s+booked"
)
PEOPLE = """
import json
from datetime import time
from django.contrib.auth.models import User
from django.utils import timezone
from jobs.models.company import company_day
from jobs.schedule.working_days import add_working_days
from jobs.workflows.people import Person, add_person
from jobs.workflows.working_time import Week, keep_week, week_of
owner, now = User.objects.get(username="osric"), timezone.now()
names = {"ketil": "Brackenrow", "oona": "Siltfern", "pell": "Harrowgate"}
found = {}
for first, last in names.items():
    who = Person(f"{first}@example.com", {"technician"}, first.title(), last)
    user = add_person(username=first, person=who, by=owner, now=now)
    week = Week(((time(5), time(17)),) * 7, (time(12), time(12, 30)))
    keep_week(person=user, week=week, seen=week_of(user).stamp, by=owner, now=now)
    found[first] = user.pk
today = company_day(now)
days = {str(n): add_working_days(today, n).isoformat() for n in (6, 7, 8, 9)}
print(json.dumps({"people": found, "days": {"0": today.isoformat(), **days}}))
"""
BOOKED = """
import json
from datetime import date, timedelta
from django.contrib.auth.models import User
from django.utils import timezone
from equipment.models import Site, Train
from jobs.models import SiteTenure, Visit
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from jobs.workflows.jobs import Wanted, open_job
from jobs.workflows.telling import Call, tell_by_telephone
from jobs.workflows.visits import Held, arrive, book_visit
wanted = json.loads(%r)
office, now = User.objects.get(username="marit"), timezone.now()
hearing = {}
for row in SiteTenure.objects.open().told_of_visits().select_related("customer"):
    hearing.setdefault(row.site_id, []).append(row.customer)
days = {date.fromisoformat(row[1]) for row in wanted}
held = [list(Visit.objects.on_day(day).standing().values_list("job__site", flat=True))
    for day in days]
visited = sum(held, [])
trains = [train for train in Train.objects.order_by("pk")
    if len(hearing.get(train.site_id, [])) == 1]
trains.sort(key=lambda train: train.site_id in visited)
free = [train for train in trains if hearing[train.site_id][0].can_be_mailed]
quiet = [train for train in trains if not hearing[train.site_id][0].can_be_mailed]
made = []
for person, day, begins, minutes, kind in wanted:
    train = (quiet if kind == "silent" else free).pop(0)
    lead = User.objects.get(username=person)
    hour, minute = divmod(begins, 60)
    at = at_hour(date.fromisoformat(day), hour, minute)
    early = at - timedelta(minutes=30) if at < now else now
    job = open_job(site=train.site, train=train, by=office, now=early,
        wanted=Wanted("service", company_day(early), callback_answer="no"))
    held = Held(lead, at, at + timedelta(minutes=minutes))
    visit = book_visit(job=job, held=held, by=office, now=early, writes=at > now)
    if at < now:
        call = Call(hearing[train.site_id][0].name, "518-555-0100", read_back=True)
        tell_by_telephone(visit=visit, sequence=0, call=call, by=office, now=early)
    if kind == "stuck":
        arrive(visit=visit, by=lead, now=at)
    made.append(visit.pk)
print(json.dumps(made))
"""
LETTERS = """
SELECT id, template, recipient, state, subject, visit_id FROM jobs_outboxmail
WHERE mail_class = 'customer' ORDER BY id
"""
LEADS = """
SELECT visit.id, person.username, visit.starts_at FROM jobs_visit visit
JOIN auth_user person ON person.id = visit.lead_id
WHERE visit.status NOT IN ('cancelled', 'no_access') ORDER BY visit.starts_at
"""
#: visits, the hour of each, and whose it is
OF_EVERYBODY = """
SELECT id, julianday(starts_at) * 24, lead_id FROM jobs_visit
WHERE status NOT IN ('cancelled', 'no_access') ORDER BY starts_at
"""
#: the way from the visit before, and to the one after
BETWEEN_TWO = re.compile(r"min (from|of driving from) .*min to ", re.DOTALL)


@pytest.fixture(scope="module")
def product():
    """One of its own: what these days take and move, other stories find taken."""
    with running() as started:
        yield started


@pytest.fixture(scope="module")
def company(product):
    """Three more technicians, whose days these stories are about."""
    made = product.ask(PEOPLE)
    product.at_work()
    return made


@pytest.fixture
def desk(visit, product, company):
    """(page, its counter, how visits come to be booked, the letters since) of the dispatcher."""
    page, act = visit("marit", size=DESK).page, Counted()
    before = set()

    def book(*rows):
        days = company["days"]
        rows = [(who, days[day], *rest) for who, day, *rest in rows]
        made = product.ask(BOOKED % json.dumps(rows)) if rows else []
        before.update(row[0] for row in all_left(product))
        act.begun = time.monotonic()
        return made

    def letters():
        return [row for row in all_left(product) if row[0] not in before]

    return page, act, book, letters


def all_left(product):
    """Every letter of a customer, once none waits any more."""

    def rows():
        found = product.rows(LETTERS)
        return (
            found if all(row[3] not in ("queued", "claimed", "sending") for row in found) else None
        )

    return poll(rows) or []


def reasons(product, rows):
    """(template, to whom, why): what each of these letters says is other than it was."""
    told = []
    for _, template, recipient, state, subject, _ in rows:
        assert state == "sent", (recipient, state)
        texts = [
            " ".join(mail.get_body(("plain",)).get_content().split())
            for mail in product.letters()
            if (mail["To"], " ".join(mail["Subject"].split())) == (recipient, subject)
        ]
        why = [found for text in texts[-1:] for found in REASONS.findall(text)]
        told.append((template, recipient, why))
    return told


def said(capsys, story, act, told):
    with capsys.disabled():
        print(f"\n{story}: {act.actions} actions, {act.seconds:.1f} s; {len(told)} letters")
        for template, recipient, why in told:
            print(f"    {template} to {recipient}: {'; '.join(why)}")
    keeps(story, act, told)


def leads(product, visits):
    return [who for pk, who, _ in product.rows(LEADS) if pk in visits]


def enter_away(page, act, kind):
    """From the page that asks when: why, and what follows of it."""
    act(page.locator(f"[name=kind][value={kind}]").check)
    act(page.get_by_role("button", name="is away").click)


def test_an_ill_technician_with_seven_visits(desk, product, company, capsys):
    page, act, book, letters = desk
    rows = [("ketil", "6", hour * 60, 60, "") for hour in (8, 9, 10, 11, 13, 14)]
    seven = book(*rows, ("ketil", "6", 15 * 60, 60, "silent"))
    page.goto(f"/day/?on={company['days']['6']}")
    row = page.locator(f"#p{company['people']['ketil']}")
    act(row.get_by_role("link", name="ill or away").click)
    enter_away(page, act, "ill")
    page.get_by_role("heading", name="who takes 7 visits").wait_for()
    assert not letters()  # nobody is written to before it is settled
    silent = page.locator("tr", has=page.get_by_text("No letter goes"))
    assert silent.count() == 1
    act(silent.locator("label", has_text="Told by telephone").click)
    act(page.get_by_role("button", name="Give all as marked").click)
    page.get_by_text("No visit to come stands in this time").wait_for()
    assert "ketil" not in leads(product, seven)
    told = reasons(product, letters())
    said(capsys, "ill with seven visits", act, told)
    # six houses with a mail address, one letter each, since another person comes
    assert len(told) == 6
    assert {recipient for _, recipient, _ in told} == {row[1] for row in told}
    assert all("comes instead of Ketil" in " ".join(why) for *_, why in told)


def test_leave_next_week_with_visits_on_two_days(desk, product, company, capsys):
    page, act, book, letters = desk
    two = book(("oona", "7", 9 * 60, 60, ""), ("oona", "8", 10 * 60, 60, ""))
    page.goto(f"/day/?on={company['days']['7']}")
    row = page.locator(f"#p{company['people']['oona']}")
    act(row.get_by_role("link", name="ill or away").click)
    act(lambda: page.locator("[name=until_on]").fill(company["days"]["9"]))
    enter_away(page, act, "leave")
    for _ in two:
        with page.expect_navigation():
            act(page.get_by_role("button", name="Give all as marked").click)
    assert "oona" not in leads(product, two)
    told = reasons(product, letters())
    said(capsys, "leave next week", act, told)
    assert len(told) == 2
    assert all("comes instead of Oona" in " ".join(why) for *_, why in told)
    page.goto(f"/week/?on={company['days']['8']}")
    assert "away" in page.locator("tr", has_text="Siltfern").inner_text()


def test_an_urgent_job_between_two(desk, product, company, capsys):
    """Whoever is offered between two visits: two have one early and one late."""
    page, act, book, letters = desk
    days = [(who, "0", at, 30, "") for who in ("oona", "pell") for at in (6 * 60, 16 * 60)]
    book(*days)
    around = {row[0] for row in product.rows(OF_EVERYBODY)}
    page.goto("/worklist/")
    act(page.get_by_role("link", name="Take a call").click)
    choose(page, act, "26 Mossgate", "26 Mossgate")
    act(page.locator("label", has_text="no water").click)
    act(page.locator("[name=read_out]").check)
    say(page, act, "No water at all since six, three children.")
    with page.expect_response("**/call/house/"):
        act(page.locator("[name=asked]").check)
    something_else(page, act)
    act(page.locator(".openings label", has_text=BETWEEN_TWO).first.click)
    booked(page, act)
    pk = int(page.url.rstrip("/").rpartition("/")[2])
    rows = product.rows(OF_EVERYBODY)
    ((hour, lead),) = [row[1:] for row in rows if row[0] == pk]
    of_day = [row[0] for row in rows if row[2] == lead and abs(row[1] - hour) < HALF_A_DAY_H]
    assert 0 < of_day.index(pk) < len(of_day) - 1
    assert set(of_day) - {pk} <= around
    told = reasons(product, letters())
    said(capsys, "urgent job between two", act, told)
    # to the caller alone: the two beside it stay as they were
    assert [row[:2] for row in told] == [("visit_confirmation", "sunniva.mossgate@example.com")]


def test_a_knock_on_of_ninety_minutes(desk, product, company, capsys):
    page, act, book, letters = desk
    stuck, *behind = book(
        ("ketil", "0", 6 * 60, 30, "stuck"),
        ("ketil", "0", 6 * 60 + 45, 30, ""),
        ("ketil", "0", 7 * 60 + 30, 30, ""),
        ("ketil", "0", 8 * 60 + 15, 30, "silent"),
        ("ketil", "0", 15 * 60, 45, ""),
    )
    assert stuck
    before = {row[0]: row[2] for row in product.rows(LEADS)}
    page.goto("/day/")
    row = page.locator(f"#p{company['people']['ketil']}")
    act(row.get_by_role("link", name="runs late").click)
    silent = page.locator("tr", has=page.get_by_text("No letter goes"))
    act(silent.locator("label", has_text="Told by telephone").click)
    act(page.get_by_role("button", name="Do all as marked").click)
    page.wait_for_url("**/day/**on=*")
    after = {row[0]: row[2] for row in product.rows(LEADS)}
    moved = [pk for pk in behind if before[pk] != after[pk]]
    told = reasons(product, letters())
    said(capsys, "knock-on of 90 minutes", act, told)
    # who is told other hours gets one letter; the last of the day is not touched by it
    assert behind[-1] not in moved
    assert {row[5] for row in letters()} == set(moved) - {behind[2]}
    assert all(why for *_, why in told)


def keys_written(begin):
    """The keys that README writes down behind these words."""
    (line,) = [
        row for row in (ROOT / "README.md").read_text().splitlines() if row.startswith(begin)
    ]
    return re.findall(r"`(\w+)`", line.partition(":")[2])


IS_A_TIME = "() => document.activeElement.name === 'when'"


def test_the_written_path_by_keyboard_books_a_visit(visit, product):
    page = visit("marit", size=DESK).page
    page.goto("/worklist/")
    keys = keys_written("From the open worklist to the first page that books")
    assert 0 < len(keys) <= MOST_KEYS
    for key in keys:
        page.keyboard.press(key)
    page.wait_for_url("**/book/")
    tab, enter = keys_written("From there to the booked visit")
    for _ in range(TABS_TO_THE_TIMES):
        page.keyboard.press(tab)
        if page.evaluate(IS_A_TIME):
            break
    page.keyboard.press("ArrowDown")
    assert page.locator("[name=when]:checked").count() == 1
    page.keyboard.press(enter)
    page.get_by_text("Booked: ").wait_for()


def test_every_letter_that_is_written_is_a_key_of_the_list(visit):
    page = visit("marit", size=DESK).page
    page.goto("/worklist/")
    page.locator("#keys > summary").click()
    shown = " ".join(page.locator("#keys dt").all_inner_texts())
    text = (ROOT / "README.md").read_text().partition("### By keyboard")[2].partition("\n## ")[0]
    letters = set(re.findall(r"`([a-z])`", text))
    assert letters == set(re.findall(r"[a-z]", shown))
    page.locator("#keys > summary").click()
    seen = set()
    for letter in sorted(letters - {"s"}):
        page.keyboard.press(letter)
        seen.add(page.evaluate("() => document.activeElement.closest('#rows') !== null"))
    assert seen == {True}
    page.keyboard.press("s")
    assert page.evaluate("() => document.activeElement.id") == "q"
