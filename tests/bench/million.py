"""A million jobs over ten years, written by the database itself, and the callback page over them.

Contents: grow, show. Each table is filled by one statement from a row of numbers, so that a
million jobs take a minute and not an hour; what is followed is worked out from the facts.
"""

from datetime import UTC, date, datetime, timedelta

from django.db import connection

from equipment.models import Site, Train
from jobs.models import CallbackFact, HandoverFact, Job, LossFact
from jobs.models.facts import CAUSES, KINDS, WATERS, Follow, number_of
from jobs.pages.fair_answer import fair_page
from jobs.pages.over_time import over_time
from jobs.reports.callback_jobs import Selection, cells
from jobs.reports.callbacks import callback_report
from jobs.reports.fair_answer import verdict_day, verdict_period
from tests.factories import make_staff

from .clock import head, line, median_seconds, side_by_side
from .work import SCAN, counted_by_hand

YEARS_DAYS = 3650
#: days from one job to the next, so far that neighbours lie years apart, and no product overflows
STRIDE = 7919 % YEARS_DAYS
#: the hand-written statement joins losses by either of two keys: minutes over ten years
FEW_YEARS = 1000
PEOPLE = 12
JOBS_OF_A_SYSTEM = 5
#: one job in so many is called back, one system in so many lost, one taken over from others
CALLED, LOST, TAKEN_OVER = 16, 8, 20
FOUND = ("A_leak", "B_high", "E_equipment", "L_unknown", "G_source")


def show(asked):
    now = datetime.now(UTC)
    head(f"The callback page over {asked.million:,} jobs in ten years")
    started = now.timestamp()
    today = now.date()
    _unhurried()
    grow(jobs=asked.million, today=today, now=now)
    print(f"written in {datetime.now(UTC).timestamp() - started:.0f} s")
    for what, selection in periods(today).items():
        _measure(what, selection)


def _unhurried():
    """No page writes a million rows: its limit of a statement does not count for filling."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SET statement_timeout = 0")


def verdict_dates(today):
    last = verdict_day(today)
    return verdict_period(last)[0], last


def periods(today):
    since, last = verdict_dates(today)
    return {
        "ten years": Selection(today - timedelta(days=YEARS_DAYS), today, 90, today),
        "24 months": Selection(since, last, 90, last),
    }


def _measure(what, selection):
    asked, scan = side_by_side(lambda: cells(selection), scanned, 5)
    line(f"{what}: a count that touches every row", f"{1000 * scan:.0f} ms")
    line(f"{what}: the questions of the page together", f"{1000 * asked:.0f} ms")
    line(f"{what}: ratio", f"{asked / scan:.2f}", "<= 4")
    page = median_seconds(lambda: page_of(selection), 3)
    line(f"{what}: everything the page asks and works out", f"{1000 * page:.0f} ms", "< 1000 ms")
    if (selection.until - selection.since).days > FEW_YEARS:
        return
    hand = median_seconds(lambda: counted_by_hand(selection), 1)
    line(f"{what}: the same counts by hand-written SQL from the facts", f"{1000 * hand:.0f} ms")
    total, by_hand = callback_report(selection).total, counted_by_hand(selection)
    judged = sum(cell[-1] for cell in by_hand if cell[1] == "judgeable")
    back = sum(cell[-1] for cell in by_hand if cell[1] == "judgeable" and cell[4])
    print(f"report {total.judgeable}, {total.callbacks}; by hand {judged}, {back}")


def page_of(selection):
    """As the page does it: ten years are a period of one's own, which gives no answer."""
    is_verdict = (selection.since, selection.until) == verdict_dates(selection.today)
    verdict_on = selection.today if is_verdict else None
    report = callback_report(selection)
    return fair_page(report, verdict_on=verdict_on), over_time(report)


def scanned():
    with connection.cursor() as cursor:
        cursor.execute(SCAN)
        return cursor.fetchall()


# --- rows ---------------------------------------------------------------------------------------


