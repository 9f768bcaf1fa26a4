"""python -m tests.bench [part ...] [--customers N] [--follow-ups N] [--processor-time] ...

Works in a scratch database; only `memory` looks at an installation that runs beside it.
"""

import argparse
import os
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]


def arguments():
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument(
        "parts",
        nargs="*",
        metavar="part",
        help="engineering startups pages work search openings deaths memory phone same "
        "schedules fair recount million",
    )
    parser.add_argument("--customers", type=int, default=10_000, help="houses in the full database")
    parser.add_argument("--follow-ups", type=int, default=100_000)
    parser.add_argument("--houses", type=int, default=2000, help="start-ups of each way to dial in")
    parser.add_argument("--jobs-each", type=int, default=10, help="jobs of each house")
    parser.add_argument("--deaths", type=int, default=200, help="of web server and worker")
    parser.add_argument("--mails", type=int, default=2000, help="that leave meanwhile")
    parser.add_argument("--writes", type=int, default=2000, help="that people make meanwhile")
    parser.add_argument("--records", type=int, default=500, help="generated, office and browser")
    parser.add_argument("--openings", type=int, default=500, help="companies at random")
    parser.add_argument("--companies", type=int, default=50, help="whose report is recounted")
    parser.add_argument("--schedules", type=int, default=200, help="of phones in trouble")
    parser.add_argument("--periods", type=int, default=400, help="of each invented company")
    parser.add_argument("--million", type=int, default=1_000_000, help="jobs of the callback page")
    parser.add_argument("--rounds", type=int, default=15, help="requests of each page")
    parser.add_argument(
        "--processor-time",
        action="store_true",
        help="on a busy machine: times of this process only",
    )
    return parser.parse_args()


def main():
    asked = arguments()
    os.environ["DJANGO_SETTINGS_MODULE"] = "config.settings_test"
    os.chdir(ROOT)
    import django

    django.setup()
    from . import clock, engineering, fair, killing, memory, phone, same, schedules, start_ups

    if asked.processor_time:
        clock.count_processor_time()
    known = {"engineering", "startups", "pages", "work", "search", "openings", "recount"}
    known |= {"deaths", "memory", "phone", "same", "schedules", "fair", "million"}
    wanted = set(asked.parts) or known
    if unknown := wanted - known:
        raise SystemExit(
            f"not a part: {', '.join(sorted(unknown))}; say {', '.join(sorted(known))}"
        )
    started = time.perf_counter()
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f} before the start")
    if "engineering" in wanted:
        engineering.show()
    if "startups" in wanted:
        start_ups.show(asked.houses)
    for parts in ({"pages", "work", "search", "openings", "recount"}, {"million"}):
        if wanted & parts:
            in_scratch_database(wanted & parts, asked)
    alone = {
        "deaths": lambda: killing.show(asked),
        "memory": memory.show,
        "phone": phone.show,
        "same": lambda: same.show(asked.records),
        "schedules": lambda: schedules.show(asked.schedules),
        "fair": lambda: fair.show(asked.periods),
    }
    for part, show in alone.items():
        if part in wanted:
            show()
    print(f"\n{time.perf_counter() - started:.0f} s")


def in_scratch_database(wanted, asked):
    from django.test.utils import setup_databases, setup_test_environment, teardown_databases

    from . import finding, million, openings, pages, recount, work

    modules = {"pages": pages, "work": work, "search": finding, "openings": openings}
    modules |= {"recount": recount, "million": million}

    setup_test_environment()
    databases = setup_databases(verbosity=0, interactive=False)
    try:
        for part, module in modules.items():
            if part in wanted:
                module.show(asked)
    finally:
        teardown_databases(databases, verbosity=0)


if __name__ == "__main__":
    main()
