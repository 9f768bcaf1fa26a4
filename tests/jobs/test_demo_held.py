"""A demo that stands as after a restore: mail waits until the owner says what goes out."""

from datetime import UTC, datetime
from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.core.management import call_command

from jobs.demo import loading
from jobs.models import MailHold, OutboxMail
from tests.conftest import signed_in
from tests.jobs.workflows.sending import Postbox, a_pass

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 6, 10, 17, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _one_house(monkeypatch, clock):
    """The story of one house, whose survey was booked today."""
    clock(NOW)
    whole = loading.read

    def cut(name):
        told = whole(name)
        return told | {"houses": {"teasel": told["houses"]["teasel"]}, "owner_acts": []}

    monkeypatch.setattr(loading, "read", cut)
    for command in ("load_catalog", "load_rules", "load_checklists"):
        call_command(command, stdout=StringIO())


def load(**options):
    out = StringIO()
    call_command("load_demo", "--now", NOW.isoformat(), stdout=out, **options)
    return out.getvalue()


def owner():
    return signed_in(User.objects.get(username="osric"))


def messages_page(client):
    return " ".join(client.get("/messages/").content.decode().split())


def test_nothing_leaves_until_the_owner_lets_it_go(monkeypatch):
    assert "No mail leaves until the owner says what" in load(mail="held")
    waiting = OutboxMail.objects.filter(state="queued").count()
    assert waiting
    assert a_pass(monkeypatch, Postbox(), at=NOW) == 0
    client = owner()
    assert f"{waiting} message" in messages_page(client)
    assert "kept back" in messages_page(client)
    client.post(f"/holds/{MailHold.objects.get().pk}/release/")
    assert a_pass(monkeypatch, Postbox(), at=NOW) == waiting
    assert "kept back" not in messages_page(client)


def test_it_is_held_where_it_is_made_and_not_again_by_the_next_start(monkeypatch):
    load()
    assert not MailHold.objects.exists()
    assert "FRESH=1 begins it anew" in load(mail="held")
    assert not MailHold.objects.exists()


def test_the_setting_says_it_for_a_demo_that_is_prepared(settings):
    settings.DEMO_MAIL = "held"
    load()
    assert MailHold.objects.holding().get().kind == MailHold.Kind.RESTORED
