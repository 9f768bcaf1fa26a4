"""Queries and times of the main pages and the live panel, with few rows and with many."""

from django.db import connection
from django.test import override_settings
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from jobs.models import Customer, FollowUp, Job, Visit
from tests.conftest import make_person, signed_in
from tests.record_scenes import answer_all, make_house

from . import rows
from .clock import head, line, median_seconds, side_by_side

FEW = {"houses": 100, "jobs_each": 10, "follow_ups": 1000}
LISTS = {"worklist", "messages", "day", "week", "my-day", "search", "longest"}


def show(asked):
    now = timezone.now()
    people, clients = rows.make_people(), make_clients()
    record, _, lead = make_house()
    answer_all(record, lead)
    clients["lead"] = signed_in(lead)
    rows.grow(now=now, people=people, **FEW)
    rows.make_mails(3, now)
    rows.make_visits(3, people, now)
    short = measured(clients, people, 1)
    rows.make_mails(60, now)
    rows.make_visits(40, people, now)
    few = measured(clients, people, asked.rounds)
    rows.grow(
        now=now,
        houses=asked.customers,
        jobs_each=asked.jobs_each,
        follow_ups=asked.follow_ups,
        people=people,
    )
    many = measured(clients, people, asked.rounds)
    tell(short, few, many, asked)
    against_bare(clients["dispatcher"], asked.rounds)
    panel(clients["lead"], record, asked.rounds)


def make_clients():
    return {role: signed_in(make_person(f"bench-{role}", role)) for role in ("dispatcher", "owner")}


def addresses(people):
    """(name, who asks, address) of the main pages; the newest row of each kind.

    `search` finds the same house in both databases; `longest` shows 20 houses in the small one and
    as many as it ever shows in the full one.
    """
    visit = Visit.objects.filter(lead=people[0]).latest("pk")
    due = FollowUp.objects.open().order_by("window_from").first()
    return [
        ("worklist", "dispatcher", reverse("worklist")),
        ("messages", "dispatcher", reverse("messages")),
        ("day", "dispatcher", reverse("day")),
        ("week", "dispatcher", reverse("week")),
        ("search", "dispatcher", reverse("search") + "?q=8+quarry"),
        ("longest", "dispatcher", reverse("search") + "?q=heron+lane"),
        ("customer", "dispatcher", reverse("customer-detail", args=[Customer.objects.last().pk])),
        ("site", "dispatcher", reverse("site-detail", args=[visit.job.site_id])),
        ("visit", "dispatcher", reverse("visit-detail", args=[visit.pk])),
        ("promise", "dispatcher", reverse("follow-up-detail", args=[due.pk])),
        ("my-day", people[0], reverse("my-day")),
    ]


def measured(clients, people, rounds):
    """name -> (queries, median milliseconds)"""
    found = {}
    for name, who, address in addresses(people):
        client = clients[who] if who in clients else signed_in(who)
        found[name] = asked_for(client, address, rounds)
    return found


def asked_for(client, address, rounds):
    def ask():
        answer = client.get(address)
        assert answer.status_code == 200, (address, answer.status_code)

    ask()
    with CaptureQueriesContext(
        connection,
    ) as caught:
        ask()
    return len(caught), 1000 * median_seconds(ask, rounds)


def tell(short, few, many, asked):
    head(
        f"Pages: {FEW['houses']} and {asked.customers} customers, {Job.objects.count()} jobs, "
        f"{asked.follow_ups} promises"
    )
    print("queries with a few rows and with full lists; median ms in the small and full database")
    print(f"{'page':<10} {'queries':>13} {'budget':>7} {'median ms':>16} {'ratio':>6}  budget 1.3")
    for name, (queries, _) in short.items():
        (_, before), (more, after) = few[name], many[name]
        budget = 12 if name in LISTS else 20
        print(
            f"{name:<10} {queries:>5} and {more:>3} {budget:>7} {before:>6.1f} and {after:>5.1f}"
            f" {after / before:>6.2f}"
        )


@override_settings(ROOT_URLCONF="tests.bench.bare")
def against_bare(client, rounds):
    head("The 50-row list of messages against a bare table behind the same middleware")
    ours, bare = side_by_side(
        lambda: client.get(reverse("messages")), lambda: client.get("/bare/table/"), rounds
    )
    line("bare table", f"{1 / bare:.0f} requests/s")
    line("list of messages", f"{1 / ours:.0f} requests/s")
    line("share of the bare table's requests", f"{bare / ours:.2f}", ">= 0.6")


@override_settings(ROOT_URLCONF="tests.bench.bare")
def panel(client, record, rounds):
    head("The live panel of the feeder setting, one process, warm")
    address = reverse("record-panel", args=[record.pk, "feed-setting"]) + "?dose=20+mg%2FL"
    queries, _ = asked_for(client, address, 1)
    ours, bare = side_by_side(lambda: client.get(address), lambda: client.get("/bare/"), rounds)
    line("bare signed-in page", f"{1000 * bare:.1f} ms")
    line("live panel", f"{1000 * ours:.1f} ms, {queries} queries", "<= 60 ms")
    line("share of the bare page's requests", f"{bare / ours:.2f}", ">= 0.2")
