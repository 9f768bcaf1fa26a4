"""A photo on a closed customer's record that nobody should see: of a wrong house, of a face."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.access import has_role
from jobs.errors import NotAllowed
from jobs.models import Photo, RecordCorrection

from .corrections import print_anew, stand, to_correct
from .log import log
from .photos import is_on_paper

WITHDRAWN = "taken off"


def may_withdraw(photo: Photo, by: User) -> bool:
    return is_on_paper(photo) and photo.removed_at is None and has_role(by, "dispatcher")


@transaction.atomic
def withdraw(*, photo: Photo, reason: str, by: User, now: datetime) -> Photo:
    """Off the record by the office, for good: a newer version says so and why, with a new print.

    Prints that show it stay as evidence and are opened by the owner alone. Sent twice, it is one.
    """
    if photo.record is None or not has_role(by, "dispatcher"):
        raise NotAllowed("Only the office takes a photo off a closed record.")
    record = to_correct(record=photo.record, reason=reason, by=by)
    photo = Photo.objects.select_for_update(of=("self",)).get(pk=photo.pk)
    if photo.removed_at:
        return photo
    photo.removed_at, photo.removed_by = now, by
    photo.save()
    log(
        verb="photo_withdrawn",
        subject=photo,
        by=by,
        now=now,
        site=photo.site,
        reason=reason.strip()[:300],
    )
    label = f"Photo “{photo.caption}”"
    row = RecordCorrection(label=label, before="shown", after=WITHDRAWN, reason=reason)
    stand(record, row, by=by, now=now)
    print_anew(record, row, by=by, now=now)
    return photo
