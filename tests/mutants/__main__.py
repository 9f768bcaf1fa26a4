"""python -m tests.mutants [PART ...] [--share K/N] [--word W ...] [--near] [--jobs N] [--reach F]

Plants one fault after the other in a copy of the tree and says which test notices. A row that may
survive says why in its table. Ends with 1 if another one survived.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from collections import Counter, defaultdict
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from .copied_tree import copy_tree
from .faults import chosen, parts
from .reach import Reach
from .running import prepare, run, trace


def arguments():
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=" ".join(parts()))
    parser.add_argument("--share", default="1/1", help="the K-th of each N rows: 1/10")
    parser.add_argument("--word", action="append", help="only rows that hold it, or one of them")
    parser.add_argument("--near", action="store_true", help="only the tests that a table names")
    parser.add_argument("--jobs", type=int, default=1, help="processes side by side")
    parser.add_argument("--reach", type=Path, help="which test enters what; written if not there")
    parser.add_argument("--inside", help=argparse.SUPPRESS)
    parser.add_argument("--trace", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if unknown := set(asked.parts) - set(parts()):
        parser.error(f"no part: {', '.join(sorted(unknown))}; there are: {', '.join(parts())}")
    return asked


def wanted(asked):
    """(name of the part, row) for every row that was asked for."""
    return [
        (name, row)
        for name, rows in parts().items()
        if name in asked.parts or not asked.parts
        for row in chosen(rows, words=asked.word or [""], share=asked.share)
    ]


def inside(asked):
    """In a copy, one of several: what its tests enter, or [number, who noticed] of its rows."""
    first, _, of = asked.inside.partition("/")
    out = os.dup(1)  # children are quiet

    def tell(line):
        os.write(out, json.dumps(line).encode() + b"\n")

    prepare()
    if asked.trace:
        everything = [row for rows in parts().values() for row in rows]
        tell(trace(everything, int(first), int(of)))
        return
    rows = {row: number for number, (_, row) in enumerate(wanted(asked))}
    noted = json.loads(asked.reach.read_text()) if asked.reach and not asked.near else {}
    mine = [*rows][int(first) :: int(of)]
    run(mine, Reach(noted), lambda row, test: tell([rows[row], test]), only_near=asked.near)


def beside(asked, told, *also):
    """The same command inside of so many copies at once; what they say is told on."""

    def one(number):
        with tempfile.TemporaryDirectory() as folder:
            again = [sys.executable, "-m", "tests.mutants", *sys.argv[1:], *also]
            again += ["--inside", f"{number}/{asked.jobs}"]
            with subprocess.Popen(again, cwd=copy_tree(folder), stdout=subprocess.PIPE) as process:
                for line in process.stdout:
                    told(json.loads(line))
            return process.returncode

    with ThreadPoolExecutor(asked.jobs) as side:
        return any(list(side.map(one, range(asked.jobs))))


def report(asked, rows, also):
    tally = defaultdict(Counter)

    def told(line):
        (name, row), (file, *more) = rows[line[0]], line[1].split("::", 1)
        test = "::".join([file.split("/")[-1], *more])
        verdict = "caught" if test else "stays" if row.stays else "SURVIVED"
        tally[name][verdict] += 1
        print(f"{verdict:8} {row.line}  {test or row.stays}", flush=True)
        if test and row.stays:
            print("         its table says that nobody could notice", flush=True)

    failed = beside(asked, told, *also)
    for name, of in tally.items():
        print(
            f"{name}: {of.total()} planted, {of['caught']} caught, "
            f"{of['stays'] + of['SURVIVED']} survived ({of['stays']} of them explained)"
        )
    untold = len(rows) - sum(of.total() for of in tally.values())
    survived = sum(of["SURVIVED"] for of in tally.values())
    print(f"{survived} survived unexplained, {untold} not planted", end="")
    return 1 if failed or survived or untold else 0


def main():
    asked = arguments()
    if asked.inside:
        inside(asked)
        return 0
    begun = time.monotonic()
    with tempfile.TemporaryDirectory() as folder:
        reach = (asked.reach or Path(folder, "reach.json")).resolve()
        if not asked.near and not reach.exists():
            noted = {}
            if beside(asked, noted.update, "--trace"):
                return 2
            reach.write_text(json.dumps(noted))
        code = report(asked, wanted(asked), ("--reach", str(reach)))
    print(f", {(time.monotonic() - begun) / 60:.1f} min")
    return code


if __name__ == "__main__":
    sys.exit(main())
