"""Who changed what: every change once, with its person, house, columns and reason."""

import ast
import csv
from datetime import timedelta
from io import BytesIO, StringIO
from pathlib import Path

import openpyxl
import pytest
from django.apps import apps
from django.conf import settings
from django.contrib.auth.models import User
from django.urls import reverse
from django.utils import timezone

from equipment import insert_only
from jobs.models import Company, Customer, LogEntry
from jobs.reports import who_changed
from jobs.reports.changed_rows import COMPANY, HOUSES, PEOPLE
from jobs.reports.who_changed import Asked, lines
from jobs.templatetags.owner_pages import PAGES
from jobs.workflows import log as log_module
from tests.conftest import NOW
from tests.factories import make_customer, make_rule, make_site, make_staff, make_train, make_visit
from tests.forms import filled
from tests.migrating import migrated

TODAY = NOW.date()


@pytest.fixture
def page(db, clock, owner_client):
    """The text of the page, words one blank apart."""

    def ask(**asked):
        answer = owner_client.get(reverse("who-changed"), asked)
        assert answer.status_code == 200
        return " ".join(answer.content.decode().split())

    return ask


@pytest.fixture
def asked(db):
    return lambda **more: lines(Asked(TODAY, TODAY, **more))[0]


def edit(client, page_name, /, *args, **changed):
    address = reverse(page_name, args=args)
    answer = client.post(address, filled(client, page_name, *args) | changed)
    assert answer.status_code == 302, answer.content.decode()
    return answer


# --- from the act to the line ---------------------------------------------------------------


def test_an_edited_customer_stands_there_once_with_both_values_and_who(
    clock, dispatcher_client, asked, page
):
    customer = make_customer(name="Nell Exempel")
    edit(dispatcher_client, "customer-edit", customer.pk, name="Nell Muster")
    (line,) = [line for line in asked() if line.label == "jobs.customer"]
    assert (line.by, line.what) == ("Dana Birch", "edited")
    assert ("Name", "Nell Exempel", "Nell Muster") in line.columns
    assert "Name: Nell Exempel &rarr; Nell Muster" in page()


def test_a_house_that_changed_is_named_and_asked_for_alone(clock, dispatcher_client, asked, page):
    one, other = make_site(street="1 Alder Row"), make_site(street="2 Birch Row")
    edit(dispatcher_client, "site-edit", one.pk, hazards="Dog in the yard")
    edit(dispatcher_client, "site-edit", other.pk, hazards="Low beam")
    assert {line.house for line in asked()} >= {one, other}
    found = asked(house=one.pk)
    assert {line.house for line in found} == {one}
    assert [line.columns for line in found] == [
        (("Dogs and other hazards", "empty", "Dog in the yard"),)
    ]
    assert "2 Birch Row" not in page(house=one.pk)


def test_roles_are_said_before_and_after(clock, owner_client, page):
    person = make_staff("technician", first_name="Robin", last_name="Elm", email="r@example.com")
    User.objects.filter(pk=person.pk).update(username="robin")
    edit(owner_client, "person-edit", person.pk, roles=["technician", "dispatcher"])
    text = page(subject="people")
    assert "Roles: dispatcher, technician" in text
    assert "Before: technician" in text
    assert f'href="{reverse("person-edit", args=[person.pk])}"' in text


def test_a_person_s_new_address_is_named_and_kept_out_of_the_log(clock, owner_client, page):
    person = make_staff("technician", first_name="Robin", last_name="Elm", email="r@example.com")
    edit(owner_client, "person-edit", person.pk, email="robin@example.com")
    assert "Also changed: email" in page(subject="people")
    entry = LogEntry.objects.get(verb="changed")
    assert "robin@example.com" not in str(entry.data)


def test_what_the_company_changed_stands_there_once(clock, owner_client, asked):
    Company.load()
    edit(owner_client, "company", sample_wait_days="3")
    (line,) = [line for line in asked(subject="company") if line.label == "jobs.company"]
    assert line.by == "Omar Cedar"
    ((_, before, after),) = line.columns
    assert (before != after, after) == (True, "3")


def test_the_reason_of_a_changed_rule_is_said(clock, owner_client, asked):
    rule = make_rule()
    edit(owner_client, "rule-edit", rule.pk, minutes="45", why="They take longer")
    (line,) = [line for line in asked(subject="company") if line.label == "jobs.followuprule"]
    assert line.reason == "They take longer"
    assert line.about == f"rule {rule.name}"
    assert [after for _, _, after in line.columns] == ["45"]


def test_an_act_without_an_entry_is_said_too(clock, dispatcher_client, asked):
    visit = make_visit(starts_at=NOW + timedelta(days=1))
    address = reverse("visit-cancel", args=[visit.pk])
    sent = filled(dispatcher_client, "visit-cancel", visit.pk) | {"reason": "Frost"}
    assert dispatcher_client.post(address, sent).status_code == 302
    found = [line for line in asked(subject="work") if line.what == "cancelled"]
    assert [(line.by, line.reason, line.house) for line in found][-1] == (
        "Dana Birch",
        "Frost",
        visit.job.site,
    )


