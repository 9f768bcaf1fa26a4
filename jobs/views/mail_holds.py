"""One act for many messages: those a hold keeps back, and those an outage left in doubt."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from jobs.access import allow
from jobs.errors import JobsError
from jobs.http import StaffRequest
from jobs.models import MailHold
from jobs.workflows import mail_holds as workflow

#: what a button says, what it does, and what is said about it
ACTS = {
    "again": (workflow.send_all_again, "{} wait to be sent again."),
    "arrived": (workflow.all_arrived, "Noted: {} arrived."),
    "before": (workflow.drop_kept_back, "Dropped: {}, which had left before. Mail goes out again."),
}


@allow("dispatcher")
@require_POST
def hold_release(request: StaffRequest, pk: int) -> HttpResponse:
    hold = get_object_or_404(MailHold, pk=pk)
    try:
        workflow.release(hold=hold, by=request.user, now=timezone.now())
    except JobsError as error:
        messages.error(request, error.message)
    else:
        messages.success(request, "Mail goes out again.")
    return redirect("messages")


@allow("dispatcher")
@require_POST
def hold_settle(request: StaffRequest, pk: int) -> HttpResponse:
    hold = get_object_or_404(MailHold, pk=pk)
    if (act := request.POST.get("act", "")) not in ACTS:
        messages.error(request, "Choose what became of them.")
        return redirect("messages")
    work, said = ACTS[act]
    try:
        settled = work(hold=hold, by=request.user, now=timezone.now())
    except JobsError as error:
        messages.error(request, error.message)
        return redirect("messages")
    messages.success(request, said.format(counted(settled.done)))
    if settled.too_late:
        messages.warning(request, f"The time of {counted(settled.too_late)} has passed: telephone.")
    return redirect("messages")


def counted(number: int) -> str:
    return f"{number} message{'' if number == 1 else 's'}"
