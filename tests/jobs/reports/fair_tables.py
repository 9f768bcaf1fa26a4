"""Tables of counts for the tests of the owner's answer: (jobs, called back) by person and class."""

from jobs.reports.fair_table import Class, Table

#: own regression sets, not published; classes oxidant feed and other
F1 = [[(40, 6), (10, 0)], [(10, 2), (40, 2)]]
F2 = [[(30, 6), (10, 1)], [(0, 0), (40, 2)], [(0, 0), (50, 2)]]
F3 = [[(20, 8), (30, 6)], [(20, 2), (30, 1)], [(20, 1), (30, 2)], [(20, 2), (30, 1)]]
F4 = [[(20, 0), (30, 0)]] * 4
F5 = [[(20, 3), (5, 1)]]
#: Charig et al., BMJ 292 (1986) 879: failures of open surgery and of the other, small and large
STONES = [[(87, 6), (263, 71)], [(270, 36), (80, 25)]]
#: help of R's mantelhaen.test; Agresti, Categorical Data Analysis (1990) pp. 231-237: rabbits,
#: (cured, died) without delay and after 1.5 hours, by dose of penicillin
RABBITS = [(0, 6, 0, 5), (3, 3, 0, 6), (6, 0, 2, 4), (5, 1, 6, 0), (2, 0, 5, 0)]


def table(rows):
    return Table(
        people=tuple("ABCDEFGHIJKL"[: len(rows)]),
        classes=tuple(range(len(rows[0]))),
        jobs=tuple(tuple(jobs for jobs, _ in row) for row in rows),
        called=tuple(tuple(called for _, called in row) for row in rows),
    )


def rabbits():
    return [Class(cured + died, cured, c + d, c) for cured, died, c, d in RABBITS]
