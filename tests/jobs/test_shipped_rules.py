"""A database with older rules is prepared again: what nobody edited follows, edits stay."""

import json
from io import StringIO
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.urls import reverse

from jobs.models import FollowUpRule
from jobs.workflows.rules import end_rule
from tests.conftest import NOW
from tests.factories import make_follow_up
from tests.forms import filled
from tests.record_scenes import load_checklists

pytestmark = pytest.mark.django_db
SHIPPED = {r["code"]: r for r in json.loads(Path("fixtures/rules.json").read_text())}
#: as an earlier program shipped it
OLD = {"name": "Pump tube", "reason": "The pump tube is old.", "offset_days": 150}


def load():
    out = StringIO()
    call_command("load_rules", stdout=out)
    return out.getvalue().strip()


@pytest.fixture
def old(monkeypatch, tmp_path):
    """A company that began with an earlier program; then its files are today's."""
    (tmp_path / "fixtures").mkdir()
    rows = [row | (OLD if row["code"] == "f6" else {}) for row in SHIPPED.values()]
    (tmp_path / "fixtures/rules.json").write_text(json.dumps(rows))
    with monkeypatch.context() as earlier:
        earlier.setattr(settings, "BASE_DIR", tmp_path)
        load()
    load_checklists()
    return FollowUpRule.objects.get(code="f6")


def edited(owner_client, rule, **typed):
    """The owner changes a rule on its page."""
    sent = filled(owner_client, "rule-edit", rule) | {"why": "as we do it"} | typed
    assert owner_client.post(reverse("rule-edit", args=[rule.pk]), sent).status_code == 302


def now_said(rule):
    rule.refresh_from_db()
    return {name: getattr(rule, name) for name in OLD}


def shipped():
    return {name: SHIPPED["f6"][name] for name in OLD}


def test_a_rule_nobody_edited_becomes_what_is_shipped(old, owner_client):
    promise = make_follow_up(rule=old)
    assert load() == "rules: 0 added, 1 brought up to date"
    assert now_said(old) == shipped()
    page = owner_client.get(reverse("rules")).content.decode()
    assert "Tube of the dosing pump" in page
    assert "Pump tube" not in page
    promise.refresh_from_db()
    assert promise.terms.name == "Pump tube", "promised under the version of then"
    assert load() == "rules: 0 added"


def test_what_the_owner_changed_stays_and_the_words_it_came_with_follow(old, owner_client):
    edited(owner_client, old, offset_days=120)
    assert load() == "rules: 0 added, 1 brought up to date, 1 left as the company has them"
    assert now_said(old) == shipped() | {"offset_days": 120}
    assert load() == "rules: 0 added, 1 left as the company has them"


def test_words_of_the_company_stay(old, owner_client):
    edited(owner_client, old, name="Our tubes")
    load()
    assert now_said(old) == {**OLD, "name": "Our tubes", "reason": SHIPPED["f6"]["reason"]}


def test_kept_without_a_change_it_is_nobodys_edit(old, owner_client):
    edited(owner_client, old)
    load()
    assert now_said(old) == shipped()


def test_a_rule_that_ended_stays_ended(old, owner):
    end_rule(rule=old, give_up=False, reason="we change them yearly", by=owner, now=NOW)
    load()
    old.refresh_from_db()
    assert (old.is_active, old.name) == (False, SHIPPED["f6"]["name"])


def test_a_rule_of_the_company_is_never_looked_at(old, owner_client):
    edited(owner_client, old)
    own = FollowUpRule.objects.create(code="c1", **{**old.content(), "name": "Ours"})
    load()
    own.refresh_from_db()
    assert own.name == "Ours"
