"""What the company edits of a checklist lies over what is shipped; new questions arrive beneath."""

import json

import pytest
from django.conf import settings
from django.core.management import call_command
from django.db import connection
from django.urls import reverse

from jobs.models import ChecklistTemplate, LineEdit
from jobs.workflows.checklist_templates import load_templates, stays
from tests.factories import make_rule
from tests.forms import filled
from tests.migrating import migrated
from tests.record_scenes import answer, load_checklists, make_house

FILE = settings.BASE_DIR / "fixtures/checklists.json"
pytestmark = pytest.mark.django_db


@pytest.fixture
def lists():
    load_checklists()


def current(purpose="recheck"):
    return ChecklistTemplate.objects.get(purpose=purpose, is_current=True)


def shipped(change, purpose="recheck", plus=1):
    """The next version of the file, with something changed in the lines of the list."""
    data = json.loads(FILE.read_text())
    entry = next(each for each in data["templates"] if each["purpose"] == purpose)
    entry["version"] += plus
    lines = {
        line["key"]: line for block in entry["blocks"] for line in data["blocks"][block]["lines"]
    }
    change(data["blocks"], lines)
    return load_templates(data={**data, "templates": [entry]})


def page(client, against=""):
    where = reverse("template-detail", args=[current().pk])
    return client.get(where, {"against": against} if against else {})


def changed(client, key, **fields):
    """The owner changes a line on its page."""
    template = current()
    sent = filled(client, "template-line", template, key) | fields
    return client.post(reverse("template-line", args=[template.pk, key]), sent)


def pressed(client, act, key):
    return client.post(reverse(act, args=[current().pk, key]), follow=True)


def added(client, **fields):
    template = current()
    sent = filled(client, "template-add", template) | {"label": "Gate locked", "kind": "tick"}
    return client.post(reverse("template-add", args=[template.pk]), sent | fields)


def free_line():
    """A line of the list that nothing rests on."""
    template = current()
    return next(line for line in template.lines.all() if not stays(template, line))


# --- new versions arrive ------------------------------------------------------------------------


def test_a_new_line_arrives_under_the_label_of_the_owner(owner_client, lists):
    line = current().lines.filter(kind="quantity").first()
    block = line.block
    assert changed(owner_client, line.key, label="As we say it").status_code == 302
    shipped(
        lambda blocks, lines: blocks[block]["lines"].append(
            {"key": "brand-new", "label": "A new question", "kind": "tick"}
        )
    )
    asked = dict(current().lines.values_list("key", "label"))
    assert asked["brand-new"] == "A new question"
    assert asked[line.key] == "As we say it"
    text = page(owner_client).content.decode()
    assert "A new question" in text
    assert "what is asked: “As we say it”" in text


def test_versions_of_the_company_do_not_hide_the_next_shipped_one(owner_client, lists):
    line = current().lines.filter(kind="quantity").first()
    for label in ("One", "Two", "Three"):
        changed(owner_client, line.key, label=label)
    (newer,) = shipped(lambda blocks, lines: lines[line.key].update(hint="shipped anew"))
    asked = newer.lines.get(key=line.key)
    assert (asked.label, asked.hint) == ("Three", "shipped anew")
    assert newer.is_current
    assert shipped(lambda blocks, lines: None) == []


def test_a_record_keeps_the_version_it_was_begun_with(owner_client, owner):
    record, _, lead = make_house()
    template = record.template
    line = template.lines.get(key="hold-minutes")
    sent = filled(owner_client, "template-line", template, line.key) | {"label": "As we say it"}
    owner_client.post(reverse("template-line", args=[template.pk, line.key]), sent)
    record.refresh_from_db()
    assert record.template == template
    assert record.template.lines.get(key=line.key).label == line.label


# --- conflicts ----------------------------------------------------------------------------------


def test_an_edit_of_a_line_that_is_shipped_no_more_is_kept_and_said(owner_client, lists):
    line = free_line()
    changed(owner_client, line.key, label="As we say it")

    def drop(blocks, lines):
        kept = [each for each in blocks[line.block]["lines"] if each["key"] != line.key]
        blocks[line.block]["lines"] = kept

    shipped(drop)
    assert not current().lines.filter(key=line.key).exists()
    (said,) = page(owner_client).context["conflicts"]
    assert said.startswith(f"“{line.label}” is not shipped any more: your change is kept")
    shipped(lambda blocks, lines: None, plus=2)
    assert current().lines.get(key=line.key).label == "As we say it"
    assert page(owner_client).context["conflicts"] == []


def test_a_label_that_is_shipped_otherwise_since_is_said_and_the_owners_stands(owner_client, lists):
    line = current().lines.filter(kind="quantity").first()
    changed(owner_client, line.key, label="As we say it")
    shipped(lambda blocks, lines: lines[line.key].update(label="As shipped now"))
    assert current().lines.get(key=line.key).label == "As we say it"
    (said,) = page(owner_client).context["conflicts"]
    assert "is shipped as “As shipped now” now" in said
    assert "yours, “As we say it”, stands" in said
    pressed(owner_client, "template-shipped", line.key)
    assert current().lines.get(key=line.key).label == "As shipped now"
    assert page(owner_client).context["conflicts"] == []