def grow(*, jobs, today, now):
    """So many jobs, their facts and what is followed; nothing must be there before."""
    people = [make_staff("technician", last_name=f"Person {n}").pk for n in range(PEOPLE)]
    first = today - timedelta(days=YEARS_DAYS)
    houses = -(-jobs // JOBS_OF_A_SYSTEM)
    _places(houses)
    house = f"1 + n % {houses}"
    day, who = _day(f"n * {STRIDE}", first), _one_of("n * 31 + n / 7", people)
    own = {
        "id": "n",
        "site_id": house,
        "train_id": house,
        "index_on": day,
        "reported_on": day,
        "installer_id": who,
    }
    model = Job(
        kind=Job.Kind.SERVICE,
        status=Job.Status.COMPLETED,
        opened_at=now,
        completed_at=now,
        opened_by_id=people[0],
        callback_answer=Job.CallbackAnswer.NO,
    )
    _fill(model, own, jobs)
    _handed_over(jobs, house, day, who, now)
    _called_back(jobs, house, first, people, now)
    _lost(houses, first, now)
    _followed()
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")


def _places(houses):
    _fill(
        Site(town="Kestrel Ford"),
        {"id": "n", "street": _text("n"), "address_key": _text("n")},
        houses,
    )
    inherited = f"(n % {TAKEN_OVER} = 0)"
    _fill(
        Train(name="House system"), {"id": "n", "site_id": "n", "is_inherited": inherited}, houses
    )


def _handed_over(jobs, house, day, who, now):
    fact = HandoverFact(recorded_at=now, parts=[])
    own = {
        "id": "n",
        "job_id": "n",
        "site_id": house,
        "train_id": house,
        "day": day,
        "installer_id": who,
        "is_inherited": f"(({house}) % {TAKEN_OVER} = 0)",
        "kind": _one_of("n / 3", KINDS),
        "water": _one_of("n / 11", WATERS),
    }
    _fill(fact, own, jobs)


def _called_back(jobs, house, first, people, now):
    """By a job of its own; some after a month, some after a year."""
    origin = f"n * {CALLED}"
    day = _day(f"{origin} * {STRIDE}", first, plus="n * 13 % 365")
    place = house.replace("n", f"({origin})")
    job = Job(
        kind=Job.Kind.CALLBACK,
        status=Job.Status.COMPLETED,
        opened_at=now,
        completed_at=now,
        opened_by_id=people[0],
        callback_answer=Job.CallbackAnswer.YES,
    )
    cause = _one_of("n", FOUND)
    own = {"reported_on": day, "origin_id": origin, "cause": cause}
    count = jobs // CALLED
    _fill(job, own | {"id": f"{jobs} + n", "site_id": place, "train_id": place}, count)
    fact = CallbackFact(answer=Job.CallbackAnswer.YES, recorded_at=now)
    _fill(fact, own | {"id": "n", "job_id": f"{jobs} + n"}, count)


def _lost(houses, first, now):
    fact = LossFact(how=LossFact.How.SYSTEM_GONE, recorded_at=now)
    job = f"n * {LOST}"
    day = _day(f"{job} * {STRIDE}", first, plus="n % 100")
    _fill(fact, {"id": "n", "train_id": f"1 + {job} % {houses}", "day": day}, houses // LOST)


def _followed():
    """What the table holds, from the facts: one callback a job at most, one loss a system."""
    days = {
        "sqlite": "CAST(julianday({0}) - 1721424.5 AS INTEGER)",
        "postgresql": f"({{0}} - DATE '0001-01-02' + {number_of(date(1, 1, 2))})",
    }[connection.vendor]
    kind = "CASE fact.kind " + _cases(KINDS)
    water = "CASE fact.water " + _cases(WATERS)
    cause = "CASE back.cause " + _cases(CAUSES)
    named = ("fact.day", "back.reported_on", "loss.day")
    day, back, gone = (days.format(each) for each in named)
    called = "(back.id IS NOT NULL AND (loss.id IS NULL OR back.reported_on <= loss.day))"
    ended = f"CASE WHEN {called} THEN {back} - {day} WHEN loss.id IS NOT NULL THEN {gone} - {day} "
    lost = int(Follow.How.SYSTEM_GONE)
    statement = f"""
        INSERT INTO follow (job, installer, class, day, ended, how, cause)
        SELECT fact.job_id, fact.installer_id, ({kind}) * {len(WATERS)} + ({water}), {day},
            {ended} ELSE {Follow.NEVER} END,
            CASE WHEN {called} THEN 1 WHEN loss.id IS NOT NULL THEN {lost} ELSE 0 END,
            CASE WHEN {called} THEN {cause} END
        FROM jobs_handoverfact fact
        LEFT JOIN jobs_callbackfact back ON back.origin_id = fact.job_id
        LEFT JOIN jobs_lossfact loss ON loss.train_id = fact.train_id AND loss.day >= fact.day
        WHERE NOT fact.is_inherited
    """
    with connection.cursor() as cursor:
        cursor.execute(statement)


def _cases(names):
    return " ".join(f"WHEN '{name}' THEN {n}" for n, name in enumerate(names)) + " END"


def _fill(model, own, count):
    """`count` rows like this one, but for the columns that are worked out from n = 1 to count."""
    columns, values, given = [], [], []
    for field in model._meta.concrete_fields:
        columns.append(connection.ops.quote_name(field.column))
        if field.column in own:
            values.append(own[field.column])
            continue
        values.append("%s")
        given.append(field.get_db_prep_save(getattr(model, field.attname), connection))
    table = connection.ops.quote_name(model._meta.db_table)
    text = f"INSERT INTO {table} ({', '.join(columns)}) SELECT {', '.join(values)} FROM numbers"
    if connection.vendor == "sqlite":
        numbers = f"SELECT 1 UNION ALL SELECT n + 1 FROM numbers WHERE n < {count}"
    else:
        numbers = f"SELECT generate_series(1, {count})"
    with connection.cursor() as cursor:
        statement = f"WITH RECURSIVE numbers(n) AS ({numbers}) {text}"
        cursor.execute(statement.replace(" % ", " %% "), given)


def _day(number, first, plus="0"):
    after = f"(({number}) % {YEARS_DAYS} + {plus})"
    if connection.vendor == "sqlite":
        return f"date('{first}', '+' || {after} || ' days')"
    return f"DATE '{first}' + {after}"


def _one_of(number, choices):
    quoted = (f"'{each}'" if isinstance(each, str) else str(each) for each in choices)
    cases = " ".join(f"WHEN {n} THEN {each}" for n, each in enumerate(quoted))
    return f"CASE ({number}) % {len(choices)} {cases} END"


def _text(number):
    return f"CAST({number} AS {'text' if connection.vendor == 'sqlite' else 'varchar'})"
