"""What is charged: said at the end of a visit, entered by the office, read by cause."""

import csv
from datetime import timedelta
from io import BytesIO, StringIO

import openpyxl
import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse

from jobs.models import Company, Job, LogEntry
from jobs.wording.figures import dollars
from jobs.workflows.jobs import cancel_job
from tests.acts import called_back, opened, visited, worked
from tests.conftest import NOW, signed_in
from tests.factories import make_customer, make_job, make_site, make_staff, make_train, make_visit
from tests.forms import filled
from tests.migrating import migrated

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
LEFT = {"outcome": "completed", "feeder_left": "none", "bypass_left": "none"}


@pytest.fixture
def lead(db):
    return make_staff("technician")


@pytest.fixture
def system(db):
    return make_train(site=make_site(customer=make_customer()))


def done(clock, *, on=NOW, street="", **left):
    """A service that a technician went to and ended."""
    lead = make_staff("technician")
    site = make_site(customer=make_customer(), street=street or "1 Alder Row")
    visit = make_visit(job=make_job(site=site, kind=Job.Kind.SERVICE), lead=lead, starts_at=on)
    clock(on + timedelta(hours=1))
    client = signed_in(lead)
    sent = filled(client, "visit-close", visit.pk) | LEFT | left
    answer = client.post(reverse("visit-close", args=[visit.pk]), sent)
    assert answer.status_code == 302, answer.context["form"].errors
    return Job.objects.get(pk=visit.job_id)


def charge(client, job, **typed):
    sent = filled(client, "job-charge", job.pk) | typed
    return client.post(reverse("job-charge", args=[job.pk]), sent)


def listed(client, **asked):
    answer = client.get(reverse("charges"), asked)
    return answer.context["lines"], " ".join(answer.content.decode().split())


def given(client, **asked):
    rows = client.get(reverse("charges"), asked).context["not_charged"]
    return {row.name: (row.warranty, row.goodwill, row.cents, row.unpriced) for row in rows}


# --- at the end of the visit ------------------------------------------------------------------


def test_what_is_done_stands_unbilled_until_its_invoice_is_entered(clock, dispatcher_client):
    job = done(clock)
    lines, text = listed(dispatcher_client)
    assert [line.job for line in lines] == [job]
    assert "1 job done and not billed" in text
    assert reverse("job-charge", args=[job.pk]) in text
    answer = charge(dispatcher_client, job, amount="185.50", invoice_ref="2026-0412")
    assert answer.status_code == 302
    lines, text = listed(dispatcher_client)
    assert lines == []
    assert "Everything that is done is billed" in text
    job.refresh_from_db()
    assert (job.cost_cents, job.invoice_ref) == (18550, "2026-0412")


def test_a_visit_that_goes_on_is_not_done(clock, dispatcher_client):
    done(clock, outcome="incomplete_time")
    assert listed(dispatcher_client)[0] == []


def test_the_technician_says_that_it_is_warranty(clock, dispatcher_client):
    job = done(clock, charge_kind="warranty")
    assert job.charge_kind == "warranty"
    assert listed(dispatcher_client)[0] == []
    entry = LogEntry.objects.get(verb="charged")
    assert (entry.subject_id, entry.data["charge"]) == (job.pk, "warranty")


def test_what_was_not_changed_at_the_end_is_as_it_was_and_not_logged(clock):
    job = done(clock)
    assert job.charge_kind == "billable"
    assert not LogEntry.objects.filter(verb="charged").exists()


