"""One module for each kind of letter: who gets it, once for what, what it says, while what is true.

A module has its `KIND` and a `write` that puts a row into the outbox, in the transaction of its
cause. Its name is the name of its template and stands in `OutboxMail.template`. Modules are found
by themselves.
"""

from __future__ import annotations

import pkgutil
from importlib import import_module

from jobs.mail.kind import Kind

KINDS: dict[str, Kind] = {
    found.name: import_module(f"{__name__}.{found.name}").KIND
    for found in pkgutil.iter_modules(__path__)
}

#: nobody reads or keeps these: their text opens an account
OPENING_AN_ACCOUNT = frozenset(name for name, kind in KINDS.items() if kind.opens_an_account)
#: whoever got one of these knows how the visit stands; and its time, long enough before it
TELLING_THE_VISIT = frozenset(name for name, kind in KINDS.items() if kind.tells_the_visit)
TELLING_THE_TIME = frozenset(name for name, kind in KINDS.items() if kind.tells_the_time)
