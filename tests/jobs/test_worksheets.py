"""Every calculation has a page of its own that computes, says what is missing, and can be kept."""

import pytest
from django.urls import reverse

from equipment.engineering.registry import load
from jobs.models import StaffProfile
from jobs.views.worksheets import STATISTICS

pytestmark = pytest.mark.django_db
SHEETS = sorted(load())


def url(name):
    return reverse("worksheet", args=[name])


@pytest.mark.parametrize("name", SHEETS)
def test_each_opens_and_names_its_figures(owner_client, name):
    page = owner_client.get(url(name))
    assert page.status_code == 200
    for key in load()[name].keys:
        assert f'name="{key.name}"' in page.content.decode()


def test_the_index_leads_to_all_of_them(owner_client):
    page = owner_client.get(reverse("worksheets")).content.decode()
    assert all(url(name) in page for name in SHEETS)


def test_statistics_are_the_owners(technician_client):
    page = technician_client.get(reverse("worksheets")).content.decode()
    assert url("bucket-flow") in page
    for name in STATISTICS:
        assert url(name) not in page
        assert technician_client.get(url(name)).status_code == 404


def test_it_computes_what_is_typed(technician_client):
    page = technician_client.get(url("bucket-flow"), {"volume": "5", "time": "60"})
    assert page.context["glass"].answer == "5"
    assert page.context["glass"].unit == "gpm"


def test_a_typed_unit_wins_over_the_box(technician_client):
    page = technician_client.get(
        url("bucket-flow"),
        {"volume": "10 L", "volume.unit": "gal", "time": "1", "time.unit": "min"},
    )
    assert page.context["glass"].answer == "2.642"  # 10 L / 3.785412 L per gal


def test_metric_people_read_and_type_metric(technician, technician_client):
    StaffProfile.objects.create(user=technician, unit_system="metric")
    page = technician_client.get(url("bucket-flow"), {"volume": "20", "time": "60"})
    assert (page.context["glass"].answer, page.context["glass"].unit) == ("20", "L/min")


def test_it_says_what_is_missing(technician_client):
    page = technician_client.get(url("bucket-flow"), {"volume": "5"})
    assert "time" in page.context["glass"].waiting


@pytest.mark.parametrize(
    ("typed", "said"),
    [("5 ppm", "mg/L"), ("many", "number"), ("500", "at most 100"), ("5 psi", "does not fit")],
)
def test_a_bad_figure_is_refused_at_its_box_and_stays(technician_client, typed, said):
    page = technician_client.get(url("bucket-flow"), {"volume": typed, "time": "60"})
    box = page.context["sheet"].box("volume")
    assert said in box.error
    assert box.text == typed
    assert page.context["sheet"].answer is None


def test_a_slip_of_the_unit_is_asked_about(technician_client):
    page = technician_client.get(
        url("softener"),
        {
            "hardness": "250",
            "hardness.unit": "gpg",
            "people": "4",
            "resin_volume": "1.5",
            "salt_dose": "8",
        },
    )
    box = page.context["sheet"].box("hardness")
    assert "mg/L" in (box.warning + box.error)


def test_several_readings_are_typed_one_on_a_line(technician_client):
    page = technician_client.get(
        url("peak-demand"), {"fixture": "shower:2\nkitchen-sink:1", "table": "ipc"}
    )
    assert page.context["sheet"].answer is not None


def test_the_live_answer_is_the_glass_alone(technician_client):
    page = technician_client.get(
        url("bucket-flow"), {"volume": "5", "time": "60"}, headers={"HX-Request": "true"}
    )
    assert "<html" not in page.content.decode()
    assert "gpm" in page.content.decode()


def test_an_unknown_name_is_not_found(technician_client):
    assert technician_client.get(url("moon-phase")).status_code == 404
