"""python -m tests.mutants [PART ...] [--share K/N] [--word WORD] [--near]

Plants one fault after the other in a copy of the tree and says which test notices. A row that may
survive says why in its table. Ends with 1 if another one survived.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from collections import Counter

from .faults import chosen, parts
from .running import caught_by, copy_tree, prepare


def arguments():
    parser = argparse.ArgumentParser(prog="python -m tests.mutants", description=__doc__)
    parser.add_argument("parts", nargs="*", metavar="PART", help=" ".join(parts()))
    parser.add_argument("--share", default="1/1", help="the K-th of each N rows: 1/10")
    parser.add_argument("--word", default="", help="only rows that hold it")
    parser.add_argument("--near", action="store_true", help="only the tests that a table names")
    parser.add_argument("--inside", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if unknown := set(asked.parts) - set(parts()):
        parser.error(f"no part: {', '.join(sorted(unknown))}; there are: {', '.join(parts())}")
    return asked


def plant(name, rows, only_near):
    """Prints a line for each row and one for the part; the number of rows that should not live."""
    tally = Counter()
    for row in rows:
        test = caught_by(row, only_near=only_near)
        verdict = "caught" if test else "stays" if row.stays else "SURVIVED"
        tally[verdict] += 1
        print(f"{verdict:8} {row.line}  {test or row.stays}", flush=True)
        if test and row.stays:
            print("         its table says that nobody could notice", flush=True)
    print(
        f"{name}: {len(rows)} planted, {tally['caught']} caught, "
        f"{tally['stays'] + tally['SURVIVED']} survived ({tally['stays']} of them explained)"
    )
    return tally["SURVIVED"]


def inside(asked):
    begun = time.monotonic()
    prepare()
    wanted = {
        name: rows for name, rows in parts().items() if name in asked.parts or not asked.parts
    }
    survived = sum(
        plant(name, chosen(rows, word=asked.word, share=asked.share), asked.near)
        for name, rows in wanted.items()
    )
    print(f"{survived} survived unexplained, {(time.monotonic() - begun) / 60:.1f} min")
    return 1 if survived else 0


def main():
    asked = arguments()
    if asked.inside:
        return inside(asked)
    with tempfile.TemporaryDirectory() as folder:
        again = [sys.executable, "-m", "tests.mutants", "--inside", *sys.argv[1:]]
        return subprocess.run(again, cwd=copy_tree(folder), check=False).returncode


if __name__ == "__main__":
    sys.exit(main())
