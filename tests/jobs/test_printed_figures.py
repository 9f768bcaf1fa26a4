"""What the page that prints a record says of worked-out figures, read as a person reads it."""

import html
import math
import re

import pytest
from django.urls import reverse

from jobs.wording.figures import hour_of_day, household
from tests.jobs.test_records import close
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db


@pytest.fixture
def text(dispatcher_client):
    """All answers and figures of a start-up that somebody closed."""
    minutes = {"wash-minutes": "12", "rinse-minutes": "6", "clear-minutes": "10"}
    record, visit, lead = make_ready(answers=minutes)
    close(record, visit, lead)
    page = dispatcher_client.get(reverse("record-print", args=[record.pk])).content.decode()
    words = html.unescape(re.sub(r"<[^>]+>", " ", page))
    return re.sub(r"\s+", " ", words.replace("\u202f", "")).replace(" , ", ", ")


def figure(text, label, unit):
    found = re.search(rf"{re.escape(label)} ([\d.,]+) {re.escape(unit)}", text)
    assert found, f"{label} in {unit} is not printed: {text[-3000:]}"
    return float(found[1].replace(",", ""))


def test_the_output_of_the_dosing_pump_is_what_the_cylinder_lost(text):
    """26 mL in 180 s at 20 percent; 3785.41 mL in a gallon, 1440 min in a day."""
    full = 26 / 180 * 60 / 0.20 * 1440 / 3785.41
    shown = figure(text, "Output of the dosing pump at 100 percent", "gpd")
    assert shown == pytest.approx(full, rel=5e-3)


def test_the_demand_is_the_sum_of_the_reactions(text):
    """Fe: half a mole of H2O2, H2S: one mole (molar masses of the IUPAC table, from memory)."""
    peroxide, iron, sulfide = 34.0147, 55.845, 34.081
    of_iron, of_sulfide = 3 * peroxide / (2 * iron), 2 * peroxide / sulfide
    title = "Oxidant this water asks for"
    assert figure(text, f"{title}: of iron", "mg/L") == pytest.approx(of_iron, rel=5e-3)
    assert figure(text, f"{title}: of sulfide", "mg/L") == pytest.approx(of_sulfide, rel=5e-3)
    total = of_iron + of_sulfide
    assert figure(text, f"{title}: demand", "mg/L") == pytest.approx(total, rel=5e-3)


def test_the_dose_is_feed_times_strength_over_flow(text):
    """26 mL in 180 s of 71.6 g/L into 8 gpm."""
    dose = 26 / 3 * 71.6 / (8 * 3.78541)
    assert figure(text, "Dose at this setting", "mg/L") == pytest.approx(dose, rel=5e-3)


def test_the_retention_tank_is_volume_over_flow_times_its_factor(text):
    """120 gal at 8 gpm, baffling factor 0.3."""
    assert figure(text, "Time in the contact tank: volume over flow", "min") == 15.0
    assert figure(text, "Time in the contact tank", "min") == 4.5


def test_the_bed_and_its_wash_say_of_which_tank_they_are(text):
    """30 in of media in a 10 in tank; 12 minutes of wash and 6 of rinse at the 7 gpm read."""
    volume = math.pi / 4 * 10**2 * 30 / 1728
    part = "backwashing filter"
    assert figure(text, f"Time in the bed: media, {part}", "ft³") == pytest.approx(volume, rel=5e-3)
    wash = "Flow this bed needs to backwash"
    assert figure(text, f"{wash}, {part}", "gpm") <= 7
    assert figure(text, f"{wash}: not above, {part}", "gpm") >= 7
    cycle = "Water for one backwash"
    assert figure(text, f"{cycle}, {part}", "gal") == pytest.approx(18 * 7, rel=5e-3)
    assert figure(text, f"{cycle}: it runs for, {part}", "min") == 18
    assert figure(text, f"{cycle}: flow counted for the water, {part}", "gpm") == 7


def test_no_figure_stands_under_the_name_of_another(text):
    """Days are days: the load of a bed is not its interval."""
    assert figure(text, "Days between backwashes, backwashing filter", "days") < 8
    assert "Days between backwashes: load in a day, backwashing filter" in text


@pytest.mark.parametrize(
    ("figure", "read"),
    [
        ("1296 gal", "1,296 gal"),
        ("12\u202f960.5 gal", "12,960.5 gal"),
        ("0.0644 gal", "0.0644 gal"),
        ("64.2 grain", "64.2 grains"),
        ("18 gpg", "18 grains per gallon"),
    ],
)
def test_a_customer_reads_commas_and_whole_words(figure, read):
    """As households write them in the United States: common practice, no source."""
    assert household(figure) == read


@pytest.mark.parametrize(
    ("hour", "read"), [(0, "midnight"), (2, "2 am"), (11, "11 am"), (12, "noon"), (23, "11 pm")]
)
def test_an_hour_of_a_controller_is_read_by_am_and_pm(hour, read):
    assert hour_of_day(hour) == read
