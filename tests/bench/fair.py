"""False alarms and findings of the owner's answer in invented companies, beside the design's."""

import math
import random
from dataclasses import replace
from itertools import product

from jobs.reports.fair_answer import answer_of, compared
from jobs.reports.fair_exact import EVERYDAY_SPREAD
from jobs.reports.fair_table import Table, matched

from .clock import head

#: the hard, the usual and the easy class: times the base rate
TIMES = (2.0, 0.8, 0.4)
EVEN, MOST, ONLY = "even", "most", "only"
#: share of the hard class in the work of the first person, and in that of the others
HARD = {EVEN: (0.25, 0.25), MOST: (0.70, 0.15), ONLY: (0.60, 0.0)}
#: what the rule was designed to: (false alarm among equals, with true spread 0.2, found at
#: twice, found at three times) of 100 periods, one look at 2.5 %, spread taken as 0.2 (own
#: simulation of the design, 1000 runs)
DESIGN = {
    (EVEN, 4, 25, 6): (0.3, 0.9, 3, 13),
    (EVEN, 4, 60, 6): (0.9, 2.1, 7, 41),
    (EVEN, 4, 150, 12): (0.4, 5.3, 62, 100),
    (EVEN, 6, 60, 6): (0.3, 0.7, 7, 42),
    (EVEN, 6, 60, 12): (0.8, 1.6, 23, 89),
    (EVEN, 12, 60, 12): (0.1, 2.1, 20, 90),
    (MOST, 4, 60, 6): (0.7, 1.7, 9, 46),
    (MOST, 6, 60, 12): (0.9, 2.3, 34, 96),
    (MOST, 12, 25, 6): (0.5, 0.5, 5, 24),
    (ONLY, 4, 60, 6): (0.7, 1.7, 4, 14),
    (ONLY, 6, 60, 12): (0.9, 1.3, 7, 29),
    (ONLY, 6, 150, 12): (0.2, 3.4, 13, 67),
}
#: the same with the spread of the others averaged in, which is what is shipped
SHIPPED = {
    (EVEN, 4, 60, 6): (0.6, 1.1, 8, 40),
    (EVEN, 4, 150, 12): (0.1, 3.1, 52, 100),
    (EVEN, 6, 150, 12): (0.2, 4.1, 55, 100),
    (EVEN, 12, 150, 12): (0.1, 3.9, 54, 100),
}
#: (look, nothing seen, too few) of 100 periods by times the first person is called back, 300 runs
ANSWERS = {
    (6, 60, 6): {1: (1, 0, 99), 2: (6, 0, 94), 3: (40, 0, 60)},
    (6, 60, 12): {1: (1, 57, 42), 2: (20, 66, 14), 3: (86, 13, 1)},
    (6, 150, 12): {1: (0, 100, 0), 2: (51, 49, 0), 3: (100, 0, 0)},
}


def jobs_of(way, people, jobs):
    """Jobs of each person by class; what is not hard is two to one of the others."""
    rows = []
    for place in range(people):
        hard = round(jobs * HARD[way][place > 0])
        usual = round((jobs - hard) * 2 / 3)
        rows.append((hard, usual, jobs - hard - usual))
    return tuple(rows)


def company(draw, rows, base, *, first=1.0, spread=0.0):
    """One period: callbacks at random; `first` times as often for the first person."""
    called = []
    for place, row in enumerate(rows):
        own = math.exp(draw.gauss(0, spread)) if spread else 1.0
        shares = _shares(base, own, first if not place else 1.0)
        called.append(
            tuple(
                sum(draw.random() < share for _ in range(jobs))
                for jobs, share in zip(row, shares, strict=True)
            )
        )
    return Table(tuple(range(len(rows))), tuple(range(len(TIMES))), rows, tuple(called))


def _shares(base, own, first):
    """`own` is laid to the odds, `first` to the share."""
    for times in TIMES:
        share = base * times
        odds = own * share / (1 - share)
        yield min(0.999, first * odds / (1 + odds))


def named(table, *, alone=False):
    """Places of those who stand out; `alone` leaves the spread of the others out."""
    people = [person for person in matched(table) if person.tested]
    if alone:
        people = [replace(person, concentration=0.0) for person in people]
    bound, chance = compared(people, tau=EVERYDAY_SPREAD)
    return {place for place, p in chance.items() if p <= bound}


def measured(cell, runs, *, alone=False, seed=1):
    """The four figures of a cell, of 100 periods."""
    way, people, jobs, percent = cell
    rows, draw = jobs_of(way, people, jobs), random.Random(f"{seed} {cell}")
    tally = [0, 0, 0, 0]
    for _ in range(runs):
        companies = (
            company(draw, rows, percent / 100),
            company(draw, rows, percent / 100, spread=0.2),
            company(draw, rows, percent / 100, first=2),
            company(draw, rows, percent / 100, first=3),
        )
        found = [named(each, alone=alone) for each in companies]
        seen = (bool(found[0]), bool(found[1]), 0 in found[2], 0 in found[3])
        tally = [sum(pair) for pair in zip(tally, seen, strict=True)]
    return tuple(100 * count / runs for count in tally)


def answers(cell, first, runs, *, seed=1):
    """How often of 100 periods each of the three answers is given."""
    people, jobs, percent = cell
    rows, draw = jobs_of(EVEN, people, jobs), random.Random(f"{seed} {cell} {first}")
    kinds = [answer_of(company(draw, rows, percent / 100, first=first)).kind for _ in range(runs)]
    return tuple(100 * kinds.count(kind) / runs for kind in ("look", "nothing", "few"))


def show(runs):
    head(f"The owner's answer, of 100 periods, {runs} runs: false alarms; found at x2, x3")
    print(f"{'work, people x jobs, base':<34} {'here':>28} {'design':>28}")
    for alone, table in ((True, DESIGN), (False, SHIPPED)):
        print("spread taken as 0.2:" if alone else "as shipped, spread of the others too:")
        for cell, design in table.items():
            here = measured(cell, runs, alone=alone)
            way, people, jobs, percent = cell
            what = f"{way}, {people} x {jobs}, {percent} %"
            print(f"{what:<34} {_four(here):>28} {_four(design):>28}", flush=True)
    few = max(20, runs // 4)
    head(f"The three answers, of 100 periods, {few} runs: look / nothing seen / too few")
    for cell, first in product(ANSWERS, (1, 2, 3)):
        people, jobs, percent = cell
        here, design = answers(cell, first, few), ANSWERS[cell][first]
        what = f"{people} x {jobs}, {percent} %, x{first}"
        print(f"{what:<34} {_three(here):>28} {_three(design):>28}", flush=True)


def _four(row):
    return f"{row[0]:.1f} / {row[1]:.1f}; {row[2]:.0f}, {row[3]:.0f}"


def _three(row):
    return " / ".join(f"{each:.0f}" for each in row)
