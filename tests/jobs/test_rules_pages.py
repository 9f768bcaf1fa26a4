"""Rules, company values and checklists: edited by the owner, refused when no code reads it."""

import json
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import call_command
from django.urls import reverse

from jobs.errors import BadEntry, EditedMeanwhile, WrongState
from jobs.models import ChecklistTemplate, Company, FollowUpRule
from jobs.workflows.checklist_templates import change_line
from jobs.workflows.owner_edits import save_owned, version_of
from jobs.workflows.rules import check_rule, save_rule
from tests.conftest import NOW
from tests.factories import make_rule
from tests.forms import filled
from tests.record_scenes import answer, load_checklists, make_house

pytestmark = pytest.mark.django_db
RULES = json.loads((Path(settings.BASE_DIR) / "fixtures/rules.json").read_text())


@pytest.fixture
def rules():
    call_command("load_rules", verbosity=0)
    load_checklists()
    return {rule.code: rule for rule in FollowUpRule.objects.all()}


PARTS = (
    "event",
    "filter",
    "also_on",
    "subject",
    "anchor",
    "offset_days",
    "recurrence",
    "closing",
    "closing_parameters",
    "job_kind",
    "minutes",
    "harm",
    "reason",
)


@pytest.mark.parametrize("code", [entry["code"] for entry in RULES])
def test_opening_and_keeping_a_rule_changes_nothing(owner_client, rules, code):
    rule = rules[code]
    before = {name: getattr(rule, name) for name in PARTS}
    answer = owner_client.post(
        reverse("rule-edit", args=[rule.pk]), filled(owner_client, "rule-edit", rule)
    )
    assert answer.status_code == 302
    rule.refresh_from_db()
    assert {name: getattr(rule, name) for name in PARTS} == before


def test_a_change_is_kept_with_who_and_why(owner_client, owner, rules):
    rule = rules["f1"]
    sent = filled(owner_client, "rule-edit", rule) | {"offset_days": 10, "why": "winter is slow"}
    assert owner_client.post(reverse("rule-edit", args=[rule.pk]), sent).status_code == 302
    rule.refresh_from_db()
    assert rule.offset_days == 10
    newest = rule.history.first()
    assert (newest.history_user, newest.history_change_reason) == (owner, "winter is slow")
    text = owner_client.get(reverse("rule-edit", args=[rule.pk])).content.decode()
    assert "Offset days: 14 &rarr; 10" in text
    assert "winter is slow" in text


def test_the_second_of_two_savers_sees_both(owner_client, rules):
    rule = rules["f1"]
    first, second = filled(owner_client, "rule-edit", rule), filled(owner_client, "rule-edit", rule)
    address = reverse("rule-edit", args=[rule.pk])
    owner_client.post(address, first | {"offset_days": 10})
    conflict = owner_client.post(address, second | {"offset_days": 12})
    assert conflict.status_code == 409
    assert "somebody else saved this meanwhile" in conflict.content.decode()
    again = second | {"offset_days": 12, "seen": conflict.context["seen"]}
    assert owner_client.post(address, again).status_code == 302
    rule.refresh_from_db()
    assert rule.offset_days == 12


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"filter": {"colour": "red"}}, "way0_colour"),
        ({"filter": {"completed": "yes"}}, "filter"),
        ({"filter": {"dose_moved_percent": {"below": 3}}}, "way0_dose_moved_percent"),
        ({"filter": ["completed"]}, "filter"),
        ({"filter": {"job_kind": "party"}}, "filter"),
        ({"filter": {"is_callback": True}}, "way0_is_callback"),
        ({"also_on": [{"event": "moon_full"}]}, "also_on"),
        (
            {"also_on": [{"event": "fill_recorded", "filter": {"completed": True}}]},
            "way1_completed",
        ),
        ({"also_on": ["startup_closed"]}, "also_on"),
        ({"also_on": [{"event": "fill_recorded", "working_days": -1}]}, "also_on"),
        ({"also_on": [{"event": "fill_recorded", "hours": 3}]}, "also_on"),
        ({"closing_parameters": {"colour": ["red"]}}, "closing_parameters"),
        ({"closing_parameters": {"outcomes": ["merry"]}}, "closing_parameters"),
        ({"closing_parameters": {"line_keys": ["stop-third"]}}, "line_keys"),
        ({"recurrence": {"every_weeks": 2}}, "recurrence"),
        ({"recurrence": {"every_days": 0}}, "recurrence"),
        ({"recurrence": {"every_days": True}}, "recurrence"),
        ({"recurrence": {"every_days": 3661}}, "recurrence"),
        ({"recurrence": {"every_days": 3, "every_months": 3}}, "recurrence"),
        ({"job_kind": "party"}, "job_kind"),
        ({"offset_days": -3}, "offset_days"),
        ({"offset_days": 3661}, "offset_days"),
    ],
)
def test_parameters_no_code_reads_are_refused(fields, field, owner, now):
    rule = make_rule()
    for name, value in fields.items():
        setattr(rule, name, value)
    with pytest.raises(BadEntry) as refused:
        save_rule(rule=rule, seen=version_of(rule), by=owner, now=now)
    assert refused.value.field == field
    rule.refresh_from_db()
    check_rule(rule)


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"way1_event": "moon_full"}, "Choose one of those offered"),
        ({"way1_event": "fill_recorded", "way1_completed": "yes"}, "completed cannot be asked"),
        ({"every_months": 12, "every_days": 30}, "not both"),
    ],
)
def test_refusals_stand_on_the_page_and_nothing_typed_is_lost(owner_client, rules, sent, said):
    rule = rules["f11"]
    answer = owner_client.post(
        reverse("rule-edit", args=[rule.pk]), filled(owner_client, "rule-edit", rule) | sent
    )
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert answer.context["form"].data["reason"] == rule.reason