# --- what may be entered ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("typed", "field", "said"),
    [
        ({"charge_kind": "goodwill"}, "charge_note", "Say why nothing is charged."),
        ({"charge_kind": "warranty"}, "charge_note", "Say why nothing is charged."),
        (
            {"charge_kind": "warranty", "charge_note": "Seal", "invoice_ref": "7"},
            "invoice_ref",
            "What is not charged stands on no invoice.",
        ),
        ({"charge_note": "Why"}, "charge_note", "there is nothing to explain"),
        ({"invoice_ref": "7"}, "amount", "Say how much stands on the invoice."),
        ({"amount": "-1"}, "amount", "At least 0"),
        ({"amount": "100000.01"}, "amount", "At most"),
        ({"amount": "1.005"}, "amount", "2"),
        ({"amount": "much"}, "amount", "number"),
        ({"charge_kind": "gift"}, "charge_kind", "Choose one"),
        ({"invoice_ref": "x" * 41, "amount": "1"}, "invoice_ref", "40"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(clock, dispatcher_client, typed, field, said):
    job = done(clock)
    answer = charge(dispatcher_client, job, **typed)
    assert answer.status_code == 422
    assert said in " ".join(answer.context["form"].errors[field])
    for name, value in typed.items():
        assert value in answer.content.decode() or name == "charge_kind"
    kept = Job.objects.get(pk=job.pk)
    assert (kept.charge_kind, kept.cost_cents, kept.invoice_ref) == ("billable", None, "")


def test_an_amount_is_kept_to_the_cent(clock, dispatcher_client):
    job = done(clock)
    charge(dispatcher_client, job, amount="0.29")
    assert Job.objects.get(pk=job.pk).cost_cents == 29
    assert [dollars(cents) for cents in (None, 0, 7, 29, 1234567)] == [
        "",
        "0.00",
        "0.07",
        "0.29",
        "12,345.67",
    ]


def test_the_second_of_two_who_save_sees_both(clock, dispatcher_client, owner_client):
    job = done(clock)
    opened = filled(owner_client, "job-charge", job.pk)
    charge(dispatcher_client, job, amount="100", invoice_ref="A-1")
    answer = owner_client.post(
        reverse("job-charge", args=[job.pk]), opened | {"amount": "90", "invoice_ref": "B-2"}
    )
    assert answer.status_code == 409
    assert ("Reference of the invoice", "B-2", "A-1") in answer.context["differences"]
    assert Job.objects.get(pk=job.pk).invoice_ref == "A-1"


def test_a_wrong_invoice_is_taken_back_and_both_are_readable(
    clock, dispatcher_client, owner_client
):
    job = done(clock)
    charge(dispatcher_client, job, amount="100", invoice_ref="A-1")
    charge(dispatcher_client, job, amount="100", invoice_ref="")
    assert [line.job for line in listed(dispatcher_client)[0]] == [job]
    asked = {"subject": "work", "house": job.site_id}
    text = owner_client.get(reverse("who-changed"), asked).content.decode()
    assert "Reference of the invoice: A-1 &rarr; empty" in text
    assert "Reference of the invoice: empty &rarr; A-1" in text


def test_a_cancelled_job_is_charged_nothing(clock, dispatcher_client):
    job = make_job()
    cancel_job(job=job, reason="Sold the house", by=job.opened_by, now=NOW)
    answer = charge(dispatcher_client, job, amount="10")
    assert answer.status_code == 422
    assert "was cancelled" in answer.content.decode()


def test_no_row_has_an_invoice_and_is_not_charged(db):
    job = make_job()
    with pytest.raises(IntegrityError), transaction.atomic():
        Job.objects.filter(pk=job.pk).update(charge_kind="warranty", invoice_ref="7")


# --- lists ------------------------------------------------------------------------------------


def test_the_oldest_is_on_top_and_red_after_three_days(clock, dispatcher_client):
    done(clock, on=NOW - timedelta(days=1), street="New")
    done(clock, on=NOW - timedelta(days=4), street="Old")
    clock(NOW)
    lines, _ = listed(dispatcher_client)
    assert [(line.job.site.street, line.days, line.is_late) for line in lines] == [
        ("Old", 4, True),
        ("New", 1, False),
    ]


def test_work_before_references_were_kept_is_not_said_to_be_unbilled(
    clock, dispatcher_client, owner_client
):
    done(clock, on=NOW - timedelta(days=9), street="Before")
    done(clock, on=NOW - timedelta(days=2), street="Since")
    clock(NOW)
    first = (NOW - timedelta(days=5)).date().isoformat()
    sent = filled(owner_client, "company") | {"billed_from": first}
    assert owner_client.post(reverse("company"), sent).status_code == 302
    lines, _ = listed(dispatcher_client)
    assert [line.job.site.street for line in lines] == ["Since"]


def test_what_was_not_charged_is_counted_by_cause_with_what_it_would_have_come_to(
    clock, dispatcher_client, system, lead
):
    origin = worked(system, lead, at=NOW - 9 * DAY)
    leaks = [
        visited(called_back(origin, at=NOW - 3 * DAY), lead, at=NOW - 3 * DAY, cause="A_leak"),
        visited(called_back(origin, at=NOW - 2 * DAY), lead, at=NOW - 2 * DAY, cause="A_leak"),
    ]
    charge(dispatcher_client, leaks[0], charge_note="Our joint", amount="80")
    charge(dispatcher_client, leaks[1], charge_kind="warranty", charge_note="Seal")
    other = done(clock)
    charge(dispatcher_client, other, charge_kind="goodwill", charge_note="A neighbour", amount="5")
    found = given(dispatcher_client)
    (leak,) = [name for name in found if name.startswith("leak at a joint")]
    assert found == {leak: (1, 1, 8000, 1), "other work": (0, 1, 500, 0)}
    before = {"since": "2025-01-01", "until": "2025-02-01"}
    assert given(dispatcher_client, **before) == {}


def test_a_callback_without_a_cause_and_planned_work_have_lines_of_their_own(
    clock, dispatcher_client, system, lead
):
    origin = worked(system, lead, at=NOW - 9 * DAY)
    unsure = called_back(origin, at=NOW - 3 * DAY, answer=Job.CallbackAnswer.NOT_SURE)
    visited(unsure, lead, at=NOW - 3 * DAY)
    promised = opened(system, Job.Kind.RECHECK, at=NOW - DAY, planned=True)
    visited(promised, lead, at=NOW - DAY)
    assert given(dispatcher_client) == {
        "callback, cause not entered yet": (0, 1, 0, 1),
        "planned visit, part of earlier work": (0, 1, 0, 1),
    }


def test_files_hold_the_same(clock, dispatcher_client):
    job = done(clock)
    charge(dispatcher_client, job, amount="12.5")
    gift = done(clock)
    charge(dispatcher_client, gift, charge_kind="goodwill", charge_note="A gift", amount="3")
    answer = dispatcher_client.get(reverse("charges-file"))
    (row,) = csv.DictReader(StringIO(answer.content.decode("utf-8-sig")))
    assert (row["Job"], row["Amount, dollars"]) == (str(job.pk), "12.50")
    book = openpyxl.load_workbook(
        BytesIO(dispatcher_client.get(reverse("charges-file"), {"as": "xlsx"}).content)
    )
    assert book.sheetnames == ["Done and not billed", "Not charged"]
    assert list(book["Not charged"].values)[1][:4] == ("other work", 0, 1, "3.00")
    assert dispatcher_client.get(reverse("charges-file"), {"as": "doc"}).status_code == 400
    assert dispatcher_client.get(reverse("charges"), {"since": "x"}).status_code == 422


def test_a_technician_reads_no_amounts(clock, technician_client, dispatcher_client):
    job = done(clock)
    for name, args in (("charges", []), ("charges-file", []), ("job-charge", [job.pk])):
        assert technician_client.get(reverse(name, args=args)).status_code == 403
    charge(dispatcher_client, job, amount="185.50", invoice_ref="2026-0412")
    visit = job.visits.get()
    page = reverse("visit-detail", args=[visit.pk])
    assert "185.50" in dispatcher_client.get(page).content.decode()
    assert "185.50" not in signed_in(visit.lead).get(page).content.decode()


def test_a_full_list_asks_little(clock, dispatcher_client, django_assert_max_num_queries):
    for _ in range(12):
        done(clock)
    dispatcher_client.get(reverse("charges"))
    with django_assert_max_num_queries(12):
        dispatcher_client.get(reverse("charges"))


@pytest.mark.long
@pytest.mark.django_db(transaction=True)
def test_with_work_in_flight_references_are_kept_from_that_day_on(clock):
    done(clock)
    Company.load()
    with migrated("jobs", "0077_log_of_entries"):
        pass
    assert Company.load().billed_from is not None
