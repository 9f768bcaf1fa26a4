"""Files that leave the program: no cell is taken for a formula, numbers stay numbers.

Source of the dangerous beginnings: OWASP, "CSV Injection" (community page): = + - @, tab and
carriage return; NUL is added because some readers drop it.
"""

import csv
import io
from datetime import date

import openpyxl
import pytest
from django.urls import reverse

from jobs.models import Job
from jobs.reports.tables import as_csv, as_xlsx, safe_cell, table
from tests.factories import make_job, make_site, make_staff, make_train
from tests.jobs.random_company import TODAY, build_company

DANGEROUS = ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", "\x00=1", '=HYPERLINK("x")', "-", "="]


@pytest.mark.parametrize("text", DANGEROUS)
def test_text_that_looks_like_a_formula_gets_a_quote_before(text):
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize("value", [0, -5, 3.25, -0.5, date(2026, 1, 2)])
def test_numbers_and_days_stay_what_they_are(value):
    assert safe_cell(value) is value


@pytest.mark.parametrize("text", ["Old Mill Road", "1 = 2", "a+b", "'quoted", ""])
def test_other_text_is_left_alone(text):
    assert safe_cell(text) == text


def test_nothing_and_yes_are_written_out():
    assert (safe_cell(None), safe_cell(True), safe_cell(False)) == ("", "yes", "no")


def _read_csv(content):
    return list(csv.reader(io.StringIO(content.decode("utf-8-sig"), newline="")))


@pytest.mark.parametrize("text", DANGEROUS)
def test_no_cell_of_a_csv_begins_a_formula(text):
    rows = _read_csv(as_csv(table("T", (text, "n"), [(text, -5), ("plain", 2)])))
    assert rows[0][0].startswith("'")
    assert rows[1][0].startswith("'")
    assert rows[1][1] == "-5"


@pytest.mark.parametrize("text", DANGEROUS)
def test_no_cell_of_a_workbook_is_a_formula(text):
    book = openpyxl.load_workbook(io.BytesIO(as_xlsx([table("T", ("a", "n"), [(text, -5.5)])])))
    first, number = book["T"][2]
    assert first.data_type == "s"
    assert first.value.startswith("'")
    assert (number.data_type, number.value) == ("n", -5.5)


def _address(name, **words):
    return reverse(name) + "?" + "&".join(f"{key}={value}" for key, value in words.items())


PERIOD = {"since": "2025-01-01", "until": TODAY.isoformat(), "window": 90}


@pytest.fixture
def at_today(monkeypatch):
    """The pages look at the company's past as of its last day."""
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: TODAY)


@pytest.mark.django_db
def test_people_of_a_workbook_are_those_of_the_page(owner_client, at_today):
    build_company(7, houses=5, jobs=14)
    answer = owner_client.get(_address("callbacks-export", **PERIOD, **{"as": "xlsx"}))
    sheet = openpyxl.load_workbook(io.BytesIO(answer.content))["People"]
    page = owner_client.get(_address("callbacks", **PERIOD)).context["report"]
    headers = [cell.value for cell in sheet[2]]
    rows = [dict(zip(headers, [c.value for c in row], strict=True)) for row in sheet.iter_rows(3)]
    assert [row["Lead installer"] for row in rows] == [person.name for person in page.people]
    for row, person in zip(rows, page.people, strict=True):
        assert row["Judgeable"] == person.counts.judgeable
        assert row["Callbacks"] == person.counts.callbacks
        rate = person.counts.rate
        assert row["Rate"] == (pytest.approx(rate.value, abs=1e-4) if rate else None)


@pytest.mark.django_db
def test_jobs_of_a_csv_are_the_jobs_behind_the_number(owner_client, at_today):
    build_company(3, houses=5, jobs=14)
    page = owner_client.get(_address("callbacks", **PERIOD)).context["report"]
    words = {**PERIOD, "of": "jobs", "what": "callbacks", "as": "csv"}
    rows = _read_csv(owner_client.get(_address("callbacks-export", **words)).content)
    assert len(rows) - 2 == page.total.callbacks


@pytest.mark.django_db
def test_what_a_customer_said_is_no_formula(owner_client, at_today):
    installer = make_staff("technician")
    day = date(2026, 1, 10)
    train = make_train(site=make_site(street="=Main Street"))
    origin = make_job(
        train=train, kind=Job.Kind.STARTUP, status="completed", index_on=day, installer=installer
    )
    make_job(
        train=train,
        origin=origin,
        callback_answer="yes",
        reported_on=day,
        cause="A_leak",
        symptom="=cmd|'/c calc'!A1",
    )
    words = {**PERIOD, "of": "jobs", "as": "csv"}
    rows = _read_csv(owner_client.get(_address("callbacks-export", **words)).content)
    assert rows[2][2] == "'=Main Street"
    assert rows[2][-1] == "'=cmd|'/c calc'!A1"


@pytest.mark.django_db
@pytest.mark.parametrize("words", [{"as": "pdf"}, {"what": "everything"}, {"installer": "x"}])
def test_an_unknown_file_is_refused(owner_client, words):
    assert owner_client.get(_address("callbacks-export", **words)).status_code == 400
