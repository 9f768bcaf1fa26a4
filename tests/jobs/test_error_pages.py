"""What people see when something is refused or breaks: our page, our words, the right status."""

import pytest
from django.template.loader import render_to_string
from django.test import Client

from jobs.templatetags import look

pytestmark = pytest.mark.django_db


def test_an_address_that_is_nothing(client, dispatcher):
    client.force_login(dispatcher)
    answer = client.get("/no/such/page/")
    assert answer.status_code == 404
    assert "Nothing is kept at this address" in answer.content.decode()
    assert "Find a customer or a house" in answer.content.decode()  # and the way on


def test_a_stranger_at_a_wrong_address_sees_no_menu(client):
    page = client.get("/no/such/page/").content.decode()
    assert "Nothing is kept at this address" in page
    assert "<nav" not in page


def test_a_form_without_its_token(dispatcher):
    strict = Client(enforce_csrf_checks=True)
    answer = strict.post("/sign-in/", {"username": "x", "password": "y"})
    assert answer.status_code == 403
    assert "This form was open too long" in answer.content.decode()


@pytest.mark.parametrize("status", ["400", "403", "404", "409", "500"])
def test_error_pages_need_nothing_from_the_request(status, django_assert_num_queries):
    with django_assert_num_queries(0):
        page = render_to_string(f"{status}.html")
    assert "<h1>" in page
    assert "hx-headers" not in page


def test_a_conflict_names_the_thing_as_it_is_now():
    page = render_to_string("409.html", {"message": "Moved by Ida at 10:02.", "url": "/visits/4/"})
    assert "Moved by Ida at 10:02." in page
    assert 'href="/visits/4/"' in page


def test_signing_in_is_one_form_with_a_way_to_a_new_password(client):
    page = client.get("/sign-in/?next=/search/").content.decode()
    assert '<input type="hidden" name="next" value="/search/">' in page
    assert 'href="/password/"' in page
    assert "csrfmiddlewaretoken" in page


def test_a_wrong_password_says_not_signed_in(client):
    page = client.post("/sign-in/", {"username": "nobody", "password": "nothing"}).content.decode()
    assert "Not signed in" in page
    assert "do not belong together" in page


def test_the_way_to_a_new_password_never_tells_who_has_an_account(client):
    answer = client.post("/password/", {"email": "nobody@example.com"}, follow=True)
    assert "If that address belongs to an account" in answer.content.decode()


def test_a_used_link_says_so(client):
    page = client.get("/password/new/MQ/abc-def/").content.decode()
    assert "This link is used up" in page


@pytest.mark.parametrize(
    ("who", "sees", "never"),
    [
        ("technician", "Today", "Worklist"),
        ("dispatcher", "Worklist", "Callbacks"),
        ("owner", "Callbacks", "Today"),
    ],
)
def test_the_menu_follows_the_role(monkeypatch, request, who, sees, never):
    monkeypatch.setattr(look, "_address", lambda name: f"/{name}/")
    menu = render_to_string("parts/_navigation.html", {"user": request.getfixturevalue(who)})
    assert sees in menu
    assert never not in menu
    assert "Worksheets" in menu


def test_the_page_sends_the_token_with_every_live_request(client, dispatcher):
    client.force_login(dispatcher)
    page = client.get("/account/").content.decode()
    assert 'hx-headers=\'{"X-CSRFToken": "' in page
    assert '"allowEval": false' in page
