from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q

from .outbox import OutboxMail
from .visits import Visit

State = OutboxMail.State
#: a letter that should have gone so long ago is not waited for any more
LETTER_TAKES = timedelta(minutes=30)


class VisitTold(models.Model):
    """A customer was told day, hours and person of a visit, or that it is cancelled. Insert only.

    Told is a letter that was sent, an adult on the telephone who said it back, or an answer to
    our letter. A voice mail is none of these. A letter in doubt counts by the word of who decided
    that it was seen; opening its link leaves no trace here.
    """

    class How(models.TextChoices):
        MAIL = "mail", "by mail"
        TELEPHONE = "telephone", "by telephone"
        ANSWER = "answer", "by our letter, which was answered"
        #: changed and changed back before any other letter can have left
        STILL = "still", "already: it is again as they were told"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="tellings")
    #: what was told, as the visit counted it then
    sequence = models.PositiveIntegerField()
    how = models.CharField(max_length=10, choices=How)
    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    whom = models.CharField("adult who was told", max_length=120, blank=True)
    number = models.CharField("number called", max_length=30, blank=True)
    read_back = models.BooleanField("they said it back", default=False)
    mail = models.OneToOneField(
        OutboxMail, on_delete=models.PROTECT, null=True, blank=True, related_name="telling"
    )
    arrive_from = models.DateTimeField()
    arrive_until = models.DateTimeField()
    lead = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="visit_told_as_its_way_asks",
                condition=Q(how="mail", mail__isnull=False)
                | Q(how__in=["answer", "still"], mail=None, by=None)
                | (
                    Q(how="telephone", mail=None, by__isnull=False, read_back=True)
                    & ~Q(whom="")
                    & ~Q(number="")
                ),
            ),
        ]
        indexes = [models.Index(fields=["visit", "sequence"], name="visit_told_of")]

    def __str__(self) -> str:
        return f"told of visit {self.visit_id} {self.get_how_display()}"


def not_told_yet(now: datetime) -> Q:
    """Firm visits ahead whose customer has not heard of them as they stand.

    Also visits called off of which somebody was told and does not know that we do not come. A
    letter that is on its way counts as time left, until it should have gone.
    """
    told = VisitTold.objects.filter(visit=OuterRef("pk"))
    on_its_way = letters_of_row().filter(
        state__in=[State.QUEUED, State.CLAIMED, State.SENDING],
        not_before__gte=now - LETTER_TAKES,
        not_before__lt=OuterRef("arrive_from"),
    )
    firm = Q(status__in=[Visit.Status.CONFIRMED, Visit.Status.EN_ROUTE])
    called_off = Q(Exists(told), status=Visit.Status.CANCELLED)
    return Q(
        firm | called_off,
        ~Exists(told.filter(sequence=OuterRef("sequence"))),
        ~Exists(on_its_way),
        arrive_until__gte=now,
        starts_at__gt=now - timedelta(days=1),  # finds them by its index
    )


def letters_of_row() -> models.QuerySet[OutboxMail]:
    """Letters to the customer about the visit of a row, for a subquery."""
    return OutboxMail.objects.filter(visit=OuterRef("pk"), mail_class=OutboxMail.MailClass.CUSTOMER)