def test_list_shows_every_rule_in_order(owner_client, rules):
    listed = [item.rule.code for item in owner_client.get(reverse("rules")).context["rules"]]
    assert listed == sorted(rules, key=lambda code: int(code[1:]))


# --- company values ------------------------------------------------------------------------------


def company_form(client):
    answer = client.get(reverse("company"))
    sent = {"seen": answer.context["seen"]}
    return sent | {f.html_name: f.value() for f in answer.context["form"] if f.value() is not None}


def test_company_values_are_kept_with_their_history(owner_client):
    sent = company_form(owner_client) | {"peroxide_low_mg_l": 6, "name": "Spring Water Works"}
    assert owner_client.post(reverse("company"), sent).status_code == 302
    assert (Company.load().peroxide_low_mg_l, Company.load().name) == (6, "Spring Water Works")
    text = owner_client.get(reverse("company")).content.decode()
    assert "5.0 &rarr; 6.0" in text
    assert "Omar Cedar" in text


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("contact_minimum_h", 7.5),
        ("shock_target_mg_l", 20),
        ("no_use_above_mg_l", 4.5),
        ("peroxide_low_mg_l", 15),
        ("peroxide_low_mg_l", -1),
        ("mail_from_hour", 25),
        ("mail_until_hour", 8),
        ("peroxide_limit_percent", 70),
        ("callback_window_days", 0),
        ("callback_window_days", 3661),
        ("peroxide_limit_percent", 50.5),
        ("flush_low_mg_l", 9000),
        ("peroxide_after_carbon_mg_l", 0),
    ],
)
def test_values_that_would_guard_nobody_are_refused(owner_client, name, value):
    before = Company.load()
    answer = owner_client.post(reverse("company"), company_form(owner_client) | {name: value})
    assert answer.status_code == 422
    assert getattr(Company.load(), name) == getattr(before, name)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("no_use_above_mg_l", 4),
        ("peroxide_limit_percent", 50),
        ("callback_window_days", 3660),
        ("mail_until_hour", 24),
    ],
)
def test_a_company_value_is_taken_up_to_its_limit(owner_client, name, value):
    """4 mg/L of chlorine: 40 CFR 141.65; the others are common practice, no source."""
    sent = company_form(owner_client) | {name: value}
    assert owner_client.post(reverse("company"), sent).status_code == 302
    assert getattr(Company.load(), name) == value


def test_two_figures_that_follow_each_other_are_not_the_same(owner_client):
    sent = company_form(owner_client) | {"peroxide_low_mg_l": 7, "peroxide_high_mg_l": 7}
    answer = owner_client.post(reverse("company"), sent)
    assert answer.status_code == 422
    assert "This must be more than the figure before it." in answer.content.decode()


