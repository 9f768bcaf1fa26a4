"""What the office types about the time of people, and how it books them."""

from datetime import timedelta

from django.urls import reverse

from jobs.models.company import company_day
from tests.conftest import NOW

TODAY = company_day(NOW)
#: Thursday 11 June 2026
TOMORROW = TODAY + timedelta(days=1)


def typed(lead, **changed):
    return {
        "kind": "service",
        "symptom": "smell is back",
        "lead": lead.pk,
        "status": "confirmed",
        "reported_on": TODAY.isoformat(),
        "day": TOMORROW.isoformat(),
        "start": "09:00",
        **changed,
    }


def send(client, site, sent):
    return client.post(f"{reverse('visit-book')}?site={site.pk}", sent)


def goes_away(client, person, first, last=None, **more):
    sent = {"kind": "leave", "from_on": first, "until_on": last or first, **more}
    return client.post(reverse("absence-new", args=[person.pk]), sent)


def hours_typed(client, person, **changed):
    """The page as it is opened, with some boxes changed."""
    page = client.get(reverse("person-hours", args=[person.pk]))
    form = page.context["form"]
    sent = {name: field.initial for name, field in form.fields.items()}
    shown = {name: f"{at:%H:%M}" if at else "" for name, at in sent.items()}
    sent = {**shown, "seen": page.context["seen"], **changed}
    return client.post(reverse("person-hours", args=[person.pk]), sent)


def errors(answer, field):
    return " ".join(answer.context["form"].errors[field])
