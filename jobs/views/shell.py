"""What a phone opens pages with where there is no signal: the service worker and its list."""

from __future__ import annotations

from functools import cache
from hashlib import sha256
from pathlib import Path

from django.conf import settings
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.templatetags.static import static
from django.views.decorators.http import require_safe

from jobs.access import allow, open_to_all
from jobs.http import StaffRequest
from jobs.phone import runtime

from .phone import served

#: every page of a technician is made of these
FILES = (
    "jobs/app.css",
    "jobs/acts.js",
    "jobs/app.js",
    "jobs/boxes.js",
    "jobs/field.js",
    "jobs/hand.js",
    "jobs/in_place.js",
    "jobs/kept.js",
    "jobs/kits.js",
    "jobs/offline.js",
    "jobs/photos.js",
    "jobs/said.js",
    "jobs/sender.js",
    "jobs/thumb.js",
    "jobs/waiting.js",
    "jobs/worker.js",
    "jobs/mark.svg",
    "jobs/manifest.webmanifest",
    "django_htmx/htmx-2.min.js",
)


#: of the runtime with our code, packed: `python -m tests.bench phone` measures it
MEGABYTES = 7


@open_to_all
@require_safe
def service_worker(request: HttpRequest) -> HttpResponse:
    """Asked at each visit; another byte in it, and the browser puts a newer one beside the old."""
    template = "field/sw.js" if settings.FIELD_OFFLINE else "field/sw_off.js"
    names = files()
    context = {"files": names, "shell": f"shell-{mark_of(tuple(names))}"}
    answer = render(request, template, context, content_type="text/javascript")
    answer.headers["Cache-Control"] = "no-cache"
    return answer


@allow("technician")
@require_safe
def absent(request: StaffRequest) -> HttpResponse:
    return render(request, "field/absent.html")


def files() -> list[str]:
    """Addresses of what is fetched once, whole or not at all."""
    found = [static(name) for name in FILES]
    if phone := served():
        names = [name for name in runtime.sums() if name != runtime.STANDARD]
        found += [f"{phone.runtime}{name}" for name in names]
        found += [phone.standard, phone.field, phone.templates]
    return found


@cache
def mark_of(names: tuple[str, ...]) -> str:
    """Another one where a file is called otherwise or holds something else."""
    made = sha256("".join(names).encode())
    for name in FILES:
        if place := finders.find(name):
            made.update(Path(place).read_bytes())
    return made.hexdigest()[:12]


def first_megabytes() -> int:
    """What a phone fetches once, 0 where nothing may be carried."""
    if not settings.FIELD_OFFLINE:
        return 0
    return MEGABYTES if served() else 1
