"""What letters with a link to choose a password share."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from django.conf import settings
from django.contrib.auth.models import User

from jobs.models import Company, OutboxMail

from . import links
from .kind import Content

#: somebody who keeps asking for another password link fills one mailbox at most so often
RESET_SLOT = timedelta(minutes=5)


def slot(now: datetime) -> str:
    """Asking twice within a few minutes is asking once."""
    seconds = int(RESET_SLOT.total_seconds())
    stamp = int(now.timestamp()) // seconds * seconds
    return f"{datetime.fromtimestamp(stamp, tz=UTC):%Y%m%d-%H%M}"


def content(mail: OutboxMail, company: Company) -> Content:
    user = User.objects.get(pk=mail.context["user"])
    return Content(
        {
            "user": user,
            "site_name": settings.SITE_NAME,
            "minutes": settings.PASSWORD_RESET_TIMEOUT // 60,
            "password_url": links.password_url(user),
            "ask_url": links.page_url("password-reset"),
        }
    )
