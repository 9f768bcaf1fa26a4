"""The callback report beside a recount of what people did, in companies with an invented past."""

import time

from django.db import transaction

from tests.jobs.random_company import build_company
from tests.jobs.recounted import differences, figures, selections

from .clock import head, line


def show(asked):
    head("recount")
    companies, compared, works, callbacks, wrong = 0, 0, 0, 0, []
    started = time.perf_counter()
    for seed in range(asked.companies):
        with transaction.atomic():
            company = build_company(seed)
            for selection in selections():
                compared += figures(selection)
                wrong += [(seed, *each) for each in differences(company, selection)]
            companies += not any(each[0] == seed for each in wrong)
            works += len(company.works)
            callbacks += sum(work.answer == "yes" for work in company.works)
            transaction.set_rollback(True)
    line("companies whose report is the recount, whole", f"{companies} of {asked.companies}", "all")
    line("periods and windows of each", f"{len(selections())}")
    line("figures compared", f"{compared}")
    line("jobs and callbacks that people did", f"{works}, {callbacks}")
    line("seconds", f"{time.perf_counter() - started:.0f}")
    for seed, selection, what, report, by_hand in wrong:
        days = f"{selection.since} to {selection.until}, {selection.window_days} days"
        line(f"company {seed}, {days}: {what}", f"{report}, by hand {by_hand}")
