"""Phones of technicians: when each was heard of last, and one that was lost."""

from __future__ import annotations

from datetime import timedelta

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.access import allow
from jobs.errors import JobsError
from jobs.http import StaffRequest
from jobs.models import Phone
from jobs.wording.names import person
from jobs.workflows import phones as workflow

#: a phone that was not heard of for so long is not shown
SHOWN = timedelta(days=60)
MOST = 100


@allow("dispatcher")
@require_safe
def phones(request: StaffRequest) -> HttpResponse:
    since = timezone.now() - SHOWN
    rows = Phone.objects.with_people().heard_since(since)[:MOST]
    return render(request, "people/phones.html", {"phones": rows, "nav": "worklist"})


@allow("dispatcher")
@require_POST
def phone_lost(request: StaffRequest, pk: int) -> HttpResponse:
    phone, now = get_object_or_404(Phone, pk=pk), timezone.now()
    session = request.session.session_key or ""
    row = workflow.phone_lost(phone=phone, by=request.user, session=session, now=now)
    who = person(row.user)
    messages.success(request, f"{who} is signed out everywhere. {lost_words(row.entries_lost)}")
    return redirect("phones")


def lost_words(count: int) -> str:
    if not count:
        return "Nothing waited on the phone when it was heard of last."
    one = "1 entry that had" if count == 1 else f"{count} entries that had"
    return f"{one} not come from the phone will be missing: ask what was done there."


@allow("dispatcher")
@require_POST
def phone_found(request: StaffRequest, pk: int) -> HttpResponse:
    phone = get_object_or_404(Phone, pk=pk)
    try:
        workflow.phone_found(phone=phone, by=request.user, now=timezone.now())
    except JobsError as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, "Found: nothing on it is forgotten. Its person signs in again.")
    return redirect("phones")
