"""What the owner does with a licence, through its pages."""

from django.urls import reverse

from jobs.models import Skill
from jobs.schedule.free_times import at_hour
from tests.acts import booked, opened
from tests.conftest import NOW
from tests.factories import make_customer, make_site, make_train
from tests.forms import filled


def entered(client, person, name="Wells", ends="", **typed):
    """Somebody, or without a person the company, holds it; the row."""
    who = person.pk if person else "company"
    sent = {"who": who, "name": name, "expires_on": ends, **typed}
    assert client.post(reverse("licence-new"), sent).status_code == 302
    return Skill.objects.get(person=person, name=name)


def acted(client, page, licence, **typed):
    """A page of it as it is opened, with some boxes filled in; the answer."""
    sent = filled(client, page, licence)
    return client.post(reverse(page, args=[licence.pk]), {**sent, **typed})


def renewed(client, licence, ends, **typed):
    answer = acted(client, "licence-renew", licence, expires_on=ends, **typed)
    assert answer.status_code == 302
    licence.refresh_from_db()


def corrected(client, licence, ends, reason="The year was mistyped."):
    answer = acted(client, "licence-correct", licence, expires_on=ends, reason=reason)
    assert answer.status_code == 302
    licence.refresh_from_db()


def left_out(client, licence, reason="Works at the office now."):
    assert acted(client, "licence-withdraw", licence, reason=reason).status_code == 302
    licence.refresh_from_db()


def shown(client, **asked):
    """The list as it is asked for."""
    return client.get(reverse("licences"), asked)


def needs(client, name="Wells", kind="disinfect", people="1"):
    sent = {f"licence_{kind}": name, f"people_{kind}": people}
    assert client.post(reverse("work-needs"), sent).status_code == 302


def visit_of(lead, on, kind="disinfect", hour=9, **more):
    site = make_site(customer=make_customer())
    return booked(opened(make_train(site=site), kind), lead, at=at_hour(on, hour), now=NOW, **more)
