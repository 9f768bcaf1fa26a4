"""The rules of the follow-ups: list, try, change, add, end."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from jobs.access import allow
from jobs.errors import JobsError
from jobs.forms.fields import refuse
from jobs.forms.rules import EndRuleForm, RuleForm
from jobs.http import StaffRequest
from jobs.models import FollowUp, FollowUpRule, RuleVersion
from jobs.pages.rule_trial import Trial, try_rule
from jobs.pages.rule_words import sentence
from jobs.pages.rules import lines_asked, listed, said_as, versions_of
from jobs.reports.edit_history import changes_of
from jobs.workflows.rules import begin_again, check_as_it_is_asked, end_rule, save_rule

from .owner_pages import opened_version, owned_page
from .sending import form_page, send_once

FORM = require_http_methods(["GET", "HEAD", "POST"])


@allow("owner")
@require_safe
def rules(request: StaffRequest) -> HttpResponse:
    return render(request, "owner/rules.html", {"rules": listed(), "nav": "rules"})


@allow("owner")
@FORM
def rule_edit(request: StaffRequest, pk: int) -> HttpResponse:
    return _page(request, get_object_or_404(FollowUpRule, pk=pk))


@allow("owner")
@FORM
def rule_new(request: StaffRequest) -> HttpResponse:
    return _page(request, FollowUpRule(offset_days=14, closing=FollowUpRule.Closing.VISIT))


def _page(request: StaffRequest, rule: FollowUpRule) -> HttpResponse:
    """Tried before it is kept: the same form with what it would have made, nothing written."""
    shown = _standing(rule)
    form = RuleForm(request.POST or None, instance=rule)
    if request.method == "POST" and form.is_valid():
        if "try" in request.POST:
            shown |= {"trial": _tried(form), "tried": sentence(rule, lines_asked())}
        elif sent := send_once(request, form, lambda: _keep(request, form)):
            return sent
    return owned_page(request, "owner/rule_edit.html", form, nav="rules", rule=rule, **shown)


def _standing(rule: FollowUpRule) -> dict[str, object]:
    """What stands on the page of a rule that is kept; nothing of a new one."""
    if rule._state.adding:
        return {"lines_by_page": lines_asked()}
    return {
        "said": sentence(rule, lines_asked()),
        "versions": versions_of(rule),
        "changes": changes_of(rule),
        "lines_by_page": lines_asked(),
    }


def _tried(form: RuleForm) -> Trial | None:
    rule = form.rule()
    standing = RuleVersion.objects.newest().filter(rule=rule.pk).first() if rule.pk else None
    try:
        check_as_it_is_asked(rule)
    except JobsError as refusal:
        refusal.field = form.place_of(refusal.field)
        refuse(form, refusal)
        return None
    return try_rule(rule, standing, now=timezone.now())


def _keep(request: StaffRequest, form: RuleForm) -> str:
    rule = form.rule()
    try:
        save_rule(
            rule=rule,
            seen=opened_version(request),
            by=request.user,
            now=timezone.now(),
            reason=form.cleaned_data["why"],
        )
    except JobsError as refusal:
        refusal.field = form.place_of(refusal.field)
        raise
    messages.success(request, "The rule is kept. Promises that stand already stay as they are.")
    return reverse("rules")


@allow("owner")
@FORM
def rule_end(request: StaffRequest, pk: int) -> HttpResponse:
    """Ended with what becomes of its promises, or put in force again."""
    rule = get_object_or_404(FollowUpRule, pk=pk)
    form = EndRuleForm(request.POST or None, rule=rule)

    def work() -> str:
        if not rule.is_active:
            begin_again(rule=rule, by=request.user, now=timezone.now())
            messages.success(request, f"{rule.name}: in force again, for what happens from now on.")
            return reverse("rules")
        given_up = end_rule(rule=rule, by=request.user, now=timezone.now(), **form.ending())
        messages.success(request, f"{rule.name} has ended. {said_as(len(given_up))} given up.")
        return reverse("rules")

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    alive = FollowUp.objects.alive().filter(rule=rule)
    counts = {"open": alive.open().count(), "booked": alive.exclude(visit=None).count()}
    return form_page(request, "owner/rule_end.html", form, nav="rules", rule=rule, **counts)
