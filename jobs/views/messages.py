"""All messages, for the office: what needs somebody stands on top."""

from __future__ import annotations

import email
import email.policy

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from jobs.access import allow
from jobs.errors import JobsError
from jobs.http import StaffRequest
from jobs.mail.about import OPENING_AN_ACCOUNT
from jobs.models import ChannelStop, OutboxMail
from jobs.pages.mail_holds import holds
from jobs.workflows import messages as workflow

ROWS = 50


@allow("dispatcher")
@require_safe
def message_list(request: StaffRequest) -> HttpResponse:
    rows = OutboxMail.objects.select_related("customer").defer("rendered")
    state = request.GET.get("state", "")
    chosen = rows.filter(state=state) if state in OutboxMail.State.values else rows
    return render(
        request,
        "jobs/messages/list.html",
        {
            "nav": "messages",
            "needing": rows.needs_someone().order_by("created_at")[:ROWS],
            "needing_count": rows.needs_someone().count(),
            "holds": holds(),
            "page_obj": Paginator(chosen, ROWS).get_page(request.GET.get("page")),
            "states": OutboxMail.State.choices,
            "state": state,
            "stop": ChannelStop.objects.first(),
        },
    )


@allow("dispatcher")
@require_safe
def message_detail(request: StaffRequest, pk: int) -> HttpResponse:
    rows = OutboxMail.objects.select_related("customer", "visit__job__site", "sent_again_as")
    mail = get_object_or_404(rows, pk=pk)
    is_private = mail.template in OPENING_AN_ACCOUNT
    return render(
        request,
        "jobs/messages/detail.html",
        {
            "nav": "messages",
            "mail": mail,
            "text": "" if is_private else written_text(mail),
            "is_private": is_private,
            "needs_someone": mail.seen_at is None
            and mail.state in (OutboxMail.State.DEAD, OutboxMail.State.UNKNOWN),
            "may_send_again": mail.useful_until > timezone.now(),
        },
    )


@allow("dispatcher")
@require_POST
def message_send_again(request: StaffRequest, pk: int) -> HttpResponse:
    mail = get_object_or_404(OutboxMail, pk=pk)
    try:
        again = workflow.send_again(mail=mail, by=request.user, now=timezone.now())
    except JobsError as error:
        messages.error(request, error.message)
        return redirect("message-detail", pk=pk)
    messages.success(request, "The message waits to be sent again.")
    return redirect("message-detail", pk=again.pk)


@allow("dispatcher")
@require_POST
def message_arrived(request: StaffRequest, pk: int) -> HttpResponse:
    mail = get_object_or_404(OutboxMail, pk=pk)
    try:
        workflow.arrived(mail=mail, by=request.user, now=timezone.now())
    except JobsError as error:
        messages.error(request, error.message)
        return redirect("message-detail", pk=pk)
    messages.success(request, "Noted. The message is off the list.")
    return redirect("messages")


def written_text(mail: OutboxMail) -> str:
    """The plain text as it left or will leave, "" while it is not written yet."""
    if not mail.rendered:
        return ""
    message = email.message_from_bytes(bytes(mail.rendered), policy=email.policy.default)
    body = message.get_body(preferencelist=("plain",))
    return str(body.get_content()) if body else ""
