"""Accounts: invited by mail, several roles, closed at once, an owner always left."""

import re
from datetime import timedelta
from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.contrib.auth.tokens import default_token_generator
from django.core.management import CommandError, call_command
from django.urls import reverse

from jobs.access import roles_of
from jobs.errors import BadEntry, WrongState
from jobs.models import LogEntry, OutboxMail
from jobs.workflows import people as workflow
from tests.conftest import make_person, signed_in
from tests.factories import make_staff, make_visit
from tests.forms import filled
from tests.licences import entered, left_out

pytestmark = pytest.mark.django_db


def add(now, by=None, **fields):
    username = fields.pop("username", "robin")
    facts = {"email": "robin@example.com", "roles": ["technician"], "first_name": "Robin"}
    person = workflow.Person(**facts | fields)
    return workflow.add_person(username=username, person=person, by=by, now=now)


def test_a_new_person_has_roles_a_profile_no_password_and_a_letter(owner, now):
    user = add(now, owner, roles=["technician", "dispatcher"])
    assert roles_of(user) == {"technician", "dispatcher"}
    assert not user.has_usable_password()
    assert user.profile.unit_system == "us"
    letter = OutboxMail.objects.get(template="account_invitation")
    assert (letter.recipient, letter.mail_class) == ("robin@example.com", "staff")
    assert LogEntry.objects.get(verb="added").by == owner


@pytest.mark.parametrize(
    ("fields", "field"),
    [
        ({"username": "OMAR"}, "username"),
        ({"username": " "}, "username"),
        ({"email": "Omar@Example.com"}, "email"),
        ({"email": ""}, "email"),
        ({"roles": []}, "roles"),
        ({"roles": ["boss"]}, "roles"),
    ],
)
def test_what_cannot_be_an_account_is_refused_and_nothing_kept(owner, now, fields, field):
    with pytest.raises(BadEntry) as refused:
        add(now, owner, **fields)
    assert refused.value.field == field
    assert User.objects.count() == 1
    assert not OutboxMail.objects.exists()


def test_closing_ends_every_session_and_link_at_once(owner, now):
    person = make_staff("dispatcher")
    client, other = signed_in(person), signed_in(person)
    token = default_token_generator.make_token(person)
    assert client.get(reverse("account")).status_code == 200
    workflow.close_account(user=person, by=owner, now=now)
    for each in (client, other):
        assert each.get(reverse("account")).status_code == 302
    person.refresh_from_db()
    assert not default_token_generator.check_token(person, token)


def test_a_reopened_account_does_not_bring_old_sessions_back(owner, now):
    person = make_staff("dispatcher")
    client = signed_in(person)
    workflow.close_account(user=person, by=owner, now=now)
    workflow.open_account(user=person, by=owner, now=now)
    assert client.get(reverse("account")).status_code == 302
    assert OutboxMail.objects.filter(template="account_invitation").count() == 1


def test_an_owner_always_stays(owner, now):
    second = make_person("second", "owner")
    with pytest.raises(WrongState):
        workflow.close_account(user=owner, by=owner, now=now)
    workflow.close_account(user=second, by=owner, now=now)
    demoted = workflow.Person(owner.email, ["dispatcher"])
    with pytest.raises(WrongState):
        workflow.change_person(user=owner, person=demoted, by=owner, now=now)
    with pytest.raises(WrongState):
        workflow.close_account(user=second, by=owner, now=now)
    assert "owner" in roles_of(User.objects.get(pk=owner.pk))


def test_changed_roles_hold_from_the_next_request(owner, now):
    person = make_staff("technician")
    client = signed_in(person)
    assert client.get(reverse("people")).status_code == 403
    promoted = workflow.Person(person.email, ["owner"])
    workflow.change_person(user=person, person=promoted, by=owner, now=now)
    assert client.get(reverse("people")).status_code == 200
    entry = LogEntry.objects.get(verb="changed")
    assert (entry.data["before"], entry.data["roles"]) == (["technician"], ["owner"])


def test_the_second_of_two_owners_sees_what_the_first_one_saved(owner_client, owner, now):
    """Roles given by one are not taken away by a page that the other opened before."""
    person = make_staff("technician", first_name="Tove")
    where = reverse("person-edit", args=[person.pk])
    first, second = (filled(owner_client, "person-edit", person) for _ in range(2))
    first["roles"] = ["technician", "dispatcher"]
    assert owner_client.post(where, first).status_code == 302
    late = owner_client.post(where, second | {"last_name": "Lind"})
    assert late.status_code == 409
    assert ("Roles", "technician", "dispatcher, technician") in late.context["differences"]
    assert roles_of(User.objects.get(pk=person.pk)) == {"technician", "dispatcher"}
    again = second | {"last_name": "Lind", "seen": late.context["seen"]}
    assert owner_client.post(where, again).status_code == 302
    assert roles_of(User.objects.get(pk=person.pk)) == {"technician"}


