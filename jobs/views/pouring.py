"""All told: pour. The page before chlorine goes into a well."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from jobs.access import allow
from jobs.fieldwork.cautions import BEFORE_POURING, CAUTIONS, DEFERS
from jobs.fieldwork.keys import BlockKey
from jobs.forms.pouring import PouringForm
from jobs.http import StaffRequest
from jobs.models import SiteTenure
from jobs.models.company import company_day
from jobs.records.poured import poured_of
from jobs.workflows.pouring import houses_of

from .acting import send_act
from .noted import noted
from .records import record_or_404
from .sending import form_page


@allow("technician")
def record_pour(request: StaffRequest, pk: int) -> HttpResponse:
    """Uses asked and people told at every house on the well; then chlorine may go in."""
    record, now = record_or_404(request, pk), timezone.now()
    back = reverse("record-block", args=[pk, BlockKey.DISINFECT])
    if record.is_closed:
        return redirect("record-detail", pk=pk)
    houses = houses_of(record)
    poured = noted(request, ("poured", pk), lambda: poured_of(record))
    form = PouringForm(request.POST or None, houses=houses, poured=poured)
    if sent := send_act(request, form, "pour", back, record=record):
        return sent
    people = SiteTenure.objects.contacts({site.pk for site in houses}, company_day(now))
    cautions = [CAUTIONS[key] for key in BEFORE_POURING]
    context = {"record": record, "back": back, "cautions": cautions, "defers": DEFERS}
    groups = form.groups(people)
    return form_page(request, "records/pour.html", form, groups=groups, **context)
