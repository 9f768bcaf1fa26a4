"""What a letter says, read from the database at the moment it is written."""

from __future__ import annotations

from jobs.models import Company, OutboxMail

from . import links
from .about import KINDS
from .kind import Content
from .sender import sender_address


def content_of(mail: OutboxMail) -> Content:
    company = Company.load()
    content = KINDS[mail.template].content(mail, company)
    content.context |= {"company": company, "sender": sender_address(company)}
    if mail.customer:
        content.context |= {
            "customer": mail.customer,
            "stop_url": links.stop_url(mail.customer.pk),
        }
    return content
