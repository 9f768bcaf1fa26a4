"""What becomes of the letters of the story: their day is past, or a mail server answers."""

from __future__ import annotations

from datetime import datetime

from django.core.mail import EmailMessage

from jobs.mail.smtp import Answer, Postman, Verdict
from jobs.models import OutboxMail, Visit
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.workflows import outbox
from jobs.workflows.telling import Call, tell_by_telephone

from .cast import Told, World


def skip_past_mail(*, now: datetime) -> int:
    """Letters of days gone by are not sent; today's wait for the worker."""
    today = day_start(company_day(now))
    queued = OutboxMail.objects.filter(state=OutboxMail.State.QUEUED)
    past = queued.filter(not_before__lt=today) | queued.filter(useful_until__lte=now)
    for mail in past.filter(visit__in=Visit.objects.to_come().filter(starts_at__gt=now)):
        _telephoned(mail)
    return past.update(
        state=OutboxMail.State.SKIPPED, last_error="its time was past when the demo was loaded"
    )


def _telephoned(mail: OutboxMail) -> None:
    """The office rang in place of a letter that is not sent."""
    assert mail.visit
    assert mail.customer
    if mail.customer.phones:
        number = mail.customer.phones[0].as_national
        tell_by_telephone(
            visit=mail.visit,
            sequence=mail.visit.sequence,
            call=Call(mail.customer.name, number, read_back=True),
            by=mail.visit.booked_by,
            now=mail.created_at,
        )


class MailServer(Postman):
    """Answers for one customer as told, and puts off everything else."""

    def __init__(self, answers: dict[str, Answer]) -> None:
        self.answers = answers

    def deliver(self, message: EmailMessage) -> Answer:
        return self.answers.get(message.to[0], Answer(Verdict.LATER, "451", "Try again later."))

    def close(self) -> None:
        """No line was opened."""


def mail_answered(world: World, act: Told) -> None:
    """The mail server breaks off after one letter, and knows no mailbox of another.

    The day of the story is now, after everything that is booked by then.
    """
    skip_past_mail(now=world.now)
    doubt = Answer(Verdict.UNCERTAIN, text="Connection unexpectedly closed")
    refused = Answer(Verdict.REFUSED, "550", "No such mailbox here.")
    answers = {world.customers[key].email: doubt for key in act["in_doubt"]}
    answers |= {world.customers[key].email: refused for key in act["refused"]}
    server = MailServer(answers)
    while mail := outbox.claim(now=world.now):
        outbox.send_one(mail, postman=server, clock=lambda: world.now)
