"""Which houses have a part, a lot or a serial number, and which had it."""

import csv
from datetime import date, timedelta
from io import BytesIO, StringIO

import openpyxl
import pytest
from django.urls import reverse

from equipment.models import Stage
from jobs.models import Job, LogEntry
from jobs.wording.marks import lies_between, mark_key
from jobs.workflows.strips import Strips, take_strips
from tests import factories as make
from tests.acts import booked, opened, visited
from tests.conftest import NOW, signed_in
from tests.forms import filled

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _at_noon(clock):
    clock(NOW)


@pytest.fixture
def system():
    return make.make_train(site=make.make_site(street="4 Ferry Stage"), stages=("feeder", "filter"))


def asked(client, **words):
    """The lines of the page, and its text."""
    answer = client.get(reverse("part-list"), words)
    assert answer.status_code == 200
    return answer.context.get("lines"), " ".join(answer.content.decode().split())


def said(lines):
    return [(line.site.street, line.lot, line.serial, line.state) for line in lines]


def fitted(client, train, kind=Stage.Kind.CARTRIDGE, **typed):
    """A part that somebody enters at the house."""
    address = f"{reverse('stage-new', args=[train.pk])}?kind={kind}"
    page = client.get(address).context["form"]
    sent = {field.html_name: field.value() for field in page if field.value() not in (None, False)}
    answer = client.post(address, sent | typed)
    assert answer.status_code == 302, answer.context["form"].errors
    return Stage.objects.latest("pk")


def marked(client, stage, **typed):
    sent = filled(client, "stage-marks", stage) | typed
    return client.post(reverse("stage-marks", args=[stage.pk]), sent)


def replaced(client, stage, **typed):
    sent = filled(client, "stage-replace", stage) | typed
    assert client.post(reverse("stage-replace", args=[stage.pk]), sent).status_code == 302
    return Stage.objects.latest("pk")


def poured(client, stage, lot):
    sent = filled(client, "fill-new", stage) | {
        "lot": lot,
        "product_gal": "2",
        "filled_by": "company",
    }
    answer = client.post(reverse("fill-new", args=[stage.pk]), sent)
    assert answer.status_code == 302, answer.context["form"].errors


# --- from the act to the list -------------------------------------------------------------------


def test_a_part_is_found_by_its_lot_and_by_a_piece_of_its_serial(dispatcher_client, system):
    fitted(dispatcher_client, system, lot="K7-0419", serial="FP-20117")
    for first in ("K7-0419", "k7-04", "20117"):
        lines, text = asked(dispatcher_client, first=first)
        assert said(lines) == [("4 Ferry Stage", "K7-0419", "FP-20117", "stands there")]
        assert "1 house, 1 piece" in text
        assert reverse("site-detail", args=[system.site_id]) in text
    assert asked(dispatcher_client, first="K8")[0] == []


def test_where_it_stood_is_found_too_and_apart(dispatcher_client, system):
    old = fitted(dispatcher_client, system, lot="K7-0419")
    replaced(dispatcher_client, old, lot="K9-1")
    (line,) = asked(dispatcher_client, first="K7-0419")[0]
    assert (line.state, line.until) == ("taken out", NOW.date())
    assert asked(dispatcher_client, first="K7-0419", stands="now")[0] == []
    assert len(asked(dispatcher_client, first="K7-0419", stands="gone")[0]) == 1
    assert [line.lot for line in asked(dispatcher_client, first="K9", stands="now")[0]] == ["K9-1"]
    assert asked(dispatcher_client, first="K9", stands="gone")[0] == []


def test_a_range_of_lots_counts_figures_as_numbers_and_takes_both_ends(dispatcher_client, system):
    for lot in ("K7-9", "K7-10", "K7-11", "K7-100", "L1"):
        fitted(dispatcher_client, system, lot=lot)
    lines, _ = asked(dispatcher_client, first="K7-9", last="k7-11")
    assert {line.lot for line in lines} == {"K7-9", "K7-10", "K7-11"}


@pytest.mark.parametrize(
    ("mark", "within"),
    [("A-2", True), ("a-10", True), ("A-1", False), ("A-11", False), ("", False), ("B-2", False)],
)
def test_what_lies_between_two_lots(mark, within):
    assert lies_between(mark, "A-2", "A-10") is within


