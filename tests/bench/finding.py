"""The search with many customers: how many of forty are among the first five, and how soon."""

import statistics

from django.db import connection
from django.utils import timezone

from equipment.models import Site
from jobs.models import SearchPiece, SearchWord
from jobs.models.company import company_day
from jobs.search.find import near_customers, near_sites, search

from . import clock, households, spoken
from .clock import head, line

ROUNDS = 5


def show(asked):
    houses = spoken.move_in()
    told = 0
    for customers in sorted({20_000, asked.customers}):
        seconds = taken(lambda n=customers, before=told: households.settle(range(before, n)))
        told = customers
        with connection.cursor() as cursor:
            cursor.execute("ANALYZE")
        head(f"Search: {customers} customers, {connection.vendor}")
        line("settled and all words made anew in", f"{seconds:.0f} s")
        line("words", f"{SearchWord.objects.count()}")
        line("words and pieces in the dictionary", f"{SearchPiece.objects.count()}")
        forty(houses)
        others()


def forty(houses):
    today, times, missed = company_day(timezone.now()), {}, []
    for typed, key in spoken.SEARCHES:
        ask = lambda typed=typed: search(typed, Site.objects.all(), today=today)  # noqa: E731
        if houses[key] not in [hit.site for hit in ask()[:5]]:
            missed.append(typed)
        times[typed] = [1000 * taken(ask) for _ in range(ROUNDS)]
    line("found among the first five", f"{len(times) - len(missed)} of {len(times)}", "40")
    for typed in missed:
        line("  not found", typed)
    every = sorted(each for row in times.values() for each in row)
    line("median", f"{statistics.median(every):.1f} ms")
    line("95 of 100 within", f"{every[int(len(every) * 0.95)]:.1f} ms")
    slowest = max(times, key=lambda typed: statistics.median(times[typed]))
    line(f"slowest: {slowest}", f"{statistics.median(times[slowest]):.1f} ms")


def others():
    """Common words, words without slips, and the look for near-duplicates."""
    today = company_day(timezone.now())
    row = households.household(777)
    first, last = row["name"].split()
    questions = {
        f"search {typed}": lambda typed=typed: search(typed, Site.objects.all(), today=today)
        for typed in (
            row["name"],
            row["phone"],
            row["street"],
            row["tag"],
            "heron lane",
            "road street",
            "ada",
            "kestrel ford mill road",
            "he",
            "zz qq",
        )
    }
    questions["near houses"] = lambda: near_sites(row["street"][:-1], row["town"])
    questions["near customers"] = lambda: near_customers(f"{last} {first}", [row["phone"]], "")
    for what, ask in questions.items():
        line(what, f"{1000 * clock.median_seconds(ask, ROUNDS):.1f} ms")


def taken(call):
    started = clock.now()
    call()
    return clock.now() - started
