"""The six catalog tables: add, edit, put out of use, with history."""

import pytest
from django.core.management import call_command
from django.urls import reverse

from equipment.models import Medium, Stage, Vessel
from jobs.forms.catalog import TABLES
from tests.factories import (
    make_feed_pump,
    make_medium,
    make_product,
    make_retention_tank,
    make_stage,
    make_vessel,
)

pytestmark = pytest.mark.django_db


def address(table, row):
    return reverse("catalog-edit", args=[table, row.pk])


def filled(client, where):
    """What the browser would send back unchanged."""
    answer = client.get(where)
    sent = {"seen": answer.context["seen"]}
    for field in answer.context["form"]:
        value = field.value()
        if value is True:
            sent[field.html_name] = "on"
        elif value is not None and value is not False and value != "":
            sent[field.html_name] = value
    return sent


@pytest.mark.parametrize("table", TABLES)
def test_every_entry_of_the_catalog_can_be_opened_and_kept(owner_client, table):
    call_command("load_catalog", verbosity=0)
    rows = list(TABLES[table].objects.all())
    assert rows
    for row in rows:
        where = address(table, row)
        answer = owner_client.post(where, filled(owner_client, where))
        assert answer.status_code == 302, answer.context["form"].errors
        before, after = row, TABLES[table].objects.get(pk=row.pk)
        for field in row._meta.concrete_fields:
            assert getattr(before, field.attname) == getattr(after, field.attname), field


def test_all_six_tables_are_listed(owner_client):
    call_command("load_catalog", verbosity=0)
    tables = owner_client.get(reverse("catalog")).context["tables"]
    assert [table for table, *_ in tables] == list(TABLES)


def test_a_new_vessel_gets_its_key_from_its_name(owner_client):
    where = reverse("catalog-new", args=["vessels"])
    sent = {
        "name": "Vessel 12 x 52",
        "source": "maker's sheet",
        "mark": "SEEN",
        "is_active": "on",
        "diameter_in": 12,
        "height_in": 52,
        "rated_pressure_psi": 150,
        "rated_temperature_f": 120,
    }
    assert owner_client.post(where, sent).status_code == 302
    assert Vessel.objects.get().slug == "vessel-12-x-52"
    again = owner_client.post(where, sent)
    assert again.status_code == 422
    assert "stands already" in again.content.decode()


def test_a_change_is_shown_with_before_and_after(owner_client):
    pump = make_feed_pump()
    where = address("feed-pumps", pump)
    owner_client.post(where, filled(owner_client, where) | {"nameplate_output_gpd": 20})
    text = owner_client.get(where).content.decode()
    assert "24.0 &rarr; 20.0" in text
    assert "Omar Cedar" in text


def test_out_of_use_keeps_the_parts_that_have_it(owner_client):
    pump = make_feed_pump()
    stage = make_stage(kind=Stage.Kind.FEEDER, feed_pump=pump)
    where = address("feed-pumps", pump)
    sent = filled(owner_client, where)
    del sent["is_active"]
    assert owner_client.post(where, sent).status_code == 302
    stage.refresh_from_db()
    assert (stage.feed_pump, stage.feed_pump.is_active) == (pump, False)


@pytest.mark.parametrize(
    ("name", "value"),
    [("backwash_low_gpm_ft2", 20), ("ph_min", 15), ("interval_max_days", 0), ("name", "")],
)
def test_figures_that_cannot_be_true_are_refused(owner_client, name, value):
    where = address("media", make_medium())
    answer = owner_client.post(where, filled(owner_client, where) | {name: value})
    assert answer.status_code == 422
    assert Medium.objects.get().backwash_low_gpm_ft2 == 10


@pytest.mark.parametrize(
    ("table", "make", "name", "most", "beyond"),
    [
        ("retention-tanks", make_retention_tank, "baffling_factor", 1, 1.01),
        ("products", make_product, "label_strength_percent", 100, 100.5),
        ("products", make_product, "density_g_ml", 4, 4.1),
        ("media", make_medium, "ph_max", 14, 14.1),
    ],
)
def test_a_figure_is_taken_up_to_the_largest_that_can_be(
    owner_client, table, make, name, most, beyond
):
    where = address(table, make())
    refused = owner_client.post(where, filled(owner_client, where) | {name: beyond})
    assert refused.status_code == 422
    assert f"This can be {most} at most." in refused.content.decode()
    taken = owner_client.post(where, filled(owner_client, where) | {name: most})
    assert taken.status_code == 302


def test_two_savers_of_one_entry(owner_client):
    where = address("vessels", make_vessel())
    first, second = filled(owner_client, where), filled(owner_client, where)
    owner_client.post(where, first | {"height_in": 48})
    conflict = owner_client.post(where, second | {"height_in": 60})
    assert conflict.status_code == 409
    assert Vessel.objects.get().height_in == 48


def test_an_unknown_table_is_not_found(owner_client):
    assert owner_client.get(reverse("catalog-new", args=["brands"])).status_code == 404
