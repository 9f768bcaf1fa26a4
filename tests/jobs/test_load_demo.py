"""The command that loads the demo, on the story of one house; mail held as after a restore."""

import re
from datetime import UTC, datetime, timedelta
from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command

from jobs.demo import loading
from jobs.models import Job, MailHold, OutboxMail
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


def load(now=NOW, **options):
    out = StringIO()
    call_command("load_demo", "--now", now.isoformat(), stdout=out, **options)
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


# --- starts, and what is refused --------------------------------------------------------------


def test_a_second_start_loads_nothing_and_sets_the_password(settings):
    load()
    settings.DEMO_PASSWORD = "kettle-on-the-hob"
    jobs = Job.objects.count()
    said = load(NOW + timedelta(hours=2))
    assert "FRESH=1" not in said
    assert "kettle-on-the-hob" in said
    assert Job.objects.count() == jobs
    assert User.objects.get(username="rowan").check_password("kettle-on-the-hob")


def test_a_generated_password_is_printed_and_new_each_time(settings):
    settings.DEMO_PASSWORD = ""
    printed = {re.search(r"password (\S+)", load()).group(1) for _ in range(2)}
    assert len(printed) == 2


def test_a_demo_of_another_day_says_so():
    load()
    said = load(NOW + timedelta(days=1))
    assert "made on 10 June 2026" in said
    assert "FRESH=1" in said


def test_a_demo_is_refused_in_production_and_over_other_data(settings):
    settings.IN_PRODUCTION = True
    with pytest.raises(CommandError, match="never loaded into a production"):
        load()
    settings.IN_PRODUCTION = False
    load()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(loading, "loaded_at", lambda: None)
        with pytest.raises(CommandError, match="FRESH=1"):
            load()