def test_a_rule_for_some_parts_becomes_one_for_all(owner_client, rules):
    rule = rules["f2"]
    sent = filled(owner_client, "rule-edit", rule)
    assert sent.pop("way0_stage_kind")
    assert owner_client.post(reverse("rule-edit", args=[rule.pk]), sent).status_code == 302
    rule.refresh_from_db()
    assert "stage_kind" not in rule.filter


def test_an_older_page_does_not_overwrite_a_newer_value(owner, now):
    row, older = Company.load(), Company.load()
    seen = version_of(row)
    row.town = "Kestrel Ford"
    save_owned(row=row, seen=seen, by=owner, now=now)
    older.town = "Alder Gap"
    with pytest.raises(EditedMeanwhile) as refused:
        save_owned(row=older, seen=seen, by=owner, now=now)
    assert ("Town", "Alder Gap", "Kestrel Ford") in refused.value.differences


# --- checklists ----------------------------------------------------------------------------------


@pytest.fixture
def recheck():
    load_checklists()
    return ChecklistTemplate.objects.get(purpose="recheck", is_current=True)


def test_a_changed_line_makes_a_new_version_and_leaves_the_old(recheck, owner, now):
    line = recheck.lines.filter(kind="quantity").first()
    newer = change_line(
        template=recheck,
        key=line.key,
        changes={"warn_max": 30.0, "hint": "after two minutes"},
        by=owner,
        now=now,
    )
    assert (newer.version, newer.is_current) == (recheck.version + 1, True)
    recheck.refresh_from_db()
    assert not recheck.is_current
    assert newer.lines.get(key=line.key).warn_max == 30
    assert recheck.lines.get(key=line.key).warn_max == line.warn_max
    compared = [
        list(each.lines.exclude(key=line.key).values_list("key", "position", "label", "passes"))
        for each in (recheck, newer)
    ]
    assert compared[0] == compared[1]
    with pytest.raises(WrongState):
        change_line(template=recheck, key=line.key, changes={"hint": "x"}, by=owner, now=now)


def test_the_second_look_begins_above_the_figure_of_the_owner(owner):
    load_checklists()
    startup = ChecklistTemplate.objects.get(purpose="startup", is_current=True)
    changes = {"warn_max": 3.0}
    change_line(template=startup, key="raw-iron", changes=changes, by=owner, now=NOW)
    record, _, lead = make_house()
    assert answer(record, lead, "raw-iron", "3").warning == ""
    assert "Unusual: above 3" in answer(record, lead, "raw-iron", "3.1").warning


@pytest.mark.parametrize(
    "changes",
    [
        {"label": " "},
        {"hard_min": 5.0, "hard_max": 5.0},
        {"hard_min": 1.0, "hard_max": 9.0, "warn_max": 10.0},
        {"passes": {}},
    ],
)
def test_a_line_that_makes_no_sense_is_refused(recheck, owner, now, changes):
    line = recheck.lines.filter(kind="quantity").first()
    with pytest.raises(BadEntry):
        change_line(template=recheck, key=line.key, changes=changes, by=owner, now=now)
    recheck.refresh_from_db()
    assert recheck.is_current


def test_a_line_that_must_pass_stays_asked(recheck, owner, now):
    line = recheck.lines.filter(is_gate=True, required=True).first()
    with pytest.raises(BadEntry) as refused:
        change_line(template=recheck, key=line.key, changes={"required": False}, by=owner, now=now)
    assert refused.value.field == "required"


def test_pages_of_a_checklist(owner_client, recheck):
    assert recheck.title in owner_client.get(reverse("templates")).content.decode()
    line = recheck.lines.filter(kind="quantity", is_gate=False).first()
    detail = owner_client.get(reverse("template-detail", args=[recheck.pk])).content.decode()
    assert line.label in detail
    address = reverse("template-line", args=[recheck.pk, line.key])
    sent = {"label": "Asked anew", "warn_max": "", "required": "on", "may_skip": "on"}
    answer = owner_client.post(address, sent)
    assert answer.status_code == 302
    assert "Asked anew" in owner_client.get(answer.url).content.decode()
    assert owner_client.post(address, sent).status_code == 422  # that version is an earlier one
