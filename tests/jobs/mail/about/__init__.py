"""One letter of every kind, for the tests that hold for all of them.

A function with the name of the kind, in any module here, writes one and returns its row.
"""

import pkgutil
from importlib import import_module

from jobs.mail.about import KINDS


def one_of_every_kind():
    """Name of the kind and its row, of the kinds that have their function here."""
    modules = [import_module(f"{__name__}.{each.name}") for each in pkgutil.iter_modules(__path__)]
    return {
        name: getattr(module, name)()
        for module in modules
        for name in KINDS
        if callable(getattr(module, name, None))
    }
