"""A spring, a cistern, a well of two diameters: what is asked, and the chlorine that follows."""

import pytest
from django.urls import reverse

from equipment.models import Measurement
from jobs.records.loading import load_sheet
from tests.conftest import NOW, signed_in
from tests.factories import make_measurement, make_site, make_train, make_well
from tests.record_scenes import make_house

pytestmark = pytest.mark.django_db

#: a litre in a gallon, a gallon in a cubic foot, fluid ounces in a gallon (NIST Handbook 44)
LITRES, CUBIC_FOOT, OUNCES = 3.785412, 7.480519, 128


@pytest.fixture
def house():
    """Nothing in the house is in line, and the water has no demand of its own."""

    def made(kind, purpose="disinfect"):
        site = make_site()
        well = make_well(site=site, kind=kind)
        train = make_train(site=site, well=well, stages=())
        record, visit, lead = make_house(purpose=purpose, kind=purpose, train=train)
        return record, well, signed_in(lead)

    return made


def page(record, block):
    return reverse("record-block", args=[record.pk, block])


def save(client, record, block, **typed):
    return client.post(page(record, block), {**typed, "stay": "1"})


def chlorinate(client, record):
    save(client, record, "disinfect", **{"disinfect-scope": "here"})
    liquid = {"chlorine-product": "liquid", "chlorine-strength": "5.25"}
    save(client, record, "disinfect", **liquid)
    save(client, record, "disinfect", **{"chlorine-basis": "trade"})


def product_needed(record, gallons):
    """Target mg/L in so much water, of 52.5 g/L."""
    target = load_sheet(record, now=NOW).company["shock_target_mg_l"]
    return gallons * LITRES * target / 1000 / 52.5 / LITRES * OUNCES


def shown(record, name, key):
    return load_sheet(record, now=NOW).outcomes.of(name).value(key)


def test_a_spring_is_asked_for_its_box_and_never_for_a_casing(house):
    record, _, client = house("spring")
    chlorinate(client, record)
    html = client.get(page(record, "disinfect")).content.decode()
    assert "Spring box or cistern" in html
    assert "Casing diameter" not in html
    assert "Static water level" not in html
    assert 'name="box-length"' not in html, "its shape is asked first"
    save(client, record, "disinfect", **{"box-shape": "straight"})
    html = client.get(page(record, "disinfect")).content.decode()
    assert 'name="box-length"' in html
    assert 'name="box-diameter"' not in html


def test_its_water_is_counted_into_the_chlorine(house):
    record, well, client = house("spring")
    chlorinate(client, record)
    save(client, record, "disinfect", **{"box-shape": "straight"})
    box = {"box-length": "5", "box-width": "4", "water-depth": "3"}
    save(client, record, "disinfect", **box)
    gallons = 5 * 4 * 3 * CUBIC_FOOT
    assert shown(record, "shock-chlorination", "treated_volume") == pytest.approx(gallons, rel=1e-4)
    ounces = shown(record, "shock-chlorination", "product_volume")
    assert ounces == pytest.approx(product_needed(record, gallons), rel=1e-3)


def test_a_round_one_and_one_whose_water_is_known(house):
    record, _, client = house("cistern")
    chlorinate(client, record)
    save(client, record, "disinfect", **{"box-shape": "round"})
    save(client, record, "disinfect", **{"box-diameter": "4", "water-depth": "5"})
    # MIL-HDBK-1164 table 1: 94.00 gal in a foot of 48 in
    assert shown(record, "shock-chlorination", "treated_volume") == pytest.approx(470, abs=0.1)
    save(client, record, "disinfect", **{"box-shape": "known"})
    save(client, record, "disinfect", **{"stored-water": "1500"})
    assert shown(record, "shock-chlorination", "treated_volume") == pytest.approx(1500)


def test_two_diameters_count_with_their_own_depths(house):
    """6 in from 40 to 100 ft and 4 in from there to 200 ft (MIL-HDBK-1164: 1.47 and 0.65)."""
    record, _, client = house("drilled")
    chlorinate(client, record)
    whole = {"casing-diameter": "6", "total-depth": "200", "static-level": "40", "casings": "one"}
    save(client, record, "disinfect", **whole)
    alone = shown(record, "well-volume", "volume")
    assert alone == pytest.approx(160 * 1.47, abs=0.8)
    save(client, record, "disinfect", **{"casings": "two"})
    html = client.get(page(record, "disinfect")).content.decode()
    assert 'name="casing-2-diameter"' in html
    save(client, record, "disinfect", **{"casing-2-diameter": "4", "casing-depth": "100"})
    both = shown(record, "well-volume", "volume")
    assert both == pytest.approx(60 * 1.47 + 100 * 0.65, abs=1)
    assert shown(record, "shock-chlorination", "treated_volume") == pytest.approx(both)


def test_a_level_below_the_casing_leaves_water_in_the_second_diameter_alone(house):
    record, _, client = house("drilled")
    chlorinate(client, record)
    typed = {"casing-diameter": "6", "total-depth": "200", "static-level": "150", "casings": "two"}
    save(client, record, "disinfect", **typed)
    save(client, record, "disinfect", **{"casing-2-diameter": "4", "casing-depth": "100"})
    assert shown(record, "well-volume", "volume") == pytest.approx(50 * 0.65, abs=0.2)


def test_what_the_survey_measured_stands_and_says_where_it_is_from(house):
    record, well, client = house("drilled")
    make_measurement(well=well, quantity_key="casing_diameter", value=6)
    make_measurement(well=well, quantity_key="total_depth", value=100)
    chlorinate(client, record)
    sheet = load_sheet(record, now=NOW)
    item = sheet.item("casing-diameter")
    assert item.state == "answered"
    assert item.shown.startswith("6 in (measured, ")
    html = client.get(page(record, "disinfect")).content.decode()
    assert "On file: 6 in (measured, " in html
    assert not any(row.key == "casing-diameter" for row in sheet.missing())
    save(client, record, "disinfect", **{"casing-diameter": "8"})
    assert load_sheet(record, now=NOW).item("casing-diameter").shown == "8 in"
    assert Measurement.objects.filter(quantity_key="casing_diameter").count() == 1


def test_an_open_source_on_a_survey_is_asked_for_its_water(house):
    record, _, client = house("cistern", purpose="survey")
    save(client, record, "well-head", **{"box-shape": "straight"})
    box = {"box-length": "10", "box-width": "6", "water-depth": "4"}
    save(client, record, "well-head", **box)
    assert shown(record, "open-water", "volume") == pytest.approx(240 * CUBIC_FOOT, rel=1e-4)
    html = client.get(page(record, "well-head")).content.decode()
    assert "Water in spring box or cistern" in html
    assert "Water in the well" not in html
