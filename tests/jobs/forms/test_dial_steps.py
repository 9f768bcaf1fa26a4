"""What a technician types on the page of the dial-back, and what the step then holds."""

import pytest
from django.urls import reverse

from jobs.records.loading import load_sheet
from tests.conftest import NOW, signed_in
from tests.record_scenes import answer_all, make_house

pytestmark = pytest.mark.django_db


@pytest.fixture
def read(clock):
    """Set at 20 percent, read four hours later with what is typed; the step, and its sheet."""
    record, _, lead = make_house()
    answer_all(record, lead, without=("steps",))
    client = signed_in(lead)
    client.post(reverse("record-step", args=[record.pk]), {"setting_percent": "20"})

    def typed(**boxes):
        clock(NOW.replace(hour=NOW.hour + 4))
        path = reverse("record-step-read", args=[record.pk, 1])
        assert client.post(path, {"look": "clear", **boxes}).status_code == 302
        return record.steps.get(), load_sheet(record, now=NOW.replace(hour=NOW.hour + 4))

    return typed


@pytest.mark.parametrize(
    ("boxes", "residual"),
    [
        ({"band": "5-10"}, (5, 10)),
        ({"band": ">100"}, (100, None)),
        ({"meter": "12"}, (12, 12)),
        ({"band": "5-10", "meter": "7.5"}, (7.5, 7.5)),
    ],
)
def test_a_strip_says_from_pad_to_pad_and_a_meter_one_figure(read, boxes, residual):
    step, _ = read(**boxes)
    assert (step.residual_low_mg_l, step.residual_high_mg_l) == residual


@pytest.mark.parametrize(("said", "kept", "stays"), [("yes", True, True), ("no", False, False)])
def test_iron_seen_at_the_tap_keeps_no_setting(read, said, kept, stays):
    step, sheet = read(band="5-10", iron_clear=said, odour_clear="yes")
    assert step.iron_clear is kept
    assert bool(sheet.advice.value("stop")) is stays
