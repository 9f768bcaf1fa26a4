"""The same jobs once more at other houses, by the database itself: a million rows in a minute."""

from django.core.management.color import no_style
from django.db import connection, transaction

from jobs.models import CallbackFact, Follow, HandoverFact, Job

#: houses whose jobs are made one by one; people, days, kinds and readings repeat after so many
BLOCK = 12_000


def blocks(places):
    """(places to be made one by one, how often they are copied on): rows alike, numbers apart."""
    whole, times = places[:BLOCK], 0
    while alike(places[(times + 1) * BLOCK : (times + 2) * BLOCK], whole, (times + 1) * BLOCK):
        times += 1
    return [(whole, times), (places[(times + 1) * BLOCK :], 0)]


def alike(later, first, apart):
    return later == [tuple(pk + apart for pk in place) for place in first]


def copy_on(first, last, times):
    """The jobs from `first` to `last` with all that was frozen about them, so often again.

    A house, system and reading of a copy lies BLOCK numbers on, a job as many as there are.
    """
    if not times:
        return
    jobs = last - first + 1
    places = {"site_id": BLOCK, "train_id": BLOCK, "sulfide_reading_id": BLOCK}
    again = {"job_id": jobs, "origin_id": jobs}
    with transaction.atomic():
        _again(Job, "id", (first, last), times, {"id": jobs, "origin_id": jobs} | places)
        for fact in (HandoverFact, CallbackFact):
            rows = fact.objects.filter(job__gte=first, job__lte=last).order_by("pk")
            pks = rows.values_list("pk", flat=True)
            apart = pks.last() - pks.first() + 1
            moved = {"id": apart} | again | places
            _again(fact, "id", (pks.first(), pks.last()), times, moved)
        _again(Follow, "job", (first, last), times, {"job": jobs})
        with connection.cursor() as cursor:
            models = [Job, HandoverFact, CallbackFact]
            for sql in connection.ops.sequence_reset_sql(no_style(), models):
                cursor.execute(sql)


def _again(model, key, between, times, moved):
    quote = connection.ops.quote_name
    columns = [field.column for field in model._meta.concrete_fields]
    into = ", ".join(map(quote, columns))
    read = ", ".join(
        f"{quote(name)} + {moved[name]} * %s" if name in moved else quote(name) for name in columns
    )
    shifts = sum(name in moved for name in columns)
    table = quote(model._meta.db_table)
    sql = (
        f"INSERT INTO {table} ({into}) SELECT {read} FROM {table}"  # noqa: S608
        f" WHERE {quote(key)} BETWEEN %s AND %s"
    )
    with connection.cursor() as cursor:
        for time in range(1, times + 1):
            cursor.execute(sql, [time] * shifts + list(between))
