from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from equipment.models import StoredAssessment, Train
from jobs.access import allow, sites_for, units_of
from jobs.http import StaffRequest
from jobs.models.company import company_day
from jobs.pages.plan import parts_of
from jobs.workflows.plans import keep_plan, plan_of


@allow()
@require_http_methods(["GET", "HEAD", "POST"])
def train_plan(request: StaffRequest, pk: int) -> HttpResponse:
    """What fits and what does not; POST keeps it as worked out today."""
    now = timezone.now()
    sites = sites_for(request.user, today=company_day(now))
    train = get_object_or_404(Train.objects.select_related("site").filter(site__in=sites), pk=pk)
    if request.method == "POST":
        keep_plan(train=train, by=request.user, now=now)
        messages.success(request, "Kept as worked out today.")
        return redirect("train-plan", pk=train.pk)
    plan = plan_of(train)
    context = {
        "train": train,
        "parts": parts_of(plan, train, units_of(request.user)),
        "conflicts": plan.conflicts,
        "kept": StoredAssessment.objects.filter(train=train, name="train-plan")[:5],
    }
    return render(request, "sites/plan.html", context)
