"""No sentence of the framework, no name of a field and no bare "Save" on any form."""

import re
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pytest
from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.urls import reverse

import jobs.forms
from jobs.models import OutboxMail
from tests import factories as make
from tests.jobs.mail.letters import NOW, customer_mail

FRAMEWORK = re.compile(
    r"Ensure th|This field|Select a valid|Enter a (whole|number|valid (date|time))"
)


def all_forms():
    for module in iter_modules(jobs.forms.__path__):
        found = vars(import_module(f"jobs.forms.{module.name}")).values()
        yield from (
            form
            for form in found
            if isinstance(form, type) and issubclass(form, forms.BaseForm) and form.base_fields
        )


FIELDS = {
    f"{form.__name__}.{name}": field
    for form in all_forms()
    for name, field in form.base_fields.items()
}
BAD = ("", "x", "9" * 30, "-99999", "2026-02-31", "y" * 5000)


@pytest.mark.django_db
@pytest.mark.parametrize("name", FIELDS)
def test_what_a_box_refuses_it_refuses_in_plain_words(name):
    field = FIELDS[name]
    refused = [refusal_of(field, value) for value in BAD]
    assert [said for said in refused if FRAMEWORK.search(said)] == []


def refusal_of(field, value):
    try:
        field.clean([value] if isinstance(field, forms.MultipleChoiceField) else value)
    except ValidationError as refusal:
        return " ".join(refusal.messages)
    return ""


def test_each_button_names_its_act():
    templates = Path(settings.BASE_DIR) / "templates"
    bare = re.compile(r"<button[^>]*>\s*(Save|Submit|OK|Send)\s*</button>")
    assert [path.name for path in templates.rglob("*.html") if bare.search(path.read_text())] == []


@pytest.mark.parametrize(
    ("act", "word"),
    [
        ("snooze", "Put it off"),
        ("waive", "Give it up"),
        ("settle", "It is handled"),
        ("attempt", "Note the call"),
    ],
)
def test_four_acts_on_a_promise_have_four_words(dispatcher_client, act, word):
    promise = make.make_follow_up()
    page = dispatcher_client.get(reverse(f"follow-up-{act}", args=[promise.pk]))
    assert f">{word}</button>" in page.content.decode()


def test_a_customers_page_names_letters_as_people_do(dispatcher_client):
    mail = customer_mail()
    page = dispatcher_client.get(reverse("customer-detail", args=[mail.customer_id]))
    assert "Visit confirmation" in page.content.decode()
    assert "visit_confirmation" not in page.content.decode()
    assert OutboxMail.objects.get().created_at == NOW


@pytest.mark.parametrize(("planned", "word"), [(True, "Why"), (False, "Customer says")])
def test_a_reason_of_ours_is_no_word_of_the_customer(dispatcher_client, planned, word):
    job = make.make_job(symptom="the oxidant was set at the start-up", planned=planned)
    visit = make.make_visit(job=job)
    page = dispatcher_client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    assert f"<dt>{word}</dt>" in page
