"""Boxes of a record as a technician posts them, and the sheet that the office reads."""

import re

import pytest
from django.urls import reverse

from jobs.models import Answer, ChecklistRecord
from tests.conftest import signed_in
from tests.record_scenes import make_house

pytestmark = pytest.mark.django_db
KEY = "peroxide-retention"


@pytest.fixture
def sent():
    record, _, lead = make_house()
    client = signed_in(lead)

    def send(text, key=KEY, unit="mg/L", **more):
        posted = {key: text, f"{key}~unit": unit}
        posted |= {f"{key}~{name}": value for name, value in more.items()}
        return client.post(reverse("record-block", args=[record.pk, "baseline"]), posted)

    return send


@pytest.fixture
def sheet(dispatcher_client):
    """The figure as it stands on the printed record."""

    def printed():
        record = ChecklistRecord.objects.get()
        page = dispatcher_client.get(reverse("record-print", args=[record.pk])).content.decode()
        lines = [re.sub(r"\s+", " ", re.sub("<[^>]+>", " ", row)) for row in page.split("</tr>")]
        return next(line for line in lines if "contact tank" in line and "Peroxide" in line)

    return printed


@pytest.mark.parametrize("factor", ["0", "0.5", "-2", "10001", "ten"])
def test_a_dilution_is_one_to_ten_thousand(sent, factor):
    answer = sent("8", dilution=factor)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "the dilution factor is 1 to 10000" in page
    assert f'value="{factor}"' in page
    assert not Answer.objects.filter(line_key=KEY).exists()


@pytest.mark.parametrize(
    ("text", "factor", "said"),
    [("8", "1", "8 mg/L"), ("8", "2,5", "8 mg/L x 2.5"), ("0.05", "10000", "0.05 mg/L x 10,000")],
)
def test_a_diluted_reading_is_read_with_its_factor(sent, sheet, text, factor, said):
    assert sent(text, dilution=factor).status_code == 302
    assert said in sheet()


def test_another_dilution_or_unit_of_the_same_figure_is_another_answer(sent, sheet):
    sent("8")
    sent("8", dilution="5", version="1")
    assert "8 mg/L x 5" in sheet()
    sent("8", version="2")
    assert "x 5" not in sheet()


def test_the_same_figure_in_another_unit_is_another_answer_and_stays_in_a_refused_box(sent):
    sent("10", "tap-hardness", "gpg")
    sent("10", "tap-hardness", "mg/L", version="1")
    assert Answer.objects.get(line_key="tap-hardness").unit == "mg/L"
    page = sent("much", "tap-hardness", "gpg", version="2").content.decode()
    box = page.split('name="tap-hardness~unit"')[1].split("</select>")[0]
    assert re.search(r"<option[^>]* selected[^>]*>([^<]+)", box)[1].strip() == "gpg"


def test_an_emptied_box_takes_the_answer_back(sent):
    sent("8")
    sent("", version="1")
    assert Answer.objects.get(line_key=KEY).text == ""


def test_the_box_of_another_phone_is_not_overwritten(sent):
    sent("8")
    sent("9", version="1")
    answer = sent("7", version="1")
    assert answer.status_code == 422
    assert Answer.objects.get(line_key=KEY).text == "9"


def test_a_warning_is_confirmed_by_the_tick_alone(sent):
    sent("800")
    row = Answer.objects.get(line_key=KEY)
    assert row.warning
    sent("800", version="1")
    row.refresh_from_db()
    assert row.warning_confirmed_at is None
    sent("800", version="1", sure="1")
    row.refresh_from_db()
    assert row.warning_confirmed_at is not None
