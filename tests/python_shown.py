"""A list, an object or None of Python where a page should say words."""

import re

#: as it stands in HTML: ['5 min'], ('a', 'b'), {'a': 1}, <Row object at 0x…>, >None<
SHOWN = re.compile(
    r"\[(?:&#x27;|')\w|\((?:&#x27;|')\w[^)]*(?:&#x27;|'),|\{(?:&#x27;|')\w+(?:&#x27;|'): "
    r"|object at 0x|Decimal\(|datetime\.\w+\(|>\s*None\s*<"
)
SCRIPT = re.compile(r"<(script|style)\b.*?</\1>", re.DOTALL)


def python_in(html):
    found = SHOWN.search(SCRIPT.sub("", html))
    return found.group() if found else ""
