"""Photos: the door for bytes, adding them, one photo with its words, and the bytes handed out."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from uuid import UUID

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.access import allow, has_role, photos_for
from jobs.errors import JobsError
from jobs.forms.photos import PhotosForm, WordsForm
from jobs.http import StaffRequest
from jobs.models import Photo
from jobs.models.company import company_day
from jobs.pages import photos as pages
from jobs.workflows import photos as workflow
from jobs.workflows.answers import may_write
from jobs.workflows.photo_withdrawals import withdraw
from jobs.workflows.pictures import MOST_BYTES, keep_picture

from .noted import noted
from .records import photos_of, read_or_404, visit_of
from .sending import form_page, send_once
from .visits import visit_or_404


@allow("technician")
@require_http_methods(["PUT"])
def photo_put(request: StaffRequest, uuid: UUID) -> HttpResponse:
    """Bytes under a number made on the phone; the same again is answered the same."""
    content = request.read(MOST_BYTES + 1)
    if len(content) > MOST_BYTES:
        said = "This picture is larger than 3 MB. Choose it again on the page, without script."
        return JsonResponse({"error": said}, status=413)
    digest, by, now = request.headers.get("X-SHA-256", ""), request.user, timezone.now()
    if not digest:
        return JsonResponse({"error": "The picture came without its sum."}, status=422)
    try:
        _, is_new = keep_picture(uuid=uuid, content=content, sha256=digest, by=by, now=now)
    except JobsError as refusal:
        return JsonResponse({"error": refusal.message}, status=422)
    return JsonResponse({"uuid": str(uuid)}, status=201 if is_new else 200)


@allow()
def record_photos(request: StaffRequest, pk: int) -> HttpResponse:
    """All photos of a record, and the form that adds to them."""
    record, sheet = read_or_404(request, pk)
    by, now, posted = request.user, sheet.now, request.method == "POST"
    form = PhotosForm(
        request.POST if posted else None,
        request.FILES if posted else None,
        sheet=sheet,
        by=by,
        now=now,
        initial={"shows": request.GET.get("part", "")},
    )

    def work() -> str:
        visit, shows = visit_of(record, request), form.shows()
        workflow.add_to_record(
            record=record, visit=visit, pictures=form.pictures, shows=shows, by=by, now=now
        )
        return reverse("record-photos", args=[pk])

    if posted and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    writes = not record.is_closed and may_write(record, by)
    about = {"record": record, "writes": writes, **pages.split(photos_of(request, record), sheet)}
    about |= {"is_office": has_role(by, "dispatcher"), "visit": visit_of(record, request)}
    return form_page(request, "photos/photos.html", form, **about)


@allow()
def visit_photos(request: StaffRequest, pk: int) -> HttpResponse:
    """The photos of a visit, and the form that adds to them."""
    visit, by, now = visit_or_404(request, pk), request.user, timezone.now()
    posted = request.method == "POST"
    sent_files = (request.POST, request.FILES) if posted else (None, None)
    form = PhotosForm(*sent_files, by=by, now=now)

    def work() -> str:
        shows = form.shows()
        workflow.add_to_visit(visit=visit, pictures=form.pictures, shows=shows, by=by, now=now)
        return reverse("visit-photos", args=[pk])

    if posted and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    rows = noted(request, "photos of visits", lambda: pages.by_visit([visit]))
    writes = visit.is_to_come and by.pk in (visit.lead_id, visit.helper_id)
    about = {"visit": visit, "writes": writes, **pages.split(rows[visit.pk])}
    about["is_office"] = has_role(by, "dispatcher")
    return form_page(request, "photos/photos.html", form, **about)


def photo_or_404(request: StaffRequest, pk: int) -> Photo:
    """A photo of a house, record or visit that this person may read."""
    rows = photos_for(request.user, today=company_day(timezone.now()))
    rows = rows.with_people().select_related("picture", "site", "record", "visit__job__site")
    photo: Photo = get_object_or_404(rows.distinct(), pk=pk)
    return photo


def _back(photo: Photo) -> str:
    if photo.record_id:
        return reverse("record-photos", args=[photo.record_id])
    return reverse("visit-photos", args=[photo.visit_id])


@allow()
def photo_detail(request: StaffRequest, pk: int) -> HttpResponse:
    """One photo large; its words, and removing it, for who may."""
    photo, by = photo_or_404(request, pk), request.user
    if photo.removed_at:
        return redirect(_back(photo))
    given = {"caption": photo.caption, "for_customer": photo.for_customer}
    form = WordsForm(request.POST or None, initial=given)

    def work() -> str:
        workflow.describe(photo=photo, by=by, **form.cleaned_data)
        return _back(photo)

    if request.method == "POST" and form.is_valid() and (sent := send_once(request, form, work)):
        return sent
    about = {**pages.of_one(photo, by), "back": _back(photo)}
    return form_page(request, "photos/photo.html", form, **about)


def _said(request: StaffRequest, pk: int, act: Callable[..., Photo], words: str) -> HttpResponse:
    photo = photo_or_404(request, pk)
    try:
        act(photo=photo, by=request.user, now=timezone.now())
    except JobsError as refusal:
        messages.error(request, refusal.message)
    else:
        messages.success(request, f"{words}: {photo.caption}.")
    return redirect(_back(photo))


@allow("technician", "dispatcher")
@require_POST
def photo_remove(request: StaffRequest, pk: int) -> HttpResponse:
    """Off every page; off the paper of a closed record by the office alone, with a reason."""
    if "reason" in request.POST:
        act = partial(withdraw, reason=request.POST.get("reason", ""))
        return _said(request, pk, act, "Taken off the record, which is printed anew")
    return _said(request, pk, workflow.remove, "Removed")


@allow("technician", "dispatcher")
@require_POST
def photo_put_back(request: StaffRequest, pk: int) -> HttpResponse:
    return _said(request, pk, workflow.put_back, "Put back")


def _bytes(request: StaffRequest, pk: int, *, small: bool) -> HttpResponse:
    photo = photo_or_404(request, pk)
    content = None if photo.removed_at else photo.picture.read(small=small)
    if content is None:
        raise Http404
    response = HttpResponse(content, content_type="image/jpeg")
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Disposition"] = f'inline; filename="photo-{pk}.jpg"'
    return response


@allow()
@require_safe
def photo_picture(request: StaffRequest, pk: int) -> HttpResponse:
    return _bytes(request, pk, small=False)


@allow()
@require_safe
def photo_small(request: StaffRequest, pk: int) -> HttpResponse:
    return _bytes(request, pk, small=True)