def test_figures_and_letters_can_be_compared():
    assert sorted(["B", "10", "9", "A1"], key=mark_key) == ["9", "10", "A1", "B"]


def test_by_kind_by_the_catalog_and_by_days(dispatcher_client, system):
    feeder, bed = system.stages.order_by("position")
    new = fitted(dispatcher_client, system)
    kinds = [line.part for line in asked(dispatcher_client, what="kind:filter")[0]]
    assert kinds == [bed.pk]
    of_medium = asked(dispatcher_client, what=f"medium:{bed.medium_id}")[0]
    assert [line.part for line in of_medium] == [bed.pk]
    assert bed.medium.name in of_medium[0].what
    day = NOW.date().isoformat()
    assert [line.part for line in asked(dispatcher_client, since=day)[0]] == [new.pk]
    assert len(asked(dispatcher_client, until=day)[0]) == 3
    before = asked(dispatcher_client, until=(NOW.date() - DAY).isoformat())[0]
    assert {line.part for line in before} == {feeder.pk, bed.pk}


def test_a_fill_is_found_by_the_lot_of_its_container(dispatcher_client, system, clock):
    feeder = system.stages.get(kind="feeder")
    poured(dispatcher_client, feeder, "S-77")
    (line,) = asked(dispatcher_client, first="S-77")[0]
    assert (line.lot, line.state, line.day) == ("S-77", "filled last", NOW.date())
    assert feeder.product.name in line.what
    clock(NOW + timedelta(hours=1))
    poured(dispatcher_client, feeder, "S-78")
    (line,) = asked(dispatcher_client, first="S-77")[0]
    assert line.state == "filled again since, on top of what was left"
    assert asked(dispatcher_client, first="S-77", stands="now")[0] == []
    (gone,) = asked(dispatcher_client, first="S-7", stands="gone")[0]
    assert gone.lot == "S-77"
    assert len(asked(dispatcher_client, what=f"product:{feeder.product_id}")[0]) == 2


def test_strips_are_found_with_the_records_they_read(dispatcher_client, system):
    job = opened(system, Job.Kind.STARTUP)
    visit = booked(job, make.make_staff("technician"))
    record = make.make_record(job=job, by=visit.lead)
    strips = Strips(new_lot="T-5", expires_on=date(2027, 1, 1))
    lot = take_strips(record=record, strips=strips, by=visit.lead, now=NOW).lot
    (line,) = asked(dispatcher_client, first="T-5")[0]
    assert (line.site, line.job, line.lot) == (system.site, job.pk, "T-5")
    assert asked(dispatcher_client, what=f"strips:{lot.oxidant}")[0] == [line]
    assert asked(dispatcher_client, first="T-5", stands="now")[0] == []


def test_a_part_leads_to_the_job_of_the_visit_on_the_day_it_was_fitted(dispatcher_client, system):
    job = visited(opened(system), make.make_staff("technician"))
    fitted(dispatcher_client, system, lot="K7-0419")
    (line,) = asked(dispatcher_client, first="K7-0419")[0]
    assert (line.job, line.work) == (job.pk, "Service")
    other = make.make_train()
    fitted(dispatcher_client, other, lot="K8-1")
    assert asked(dispatcher_client, first="K8-1")[0][0].job is None


def test_houses_are_counted_once(dispatcher_client, system):
    for _ in range(2):
        fitted(dispatcher_client, system, lot="K7")
    lines, text = asked(dispatcher_client, first="K7")
    assert len(lines) == 2
    assert "1 house, 2 pieces" in text


# --- what is asked ------------------------------------------------------------------------------


def test_nothing_asked_finds_nothing(dispatcher_client, system):
    assert asked(dispatcher_client)[0] is None
    assert asked(dispatcher_client, stands="now")[0] is None


@pytest.mark.parametrize(
    ("words", "field", "error"),
    [
        ({"what": "kind:engine"}, "what", "Choose"),
        ({"last": "K7"}, "first", "Say where the range begins."),
        ({"since": "2026-02-02", "until": "2026-02-01"}, "since", "must not be later"),
        ({"first": "x" * 61}, "first", "60"),
    ],
)
def test_what_cannot_be_asked_is_said_at_its_field(dispatcher_client, words, field, error):
    answer = dispatcher_client.get(reverse("part-list"), words)
    assert answer.status_code == 422
    assert error in " ".join(answer.context["form"].errors[field])
    assert dispatcher_client.get(reverse("part-file"), words).status_code == 400


