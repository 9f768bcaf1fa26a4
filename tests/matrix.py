"""The access matrix: every address with its methods, its roles and an example of what it takes.

`example` is what an address needs besides the row its first word names: "number=1" fills a part of
it, what is no part of it stands behind the question mark, and "{sites}" is the row of that word.
"""

import csv
from pathlib import Path
from urllib.parse import urlencode

FILE = Path(__file__).parents[1] / "fixtures" / "access_matrix.csv"


def lines():
    with FILE.open(newline="") as file:
        return list(csv.DictReader(file, restval=""))


def example(line, converters, route, rows):
    """({part of the address: value}, what follows it), of rows by the first word of a route."""
    said = dict(each.split("=", 1) for each in line["example"].format(**rows).split())
    word = route.split("/")[0]
    if word in rows:
        said.setdefault("pk", rows[word])
    missing = [name for name in converters if name not in said]
    assert not missing, f"{line['url_name']}: the example in {FILE.name} lacks {missing}"
    asked = {name: value for name, value in said.items() if name not in {"pk", *converters}}
    return {name: said[name] for name in converters}, f"?{urlencode(asked)}" if asked else ""
