"""The address letters come from."""

from __future__ import annotations

from django.conf import settings

from jobs.models import Company


def sender_address(company: Company) -> str:
    return company.email or settings.DEFAULT_FROM_EMAIL
