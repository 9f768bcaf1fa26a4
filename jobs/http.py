"""The request as our views see it."""

from __future__ import annotations

from django.contrib.auth.models import User
from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails


class StaffRequest(HttpRequest):
    user: User
    htmx: HtmxDetails