def test_files_hold_the_same(dispatcher_client, system):
    fitted(dispatcher_client, system, lot="=K7", serial="FP-1")
    words = {"first": "K7"}
    answer = dispatcher_client.get(reverse("part-file"), words)
    (row,) = csv.DictReader(StringIO(answer.content.decode("utf-8-sig")))
    assert (row["Lot"], row["Serial number"], row["State"]) == ("'=K7", "FP-1", "stands there")
    book = dispatcher_client.get(reverse("part-file"), words | {"as": "xlsx"})
    sheet = openpyxl.load_workbook(BytesIO(book.content)).active
    assert [cell.value for cell in sheet[2]][4].date() == NOW.date()
    assert dispatcher_client.get(reverse("part-file"), words | {"as": "doc"}).status_code == 400
    assert dispatcher_client.get(reverse("part-file")).status_code == 400


@pytest.mark.parametrize("rows", [3, 60])
def test_the_list_asks_as_often_however_long_it_is(
    dispatcher_client, system, rows, django_assert_max_num_queries
):
    feeder = system.stages.get(kind="feeder")
    for number in range(rows):
        make.make_stage(train=make.make_train(site=system.site), kind="uv", lot=f"K7-{number}")
        make.make_fill(stage=feeder, lot=f"K7-{number}", at=NOW - number * DAY)
    with django_assert_max_num_queries(12):
        asked(dispatcher_client, first="K7")


# --- what stands on the plate -------------------------------------------------------------------


def test_the_lot_is_written_later_by_whoever_reads_it(technician_client, dispatcher_client, system):
    bed = system.stages.get(kind="filter")
    assert marked(dispatcher_client, bed, lot=" M-3 ", serial="77").status_code == 302
    bed.refresh_from_db()
    assert (bed.lot, bed.serial) == ("M-3", "77")
    assert LogEntry.objects.get(verb="marked").subject_id == bed.pk
    assert len(asked(dispatcher_client, first="M-3")[0]) == 1
    page = dispatcher_client.get(reverse("site-detail", args=[system.site_id])).content.decode()
    assert "<code>M-3</code>" in page
    assert marked(dispatcher_client, bed, lot="M-3").status_code == 302
    assert LogEntry.objects.filter(verb="marked").count() == 1


def test_the_lot_of_a_part_that_is_gone_can_still_be_written(dispatcher_client, system):
    old = fitted(dispatcher_client, system)
    replaced(dispatcher_client, old)
    assert marked(dispatcher_client, old, lot="K7-0419").status_code == 302
    assert [line.part for line in asked(dispatcher_client, first="K7")[0]] == [old.pk]


def test_the_second_of_two_who_read_the_plate_sees_both(dispatcher_client, owner_client, system):
    bed = system.stages.get(kind="filter")
    seen = filled(owner_client, "stage-marks", bed)
    marked(dispatcher_client, bed, lot="M-3")
    answer = owner_client.post(reverse("stage-marks", args=[bed.pk]), seen | {"lot": "M-8"})
    assert answer.status_code == 409
    assert ("Lot or batch", "M-8", "M-3") in answer.context["differences"]
    again = {field.html_name: field.value() or "" for field in answer.context["form"]}
    assert owner_client.post(reverse("stage-marks", args=[bed.pk]), again).status_code == 302
    bed.refresh_from_db()
    assert bed.lot == "M-8"


def test_a_technician_writes_the_lot_at_own_houses_and_searches_no_others(system):
    lead = make.make_staff("technician")
    client, bed = signed_in(lead), system.stages.get(kind="filter")
    assert client.get(reverse("stage-marks", args=[bed.pk])).status_code == 404
    make.make_visit(job=make.make_job(train=system), lead=lead)
    assert marked(client, bed, lot="M-3").status_code == 302
    assert client.get(reverse("part-list"), {"first": "M"}).status_code == 403
    assert client.get(reverse("part-file"), {"first": "M"}).status_code == 403


def test_a_replaced_part_does_not_inherit_the_lot(dispatcher_client, system):
    old = fitted(dispatcher_client, system, lot="K7-0419", serial="1")
    new = replaced(dispatcher_client, old)
    assert (new.lot, new.serial) == ("", "")
    assert new.fitted_on == date(NOW.year, NOW.month, NOW.day)
