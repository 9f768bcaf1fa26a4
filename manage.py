#!/usr/bin/env python
"""Command line of the project."""

import os
import sys

#: runs without settings of an installation: no .env, no database, no checks
BARE_COMMANDS = {"compute"}


def main() -> None:
    bare = len(sys.argv) > 1 and sys.argv[1] in BARE_COMMANDS
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    if bare:
        os.environ["DEPLOYMENT"] = "test"
        os.environ["READ_DOT_ENV"] = "no"
    from django.core.management import execute_from_command_line

    execute_from_command_line(sys.argv)


if __name__ == "__main__":
    main()
