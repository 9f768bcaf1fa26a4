"""Small helps of the owner's pages."""

from __future__ import annotations

from collections.abc import Hashable, Mapping

from django import template
from django.urls import reverse

from jobs.reports import callbacks
from jobs.wording.figures import dollars, number

register = template.Library()

#: kinds of rows that have a page of their own and are never deleted
PAGES = {
    "auth.user": "person-edit",
    "equipment.site": "site-detail",
    "equipment.train": "train-edit",
    "equipment.well": "well-edit",
    "jobs.absence": "absence",
    "jobs.checklistrecord": "record-detail",
    "jobs.customer": "customer-detail",
    "jobs.followup": "follow-up-detail",
    "jobs.followuprule": "rule-edit",
    "jobs.job": "job-detail",
    "jobs.outboxmail": "message-detail",
    "jobs.phonecall": "call-detail",
    "jobs.visit": "visit-detail",
}


@register.filter
def percent(share: float | None, decimals: int = 1) -> str:
    """A share as percent without the sign: 0.0784 as 7.8."""
    return "" if share is None else number(share * 100, decimals)


@register.filter
def of(known: Mapping[Hashable, object], key: Hashable) -> object:
    """What stands under a key."""
    return known.get(key, "")


register.filter("dollars", dollars)


@register.simple_tag
def rate_of(callbacks_seen: int, jobs: int) -> callbacks.Interval | None:
    return callbacks.rate_of(callbacks_seen, jobs)


@register.simple_tag
def page_of(label: str, row: int) -> str:
    """The address of a row's page, empty where it has none."""
    return reverse(PAGES[label], args=[row]) if label in PAGES else ""
