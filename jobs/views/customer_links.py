"""Pages behind the signed links of a mail. Looking at one changes nothing."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.cache import never_cache
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods

from jobs.access import open_to_all
from jobs.errors import BadEntry
from jobs.mail.words import PURPOSES
from jobs.models import Company, Visit, VisitRequest
from jobs.schedule.hours import clock_of, day_words, window_words
from jobs.workflows import visit_answers
from jobs.workflows.visit_answers import LinkEnded


@open_to_all
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def visit_answer(request: HttpRequest, token: str) -> HttpResponse:
    now, refusal = timezone.now(), ""
    given = {"answer": request.POST.get("answer", ""), "note": request.POST.get("note", "")}
    try:
        visit = visit_answers.open_link(token, now=now).visit
        if request.method == "POST":
            visit = visit_answers.answer(
                token=token, choice=given["answer"], note=given["note"], now=now
            )
    except LinkEnded as error:
        return _ended(request, error)
    except BadEntry as error:
        refusal = error.message
    context = _visit_words(visit) | {"refusal": refusal, "given": given}
    context["answered"] = request.method == "POST" and not refusal
    return _page(request, "visit_answer.html", context, status=422 if refusal else 200)


@csrf_exempt  # mail programs post here without a cookie (RFC 8058); the signed link is the proof
@open_to_all
@never_cache
@require_http_methods(["GET", "HEAD", "POST"])
def mail_stop(request: HttpRequest, token: str) -> HttpResponse:
    try:
        if request.method == "POST":
            visit_answers.stop_mail(token=token, now=timezone.now())
        else:
            visit_answers.customer_of_stop(token)
    except LinkEnded as error:
        return _ended(request, error)
    return _page(request, "mail_stop.html", {"stopped": request.method == "POST"})


def _ended(request: HttpRequest, error: LinkEnded) -> HttpResponse:
    return _page(request, "link_ended.html", {"sentence": error.message}, status=404)


def _page(
    request: HttpRequest, template: str, context: dict[str, object], status: int = 200
) -> HttpResponse:
    context["company"] = Company.load()
    return render(request, f"jobs/customer_links/{template}", context, status=status)


def _visit_words(visit: Visit) -> dict[str, object]:
    """What the mail said, and no more."""
    zone = clock_of(visit)
    return {
        "visit": visit,
        "site": visit.job.site,
        "who": visit.lead.get_full_name(),
        "day": day_words(visit.arrive_from, zone, today=timezone.now()),
        "window": window_words(visit.arrive_from, visit.arrive_until, zone),
        "purpose": PURPOSES[visit.job.kind],
        "asked": VisitRequest.objects.open().filter(visit=visit),
    }