def test_a_part_s_edit_is_said_at_its_house(clock, owner_client, asked):
    train = make_train(site=make_site())
    edit(owner_client, "train-edit", train.pk, notes="Bypass sticks")
    (line,) = [line for line in asked(house=train.site_id) if line.columns]
    assert line.columns == (("Notes", "empty", "Bypass sticks"),)
    assert line.house == train.site


# --- the question ---------------------------------------------------------------------------


def test_one_person_only_or_the_program_only(clock, dispatcher_client, owner_client, asked):
    customer = make_customer()
    edit(dispatcher_client, "customer-edit", customer.pk, name="By Dana")
    edit(owner_client, "customer-edit", customer.pk, name="By Omar")
    dana, omar = User.objects.get(username="dana"), User.objects.get(username="omar")
    assert {line.by for line in asked(person=str(dana.pk))} == {"Dana Birch"}
    assert {line.by for line in asked(person=str(omar.pk))} == {"Omar Cedar"}
    assert {line.by for line in asked()} == {"Dana Birch", "Omar Cedar"}
    by_nobody = asked(person=who_changed.NOBODY)
    assert {line.by for line in by_nobody} == {"the program"}
    assert any(line.label == "jobs.customer" and line.what == "entered" for line in by_nobody)


def test_only_the_days_that_were_asked_for(clock, dispatcher_client, page):
    customer = make_customer(name="Nell Exempel")
    clock(NOW - timedelta(days=8))
    edit(dispatcher_client, "customer-edit", customer.pk, name="Eight days ago")
    clock(NOW)
    assert "Eight days ago" not in page()
    assert "Eight days ago" in page(since=(TODAY - timedelta(days=8)).isoformat())
    assert "Nothing was changed in these days." in page(since="2025-01-01", until="2025-01-02")


def test_older_ones_are_on_the_next_pages_each_once(clock, dispatcher_client, monkeypatch):
    monkeypatch.setattr(who_changed, "ROWS", 4)
    customer = make_customer()
    for number in range(11):
        clock(NOW + timedelta(minutes=number))
        edit(dispatcher_client, "customer-edit", customer.pk, name=f"Name {number}")
    asked = Asked(TODAY, TODAY, subject="houses")
    seen, has_more, first = [], True, 0
    while has_more:
        found, has_more = lines(asked, first=first, most=4)
        seen += [after for line in found for _, _, after in line.columns]
        first += 4
    assert seen == [f"Name {number}" for number in reversed(range(11))]


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"since": "2026-06-10", "until": "2026-06-01"}, "must not be later"),
        ({"since": "1990-01-01", "until": "2026-06-01"}, "ten years at most"),
        ({"person": "999999"}, "Choose one of those offered"),
        ({"since": "yesterday"}, "Write a day"),
    ],
)
def test_a_question_that_cannot_be_is_refused_at_its_field(clock, owner_client, wrong, said):
    answer = owner_client.get(reverse("who-changed"), wrong)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert owner_client.get(reverse("who-changed-file"), wrong).status_code == 400


@pytest.mark.parametrize("number", ["0", "-1", "x", "99999999999", "²"])
def test_a_page_that_is_none_is_the_first_or_the_last(clock, owner_client, number):
    assert owner_client.get(reverse("who-changed"), {"page": number}).status_code == 200


@pytest.mark.parametrize("name", ["who-changed", "who-changed-file"])
def test_the_office_and_technicians_are_refused(dispatcher_client, technician_client, name):
    assert dispatcher_client.get(reverse(name)).status_code == 403
    assert technician_client.get(reverse(name)).status_code == 403


def test_the_pages_that_lead_there(clock, owner_client, dispatcher_client):
    site = make_site()
    link = f"{reverse('who-changed')}?house={site.pk}"
    detail = reverse("site-detail", args=[site.pk])
    assert link in owner_client.get(detail).content.decode()
    assert link not in dispatcher_client.get(detail).content.decode()
    assert reverse("who-changed") in owner_client.get(reverse("people")).content.decode()
    assert reverse("who-changed") in owner_client.get(reverse("company")).content.decode()


# --- files ----------------------------------------------------------------------------------


