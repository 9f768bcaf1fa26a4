"""Who does the hard waters is not shown as the worse one: the page of a company made for that."""

import re

import pytest
from django.urls import reverse

from tests.jobs.paradox import build
from tests.jobs.random_company import TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.long]


def test_the_page_does_not_call_the_better_one_the_worse(owner_client, monkeypatch):
    """Expected of each from the other (by hand): 40 x 2/10 + 10 x 2/40 = 8.5; 10 x 6/40 = 1.5."""
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: TODAY)
    people = build()
    page = owner_client.get(reverse("callbacks"))
    fair, report = page.context["fair"], page.context["report"]
    crude = {
        person.name: person.counts.callbacks / person.counts.judgeable for person in report.people
    }
    assert crude == {"Tarn, Abel": 0.12, "Wick, Bela": 0.08}, "crude, Abel looks worse"
    assert [(row.person.name, row.person.counts.callbacks, row.expected) for row in fair.rows] == [
        ("Tarn, Abel", 6, "8.5"),
        ("Wick, Bela", 4, "1.5"),
    ]
    assert fair.headline.startswith("Too few jobs to tell.")
    assert not fair.named
    text = re.sub(r"<[^>]+>", " ", page.content.decode())
    above = text[: text.index("Each installer beside the others")]
    for who in people.values():
        assert who.last_name not in above, "nobody is named before the table"
    for words in ("12 %", "12.0 %", "8 %", "worst", "best installer", "rank 1"):
        assert words not in text
    assert text.index("Tarn, Abel") < text.index("Wick, Bela")
