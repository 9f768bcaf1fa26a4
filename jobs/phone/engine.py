"""Django's template engine where the rest of Django is not."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.template import Engine

from .addresses import library
from .live import GATES, GLASS, Render

TEMPLATES, ADDRESSES = "templates", "addresses.json"
#: name in {% load %}, and where it is
LIBRARIES = {"look": "jobs.phone.tags", "draw": "jobs.phone.draw"}
#: glasses, the newest: more than stand on the longest page
REMEMBERED = 30


def renderer(folder: Path) -> Render:
    """What makes HTML of the templates in a folder."""
    return engine_of(folder).render_to_string


def drawing_anew(render: Render) -> Render:
    """Draws a glass only where it is not as it was: a key changes one or two of a page."""
    drawn: dict[str, list[tuple[dict[str, Any], str]]] = {GLASS: [], GATES: []}

    def render_or_remember(name: str, context: dict[str, Any]) -> str:
        if name not in drawn:
            return render(name, context)
        former = drawn[name]
        for known, html in former:
            if known == context:
                return html
        html = render(name, context)
        former.append((dict(context), html))
        del former[:-REMEMBERED]
        return html

    return render_or_remember


def engine_of(folder: Path) -> Engine:
    """For a program that is nothing else: settings are made here where there are none."""
    if not settings.configured:
        settings.configure(USE_I18N=False, USE_TZ=False)
    engine = Engine(dirs=[str(folder / TEMPLATES)], libraries=LIBRARIES)
    engine.template_builtins.append(library(json.loads((folder / ADDRESSES).read_text())))
    return engine
