"""What a technician's page was told, as an act through the same door as that of a phone."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID, uuid4

from django.contrib import messages
from django.core.exceptions import BadRequest
from django.forms import BaseForm
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect
from django.utils import timezone

from jobs.acts import door
from jobs.errors import JobsError
from jobs.forms import once
from jobs.forms.fields import refuse
from jobs.http import StaffRequest
from jobs.models import ChecklistRecord, Visit
from jobs.workflows.acts import Given

#: of the page alone
NOT_TOLD = ("csrfmiddlewaretoken", once.FIELD, "block", "act")


def posted(request: StaffRequest) -> dict[str, Any]:
    """What the boxes of a form said; several values of one name as a list."""
    told = {name: values for name, values in request.POST.lists() if name not in NOT_TOLD}
    return {name: said[0] if len(said) == 1 else said for name, said in told.items()}


def tell(
    request: StaffRequest,
    kind: str,
    payload: Mapping[str, Any] | None = None,
    *,
    record: ChecklistRecord | None = None,
    visit: Visit | None = None,
) -> Given:
    """Once for each opening of the page. Raises OtherContent for one opening told differently."""
    told = door.of_page(
        kind,
        posted(request) if payload is None else payload,
        uuid=_name(request.POST.get(once.FIELD, "")),
        record=record,
        visit=visit,
    )
    return door.answer_to(told, by=request.user, now=timezone.now())


def _name(key: str) -> UUID:
    try:
        return UUID(key)
    except ValueError:
        return uuid4()


def tell_or_say(request: StaffRequest, kind: str, payload: Mapping[str, Any], **about: Any) -> bool:
    """A press on a page; a refusal becomes a message on the page the person comes back to."""
    try:
        given = tell(request, kind, payload, **about)
        error = given.error
    except JobsError as refusal:
        error = refusal
    if error:
        messages.error(request, error.message)
        return False
    say(request, given, messages.SUCCESS)
    return True


def send_act(
    request: StaffRequest, form: BaseForm, kind: str, where: str, **about: Any
) -> HttpResponseRedirect | None:
    """The act of a valid form, and where it leads. None: show the form with what is wrong."""
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        given = tell(request, kind, **about)
        error = given.error
    except JobsError as refusal:
        error = refusal
    if error:
        refuse(form, error)
        return None
    say(request, given, messages.WARNING)
    return redirect(where)


def say(request: StaffRequest, given: Given, level: int) -> None:
    """What goes with an act that was kept."""
    if given.told.get("against"):
        messages.error(request, f"Kept, against the rule: {given.told['against']}")
    elif given.sentence:
        messages.add_message(request, level, given.sentence)


def act_of_form(kind: str, /, **about: object) -> dict[str, str]:
    """For the template of a form: what the page's script keeps, with what the address says."""
    return {"kind": kind, "told": json.dumps(about)}


# --- with the act that the page's script has kept on the phone ----------------------------------


def kept_act(request: StaffRequest, kind: str, record: ChecklistRecord) -> door.Told | None:
    """The act that this request repeats for the page, None where there is no script."""
    if "act" not in request.POST:
        return None
    try:
        told = door.read(request.POST["act"])
    except (door.Unreadable, door.OldAct) as error:
        raise BadRequest("This is no act.") from error
    is_of_page = told.sent.kind == kind and told.record == record.uuid
    if door.person_of(told) != request.user.pk or not is_of_page:
        raise BadRequest("This act belongs elsewhere.")
    return told


def named_in(response: HttpResponse, given: Given) -> HttpResponse:
    """So that the phone knows what became of the act it has kept."""
    told = given.told
    response.headers["X-Act"] = f"{given.uuid} {told['state']} {told['version']}"
    return response