def test_the_file_has_a_line_for_each_column_and_no_formula(clock, dispatcher_client, owner_client):
    customer = make_customer(name="Nell Exempel", notes="")
    edit(dispatcher_client, "customer-edit", customer.pk, name="=1+1", notes="Key at the shed")
    address = reverse("who-changed-file")
    answer = owner_client.get(address, {"subject": "houses", "as": "csv"})
    assert 'filename="changes-2026-06-04-2026-06-10.csv"' in answer["Content-Disposition"]
    rows = list(csv.DictReader(StringIO(answer.content.decode("utf-8-sig"))))
    found = {(row["Detail"], row["Before"], row["After"]) for row in rows}
    assert found >= {("Name", "Nell Exempel", "'=1+1"), ("Notes", "empty", "Key at the shed")}
    assert {row["When"] for row in rows} == {timezone.localtime(NOW).strftime("%Y-%m-%d %H:%M")}
    book = openpyxl.load_workbook(
        BytesIO(owner_client.get(address, {"subject": "houses", "as": "xlsx"}).content)
    )
    assert book.sheetnames == ["Changes", "What was asked"]
    assert ("About", "customers, houses and systems") in book["What was asked"].values


# --- what ties the parts together ------------------------------------------------------------


def test_an_act_names_the_entry_that_its_row_wrote_and_names_it_once(db, dispatcher):
    customer = make_customer()
    customer.name = "Again"
    customer.save()
    newest = customer.history.order_by("-history_id").first()
    first = log_module.log(verb="edited", subject=customer, by=dispatcher, now=NOW)
    second = log_module.log(verb="mail_refused", subject=customer, by=None, now=NOW)
    assert (first.entry_id_logged, second.entry_id_logged) == (newest.history_id, None)


def test_every_history_has_a_name_and_a_kind_to_choose(db):
    labels = set(who_changed.histories())
    assert labels >= {"jobs.customer", "equipment.site", "auth.user"} - {"auth.user"}
    known = {model._meta.label_lower for model in apps.get_models()}
    assert (HOUSES | PEOPLE | COMPANY | set(who_changed.HOUSES) | set(PAGES)) <= known
    assert labels - HOUSES - PEOPLE - COMPANY == {"equipment.sample", who_changed.TOLD_BY_ACTS}


def test_numbers_of_rows_and_names_of_people_are_no_detail_of_an_act():
    """Every key that an act keeps is either said on the page or known to be for the program."""
    from jobs.reports.log_words import SAID

    program = {
        "act", "again", "alarm", "customer", "done", "mail", "of", "old", "origin", "owner",
        "parts", "person", "promises", "started", "stood", "untold", "version", "visits",
    }  # fmt: skip
    kept = set()
    for path in Path(settings.BASE_DIR, "jobs").rglob("*.py"):
        for call in ast.walk(ast.parse(path.read_text())):
            if isinstance(call, ast.Call) and getattr(call.func, "id", "") == "log":
                kept |= {word.arg for word in call.keywords if word.arg}
    kept -= {"verb", "subject", "by", "now", "site", "reason"}
    assert kept - set(SAID) == program
    assert Customer._meta.label_lower in HOUSES


def test_a_page_of_fifty_lines_asks_little(
    clock, dispatcher_client, owner_client, django_assert_max_num_queries
):
    for number in range(25):
        site = make_site(street=f"{number} Alder Row")
        edit(dispatcher_client, "site-edit", site.pk, hazards=f"Dog {number}")
        edit(dispatcher_client, "customer-edit", make_customer().pk, name=f"Name {number}")
    owner_client.get(reverse("who-changed"))
    with django_assert_max_num_queries(12):
        answer = owner_client.get(reverse("who-changed"))
    assert answer.content.decode().count("<tr>") == 51


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_acts_in_flight_name_the_entry_that_was_kept_with_them(clock, dispatcher_client):
    """An earlier act about the same row, and one that wrote no entry, keep to themselves."""
    customer = make_customer(name="Nell Exempel")
    edit(dispatcher_client, "customer-edit", customer.pk, name="First")
    clock(NOW + timedelta(minutes=1))
    edit(dispatcher_client, "customer-edit", customer.pk, name="Second")
    clock(NOW + timedelta(minutes=2))
    customer = Customer.objects.get()
    log_module.log(verb="mail_refused", subject=customer, by=None, now=NOW + timedelta(minutes=2))
    acts = LogEntry.objects.filter(subject_type="jobs.customer", subject_id=customer.pk)
    before = list(acts.order_by("pk").values_list("verb", "entry_id_logged"))
    with migrated("jobs", "0076_carry_over_old_jobs"):
        pass
    assert list(acts.order_by("pk").values_list("verb", "entry_id_logged")) == before
    assert [entry is None for _, entry in before] == [False, False, True]
    assert insert_only.missing() == []


def test_who_was_away_is_said_with_its_span_and_never_why(clock, dispatcher_client, page):
    person = make_staff("technician", first_name="Robin", last_name="Elm")
    sent = filled(dispatcher_client, "absence-new", person.pk)
    away = {"kind": "ill", "from_on": "2026-06-11", "until_on": "2026-06-12", "note": "Fever"}
    answer = dispatcher_client.post(reverse("absence-new", args=[person.pk]), sent | away)
    assert answer.status_code == 302, answer.context["form"].errors
    text = page(subject="people")
    assert "Span: 11 Jun 2026, 00:00 to 13 Jun 2026, 00:00" in text
    assert "Fever" not in text
