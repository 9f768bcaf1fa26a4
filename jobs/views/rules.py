"""The rules of the follow-ups: list and edit."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Count, Q
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
from jobs.reports.edit_history import changes_of
from jobs.workflows.rules import save_rule

from .owner_pages import opened_version, owned_page
from .sending import send_once


@allow("owner")
@require_safe
def rules(request: StaffRequest) -> HttpResponse:
    standing = Count("follow_ups", filter=Q(follow_ups__status__in=["open", "booked"]))
    rows = FollowUpRule.objects.annotate(standing=standing)
    return render(request, "owner/rules.html", {"rules": sorted(rows, key=_order)})


def _order(rule: FollowUpRule) -> tuple[int, str]:
    """f2 before f10."""
    digits = "".join(filter(str.isdigit, rule.code))
    return int(digits or 0), rule.code


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
    return owned_page(
        request, "owner/rule_edit.html", form, nav="rules", rule=rule, changes=changes_of(rule)
    )
