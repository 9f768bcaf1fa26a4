"""The request as our views see it, and what an address or a form may name."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import TypeVar

from django.contrib.auth.models import User
from django.core.exceptions import BadRequest
from django.db.models import Model, QuerySet
from django.http import HttpRequest, HttpResponse
from django.utils import timezone
from django.utils.dateparse import parse_date, parse_datetime
from django_htmx.middleware import HtmxDetails

Row = TypeVar("Row", bound=Model)
#: days that a page can be asked for; beyond them neither clocks nor calendars of the trade reach
FIRST_DAY, LAST_DAY = date(1990, 1, 1), date(2100, 12, 31)
#: a row's number has no more digits on any database
MOST_DIGITS = 18


class StaffRequest(HttpRequest):
    user: User
    htmx: HtmxDetails


def row_named(rows: QuerySet[Row], text: object) -> Row | None:
    """The row of that number, among rows the person may see; None for whatever else is said."""
    said = str(text or "")
    if not (said.isascii() and said.isdigit() and len(said) <= MOST_DIGITS):
        return None
    return rows.filter(pk=int(said)).first()


def read_day(text: object) -> date | None:
    """A day as written in an address or a form; None when it is none we keep."""
    try:
        day = parse_date(str(text or ""))
    except ValueError:
        return None
    return day if day and FIRST_DAY <= day <= LAST_DAY else None


def read_moment(text: object) -> datetime | None:
    """A moment of the company's clock, as read_day; without a zone."""
    try:
        said = parse_datetime(str(text or ""))
    except ValueError:
        return None
    if said is None or not timezone.is_naive(said) or not FIRST_DAY <= said.date() <= LAST_DAY:
        return None
    return timezone.make_aware(said)


def no_nul(get_response: Callable[[HttpRequest], HttpResponse]) -> Callable[..., HttpResponse]:
    """Refuses a character that no keyboard types and one of our databases cannot keep."""

    def checked(request: HttpRequest) -> HttpResponse:
        said = [request.path, *request.GET.values()]
        if request.method == "POST":
            said += [str(value) for value in request.POST.values()]
        if any("\0" in text for text in said):
            raise BadRequest("A character cannot be kept.")
        return get_response(request)

    return checked