def test_limits_that_fit_no_more_give_way_to_the_shipped_ones(owner_client, lists):
    line = current().lines.filter(kind="quantity", is_gate=False).first()
    changed(owner_client, line.key, hard_min="", hard_max="", warn_min="", warn_max=50)
    shipped(lambda blocks, lines: lines[line.key].update(hard_max=20, warn_max=10, warn_min=None))
    asked = current().lines.get(key=line.key)
    assert (asked.hard_max, asked.warn_max) == (20, 10)
    assert any(
        "does not fit it any more" in said for said in page(owner_client).context["conflicts"]
    )


def test_a_line_that_must_pass_since_is_asked_again(owner_client, lists):
    line = free_line()
    pressed(owner_client, "template-out", line.key)
    assert not current().lines.filter(key=line.key).exists()
    shipped(
        lambda blocks, lines: lines[line.key].update(
            is_gate=True, required=True, passes={"at_least": 1}
        )
    )
    assert current().lines.filter(key=line.key).exists()
    assert "is asked again" in page(owner_client).context["conflicts"][0]


# --- taken out, added, moved --------------------------------------------------------------------


def test_a_line_is_taken_out_and_asked_again_as_shipped(owner_client, lists):
    line = free_line()
    said = pressed(owner_client, "template-out", line.key)
    assert "Kept as version" in said.content.decode()
    assert not current().lines.filter(key=line.key).exists()
    shipped(lambda blocks, lines: None)
    assert not current().lines.filter(key=line.key).exists()
    pressed(owner_client, "template-shipped", line.key)
    assert current().lines.filter(key=line.key).exists()


@pytest.mark.parametrize(
    ("purpose", "key", "why"),
    [
        ("recheck", "stop-first", "must pass"),
        ("startup", "raw-iron", "rests on it"),
        ("survey", "use-dialysis", "a caution is read there"),
    ],
)
def test_what_gates_closing_and_safety_ask_for_stays(owner_client, lists, purpose, key, why):
    template = current(purpose)
    assert template.lines.filter(key=key).exists()
    where = reverse("template-out", args=[template.pk, key])
    text = owner_client.post(where, follow=True).content.decode()
    assert "stays" in text
    assert why in text
    assert current(purpose) == template
    line_page = owner_client.get(reverse("template-line", args=[template.pk, key]))
    assert "It cannot be taken out" in line_page.content.decode()


def test_a_line_that_keeps_a_promise_stays(owner_client, lists):
    call_command("load_rules", verbosity=0)
    line = free_line()
    make_rule("x1", name="Look again", closing_parameters={"line_keys": [[line.key]]})
    text = pressed(owner_client, "template-out", line.key).content.decode()
    assert "promises of “Look again” are kept by its answer" in text


