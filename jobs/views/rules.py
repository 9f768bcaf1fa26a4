"""The rules of the follow-ups: list and edit."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.access import allow
from jobs.errors import JobsError
from jobs.forms.rules import FIELD_OF, RuleForm
from jobs.http import StaffRequest
from jobs.models import FollowUpRule
from jobs.pages.rules import listed, versions_of
from jobs.reports.edit_history import changes_of
from jobs.workflows.rules import save_rule

from .owner_pages import opened_version, owned_page
from .sending import send_once


@allow("owner")
@require_safe
def rules(request: StaffRequest) -> HttpResponse:
    return render(request, "owner/rules.html", {"rules": listed()})


@allow("owner")
@require_http_methods(["GET", "HEAD", "POST"])
def rule_edit(request: StaffRequest, pk: int) -> HttpResponse:
    rule = get_object_or_404(FollowUpRule, pk=pk)
    form = RuleForm(request.POST or None, instance=rule)

    def work() -> str:
        try:
            save_rule(
                rule=form.rule(),
                seen=opened_version(request),
                by=request.user,
                now=timezone.now(),
                reason=form.cleaned_data["why"],
            )
        except JobsError as refusal:
            refusal.field = FIELD_OF.get(refusal.field, refusal.field)
            raise
        messages.success(request, "The rule is kept. Promises that stand already stay as they are.")
        return reverse("rules")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    shown = {"rule": rule, "versions": versions_of(rule), "changes": changes_of(rule)}
    return owned_page(request, "owner/rule_edit.html", form, nav="rules", **shown)
