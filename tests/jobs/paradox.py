"""A company in which the one with the hard waters is called back more often, and is the better one.

Abel does most of the oxidant systems, which call back one time in seven; Bela most of the rest, one
in twenty. Crude: Abel 6 of 50, Bela 4 of 50. In each kind of work Abel has fewer: 6 of 40 against 2
of 10, and 0 of 10 against 2 of 40. Own figures; the shape is Simpson's paradox as in Charig et al.,
British Medical Journal 292 (1986) 879, treatment of kidney stones (SEEN).
"""

from collections import Counter
from datetime import date, timedelta

from tests.acts import called_back, visited, worked
from tests.factories import make_staff, make_stage, make_train
from tests.jobs.random_company import noon

BEGIN = date(2024, 6, 3)
#: person, parts of the system, jobs, called back
WORK = (
    ("Abel", ("feeder", "retention"), 40, 6),
    ("Abel", ("softener",), 10, 0),
    ("Bela", ("feeder", "retention"), 10, 2),
    ("Bela", ("softener",), 40, 2),
)


def build():
    """Through booking, going there and closing; the people by name."""
    people = {
        first: make_staff("technician", first_name=first, last_name=last)
        for first, last in (("Abel", "Tarn"), ("Bela", "Wick"))
    }
    taken = Counter()

    def free(who, day):
        """Hour after hour of one day."""
        taken[who.pk, day] += 1
        return noon(day) + timedelta(hours=1.5 * taken[who.pk, day] - 5.5)

    for first, parts, jobs, calls in WORK:
        who = people[first]
        for number in range(jobs):
            day = BEGIN + timedelta(days=5 * number)
            train = make_train()
            for kind in parts:
                make_stage(train=train, kind=kind, fitted_on=day)
            job = worked(train, who, at=free(who, day))
            if number < calls:
                back = day + timedelta(days=20)
                again = called_back(job, at=noon(back))
                visited(again, who, at=free(who, back), cause="B_low", cause_note="set too low")
    return people