def test_a_question_of_the_company_is_asked_answered_and_survives_the_next_version(owner_client):
    load_checklists()
    template = current("startup")
    block = template.lines.first().block
    sent = filled(owner_client, "template-add", template) | {
        "label": "Colour of the hose",
        "kind": "choice",
        "choices": "red\nblue",
        "block": block,
    }
    owner_client.post(reverse("template-add", args=[template.pk]), sent)
    shipped(lambda blocks, lines: None, purpose="startup")
    record, _, lead = make_house()
    kept = answer(record, lead, "own-colour-of-the-hose", "blue")
    assert kept.text == "blue"


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"label": ""}, "label"),
        ({"kind": "choice", "choices": "red"}, "choices"),
        ({"kind": "tick", "choices": "red\nblue"}, "choices"),
        ({"kind": "tick", "hard_min": 3}, "hard_min"),
        ({"kind": "number", "hard_min": 3, "hard_max": 3}, "hard_min"),
        ({"block": "roof"}, "block"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused_at_its_box(owner_client, lists, fields, field):
    refused = added(owner_client, **fields)
    assert refused.status_code == 422
    assert field in refused.context["form"].errors
    assert not LineEdit.objects.exists()


def test_two_questions_of_one_name_are_two_lines(owner_client, lists):
    added(owner_client)
    added(owner_client)
    keys = {edit.key for edit in LineEdit.objects.all()}
    assert keys == {"own-gate-locked", "own-gate-locked-2"}


def test_a_line_is_moved_and_a_new_one_stands_where_it_is_shipped(owner_client, lists):
    added(owner_client)
    added(owner_client, label="Dog indoors")
    own = LineEdit.objects.get(key="own-dog-indoors")
    block = own.own["block"]
    order = list(current().lines.filter(block=block).values_list("key", flat=True))
    assert order[-2:] == ["own-gate-locked", "own-dog-indoors"]
    assert changed(owner_client, "own-dog-indoors", below="").status_code == 302
    assert current().lines.filter(block=block).first().key == "own-dog-indoors"
    first = order[0]
    shipped(
        lambda blocks, lines: blocks[block]["lines"].insert(
            1, {"key": "brand-new", "label": "A new question", "kind": "tick"}
        )
    )
    asked = list(current().lines.filter(block=block).values_list("key", flat=True))
    assert asked[:3] == ["own-dog-indoors", first, "brand-new"]


def test_a_line_stays_below_the_one_it_is_asked_because_of(owner_client, lists):
    template = current("startup")
    lines = {line.key: line for line in template.lines.all()}
    line = next(
        each
        for each in lines.values()
        if each.condition.get("line") in lines and lines[each.condition["line"]].block == each.block
    )
    sent = filled(owner_client, "template-line", template, line.key) | {"below": ""}
    refused = owner_client.post(reverse("template-line", args=[template.pk, line.key]), sent)
    assert refused.status_code == 422
    assert "is asked because of" in refused.context["form"].errors["below"][0]


def test_a_line_that_was_moved_before_it_was_asked_because_of_another_hinders_no_other_move(
    owner_client, lists
):
    """The owner moved it up; a later version of the file asks it because of one that is below."""
    block = current().lines.first().block
    lines = list(current().lines.filter(block=block).values_list("key", flat=True))
    first, moved = lines[0], lines[1]
    assert changed(owner_client, moved, below="").status_code == 302
    shipped(lambda blocks, of: of[moved].update(condition={"line": first, "is": "yes"}))
    asked = list(current().lines.filter(block=block).values_list("key", flat=True))
    assert asked[:2] == [moved, first]
    assert changed(owner_client, lines[-1], below=lines[-3]).status_code == 302


def test_a_line_put_back_as_it_is_shipped_is_no_edit(owner_client, lists):
    line = current().lines.filter(kind="quantity").first()
    changed(owner_client, line.key, label="As we say it")
    assert LineEdit.objects.exists()
    changed(owner_client, line.key, label=line.label)
    assert not LineEdit.objects.exists()


# --- differences --------------------------------------------------------------------------------


def test_versions_are_shown_side_by_side(owner_client, lists):
    line = current().lines.filter(kind="quantity").first()
    before = current()
    changed(owner_client, line.key, label="As we say it")
    added(owner_client)
    rows = page(owner_client, before.pk).context["differences"]
    said = {(row.label, row.what) for row in rows}
    assert ("As we say it", f"what is asked: “{line.label}” → “As we say it”") in said
    assert any(row.label == "Gate locked" and row.what.startswith("added on") for row in rows)
    assert len(rows) == 2
    newest = page(owner_client).context["differences"]
    assert [row.label for row in newest] == ["Gate locked"]


# --- what stood before --------------------------------------------------------------------------


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_versions_of_the_company_in_flight_become_edits(owner_client):
    load_checklists()
    line = current().lines.filter(kind="quantity").first()
    number = current().version
    changed(owner_client, line.key, label="As we say it", hint="by the clock")
    with migrated("jobs", "0041_answers_of_each_tank"):
        pass
    edit = LineEdit.objects.get()
    assert edit.changes == {"label": "As we say it", "hint": "by the clock"}
    assert edit.was == {"label": line.label, "hint": line.hint}
    assert (current().shipped, current().is_edited, current().version) == (number, True, number + 1)
    (newer,) = shipped(lambda blocks, lines: lines[line.key].update(warn_max=None, warn_min=None))
    assert newer.lines.get(key=line.key).label == "As we say it"


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_edits_that_a_shipped_version_had_put_aside_come_back(owner_client):
    """Before, a shipped version with a higher number stood alone and the owner's label was lost."""
    load_checklists()
    line = current().lines.filter(kind="quantity").first()
    changed(owner_client, line.key, label="As we say it")
    with migrated("jobs", "0041_answers_of_each_tank"), connection.cursor() as cursor:
        cursor.execute(
            "UPDATE jobs_checklisttemplate SET is_current = %s WHERE purpose = 'recheck'",
            [False],
        )
        cursor.execute(
            "INSERT INTO jobs_checklisttemplate (purpose, version, title, is_current) "
            "VALUES ('recheck', 999, 'Recheck', %s)",
            [True],
        )
    assert LineEdit.objects.get().changes == {"label": "As we say it"}
    load_checklists()
    assert current().is_edited


# --- limits, as they are read ---------------------------------------------------------------------


def test_limits_are_read_as_figures_and_guarded_where_there_are_any(owner_client, lists):
    said = " ".join(page(owner_client).content.decode().split())
    assert "0 to 3600" in said
    assert ".0 to" not in said
    template, guards = current(), "a limit guards somebody"
    for key, has_limits in (("stop-first", True), ("customer-words", False)):
        where = reverse("template-line", args=[template.pk, key])
        assert (guards in owner_client.get(where).content.decode()) == has_limits
