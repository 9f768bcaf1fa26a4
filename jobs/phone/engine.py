"""Django's template engine where the rest of Django is not."""

from __future__ import annotations

import json
from pathlib import Path

from django.conf import settings
from django.template import Engine

from .addresses import library
from .live import Render

TEMPLATES, ADDRESSES = "templates", "addresses.json"
#: name in {% load %}, and where it is
LIBRARIES = {"look": "jobs.phone.tags", "draw": "jobs.phone.draw"}


def renderer(folder: Path) -> Render:
    """What makes HTML of the templates in a folder."""
    return engine_of(folder).render_to_string


def engine_of(folder: Path) -> Engine:
    """For a program that is nothing else: settings are made here where there are none."""
    if not settings.configured:
        settings.configure(USE_I18N=False, USE_TZ=False)
    engine = Engine(dirs=[str(folder / TEMPLATES)], libraries=LIBRARIES)
    engine.template_builtins.append(library(json.loads((folder / ADDRESSES).read_text())))
    return engine
