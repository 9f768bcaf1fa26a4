from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q

from .customers import Customer, SiteTenure
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
    #: for whom it counts; None: for whoever is called first there
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
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
    """Firm visits ahead of which somebody who is to be told has not heard as they stand.

    Also visits called off of which somebody was told and does not know that we do not come. A
    letter that is on its way counts as time left, until it should have gone. Where nobody of the
    house is on file, whoever asked for the work is told.
    """
    told = VisitTold.objects.filter(visit=OuterRef("pk"))
    firm = Q(status__in=[Visit.Status.CONFIRMED, Visit.Status.EN_ROUTE])
    called_off = Q(status=Visit.Status.CANCELLED)
    nobody = Q(
        ~Exists(people_of_row()),
        ~Exists(told.filter(sequence=OuterRef("sequence"))),
        ~Exists(_on_its_way(letters_of_row(), now).filter(not_before__lt=OuterRef("arrive_from"))),
    )
    untold = untold_of_row(now)
    heard = _heard(VisitTold.objects.filter(visit=OuterRef(OuterRef("pk"))))
    return Q(
        Q(firm, nobody | Q(Exists(untold)))
        | Q(called_off, Q(nobody, Exists(told)) | Q(Exists(untold.filter(heard)))),
        arrive_until__gte=now,
        starts_at__gt=now - timedelta(days=1),  # finds them by its index
    )


def people_of_row() -> models.QuerySet[SiteTenure]:
    """Who is told of the visit of a row, for a subquery."""
    return SiteTenure.objects.open().told_of_visits().filter(site=OuterRef("job__site"))


def untold_of_row(now: datetime) -> models.QuerySet[SiteTenure]:
    """Who of them does not know how it stands, for a subquery; who is called first, first."""
    visit, sequence = OuterRef(OuterRef("pk")), OuterRef(OuterRef("sequence"))
    heard = _heard(VisitTold.objects.filter(visit=visit, sequence=sequence))
    letters = OutboxMail.objects.filter(customer=OuterRef("customer"), visit=visit)
    on_its_way = _on_its_way(letters, now).filter(not_before__lt=OuterRef(OuterRef("arrive_from")))
    untold = people_of_row().filter(~heard, ~Exists(on_its_way))
    return untold.order_by("-is_contact", "from_on", "pk")


def _heard(told: models.QuerySet[VisitTold]) -> Q:
    """A contact was told; where nobody is named it counts for the one who is called first."""
    return Q(Exists(told.filter(customer=OuterRef("customer")))) | Q(
        Exists(told.filter(customer=None)), is_contact=True
    )


def _on_its_way(letters: models.QuerySet[OutboxMail], now: datetime) -> models.QuerySet[OutboxMail]:
    waiting = [State.QUEUED, State.CLAIMED, State.SENDING]
    return letters.filter(state__in=waiting, not_before__gte=now - LETTER_TAKES)


def letters_of_row() -> models.QuerySet[OutboxMail]:
    """Letters to the customer about the visit of a row, for a subquery."""
    return OutboxMail.objects.filter(visit=OuterRef("pk"), mail_class=OutboxMail.MailClass.CUSTOMER)