def test_a_link_goes_to_those_with_and_without_a_password(owner, now):
    invited, settled = add(now, owner), make_staff("technician")
    OutboxMail.objects.all().delete()
    workflow.send_link(user=invited, by=owner, now=now)
    workflow.send_link(user=settled, by=owner, now=now)
    sent = set(OutboxMail.objects.values_list("recipient", "template"))
    assert sent == {(invited.email, "account_invitation"), (settled.email, "password_reset")}


def test_a_closed_account_gets_no_link(owner, now):
    person = make_staff("technician")
    workflow.close_account(user=person, by=owner, now=now)
    person.refresh_from_db()
    with pytest.raises(WrongState):
        workflow.send_link(user=person, by=owner, now=now)


# --- pages -------------------------------------------------------------


FORM = {
    "first_name": "Robin",
    "last_name": "Vale",
    "username": "robin",
    "email": "robin@example.com",
    "roles": ["technician", "dispatcher"],
}


def test_owner_invites_and_sees_the_person(owner_client):
    answer = owner_client.post(reverse("person-new"), FORM)
    assert answer.status_code == 302
    text = owner_client.get(reverse("people")).content.decode()
    assert "Robin Vale" in text
    assert "invited" in text


def test_sending_the_form_twice_makes_one_person(owner_client):
    text = owner_client.get(reverse("person-new")).content.decode()
    once = re.search(r'name="once" value="([^"]+)"', text)[1]
    answers = [owner_client.post(reverse("person-new"), {**FORM, "once": once}) for _ in range(2)]
    assert answers[0].url == answers[1].url
    assert User.objects.filter(username="robin").count() == 1


def test_a_refused_form_loses_nothing(owner_client):
    answer = owner_client.post(reverse("person-new"), {**FORM, "username": "omar"})
    assert answer.status_code == 422
    text = answer.content.decode()
    assert "Somebody has this name already" in text
    assert 'value="robin@example.com"' in text


def test_buttons_of_a_person(owner_client, now):
    person = make_staff("technician", first_name="Tove")
    make_visit(lead=person, starts_at=now + timedelta(days=900))
    where = reverse("person-edit", args=[person.pk])
    assert "1 visit to come" in owner_client.get(where).content.decode()
    licence = entered(owner_client, person, "Well work", "2020-01-01")
    assert re.search(r"ended\s+1.Jan.2020", owner_client.get(where).content.decode())
    left_out(owner_client, licence)
    assert "Well work" not in owner_client.get(where).content.decode()
    closed = owner_client.post(reverse("person-close", args=[person.pk]), follow=True)
    assert "move them" in closed.content.decode()
    opened = owner_client.post(reverse("person-open", args=[person.pk]), follow=True)
    assert "open again" in opened.content.decode()
    again = owner_client.post(reverse("person-link", args=[person.pk]), follow=True)
    assert "is on its way" in again.content.decode()


def test_the_form_of_a_person_begins_with_the_roles_held(owner_client):
    person = make_staff("technician", "dispatcher")
    page = owner_client.get(reverse("person-edit", args=[person.pk])).content.decode()
    ticked = re.findall(r'name="roles" value="(\w+)"[^>]* checked', page)
    assert ticked == ["technician", "dispatcher"]


def test_list_of_people_asks_a_fixed_number_of_times(owner_client, django_assert_max_num_queries):
    for _ in range(20):
        make_staff("technician")
    with django_assert_max_num_queries(12):
        owner_client.get(reverse("people"))


# --- the first owner -------------------------------------------------------------


def test_command_adds_the_first_owner_who_then_signs_in(client):
    said = StringIO()
    call_command(
        "add_person",
        "mara",
        "--email",
        "mara@example.com",
        "--role",
        "owner",
        "--role",
        "technician",
        stdout=said,
    )
    mara = User.objects.get(username="mara")
    assert roles_of(mara) == {"owner", "dispatcher", "technician"}
    path = re.search(r"http://testserver(/\S+)", said.getvalue())[1]
    form = client.get(path, follow=True)
    chosen = {"new_password1": "barrel-of-sand-9", "new_password2": "barrel-of-sand-9"}
    client.post(form.redirect_chain[-1][0], chosen)
    assert client.login(username="mara", password="barrel-of-sand-9")
    again = client.get(path, follow=True)
    assert "new_password1" not in again.content.decode()


def test_command_refuses_a_second_of_the_same_name(owner):
    with pytest.raises(CommandError, match="this name already"):
        call_command("add_person", "omar", "--email", "o@example.com", "--role", "owner")
