#!/usr/bin/env python
"""Command line of the project."""

import os
import sys

#: run without settings of an installation: no .env, no database, no checks
BARE_COMMANDS = {"compute"}


def main() -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    if len(sys.argv) > 1 and sys.argv[1] in BARE_COMMANDS:
        os.environ["BARE_START"] = "yes"
    try:
        from django.core.management import execute_from_command_line
    except ImportError:
        sys.exit("Django is not installed for this Python: run `make setup`, use .venv/bin/python.")
    try:
        execute_from_command_line(sys.argv)
    except Exception as error:
        sentence = sentence_for(error)
        if not sentence or "--traceback" in sys.argv:
            raise
        sys.exit(sentence)


def sentence_for(error: Exception) -> str:
    """What the person at the keyboard can do about it; "" if only a traceback helps."""
    from django.core.exceptions import ImproperlyConfigured
    from django.db import OperationalError

    if isinstance(error, ImproperlyConfigured):
        return str(error)
    if not isinstance(error, OperationalError):
        return ""
    reason = str(error).strip().splitlines()[0]
    if "locked" in reason:
        return "The database is locked by another program: stop that one first, then try again."
    if "no such table" in reason:
        return f"The database is not prepared ({reason}): run `manage.py prepare`."
    return f"The database cannot be used ({reason}): check DATABASE_URL, the server and its disk."


if __name__ == "__main__":
    main()
