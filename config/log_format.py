"""Log lines carry ids, never people."""

import logging
import re

ADDRESS = re.compile(r"[^\s@<>\"'(),;:=]+@[^\s@<>\"'(),;]+\.\w+")
PHONE = re.compile(r"(?<![\w-])\+?1?[ .-]?\(?\d{3}\)?[ .-]\d{3}[ .-]\d{4}(?![\w-])")
E164 = re.compile(r"\+\d{10,15}\b")
#: signed links and feed keys; a UUID or a task id (hexadecimal with dashes) is an id and stays
TOKEN = re.compile(r"(?<![\w.:-])(?=[\w:-]*[A-Za-z])(?=[\w:-]*\d)[\w:-]{22,}(?![\w:-])")
UUID = re.compile(r"[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}", re.IGNORECASE)


class IdsOnlyFormatter(logging.Formatter):
    """Takes addresses, telephone numbers and link keys out of every line, tracebacks too."""

    def format(self, record: logging.LogRecord) -> str:
        return without_personal_values(super().format(record))


def without_personal_values(text: str) -> str:
    text = ADDRESS.sub("[address]", text)
    text = E164.sub("[phone]", PHONE.sub("[phone]", text))
    return TOKEN.sub(lambda found: _kept_or_hidden(found.group()), text)


def _kept_or_hidden(word: str) -> str:
    return word if UUID.fullmatch(word) else "[key]"


class NotLateHealth(logging.Filter):
    """/healthz says "late" by its status; asked several times a second at a start, it need not
    fill the log as well."""

    def filter(self, record: logging.LogRecord) -> bool:
        request = getattr(record, "request", None)
        late = getattr(record, "status_code", None) == 503
        return not (late and getattr(request, "path", "") == "/healthz")
