"""One tap has one place: in the table of the house, its charts, its drawing and its corrections."""

from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import Measurement
from equipment.on_file import tap_of
from jobs.pages.site import context_of
from jobs.pages.site_readings import kinds_of, rows_of
from jobs.workflows.records import close_record
from jobs.workflows.trains import replace_stage
from tests.conftest import NOW
from tests.factories import make_measurement, make_staff, make_startup_train
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db
DAY, LATER = timedelta(days=1), NOW + timedelta(hours=5)


def older(site, *, at=NOW, value=9):
    """A figure as it was entered before readings named the part."""
    return make_measurement(
        site=site, quantity_key="peroxide", value=value, place="after_retention", measured_at=at
    )


def taps(site):
    """Titles of the columns, places of the charts, and what the drawing says behind the tank."""
    context = context_of(site, now=LATER, system="us")
    stages = list(site.trains.get().stages.with_catalog())
    kinds = kinds_of(rows_of(site), stages, "us", LATER.date())
    charts = {r.place.name for kind in kinds if kind.key == "peroxide" for r in kind.readings}
    drawn = [part.tap for part in context["systems"][0]["stages"] if part.kind == "retention"]
    return [column.title for column in context["readings"].columns], charts, drawn


def test_a_record_and_an_older_figure_name_the_same_tap():
    record, visit, lead = make_ready()
    older(record.site, at=NOW - DAY)
    close_record(record=record, visit=visit, by=lead, now=LATER)
    columns, charts, drawn = taps(record.site)
    assert [title for title in columns if title.startswith("After")] == ["After contact tank"]
    assert charts == {"After contact tank", "Kitchen, cold"}
    assert drawn[0].readings == ["Peroxide 8 mg/L"]


def test_a_figure_is_read_behind_the_tank_that_stood_on_its_day():
    train = make_startup_train()
    old = train.stages.get(kind="retention")
    before = older(train.site, at=NOW - 2 * DAY)
    new = old.like_it()
    new.fitted_on = NOW.date() - DAY
    replace_stage(old=old, new=new, by=make_staff("dispatcher"), now=NOW)
    after = older(train.site)
    same_day = older(train.site, at=NOW - DAY)
    stages = list(train.stages.all())
    assert tap_of(before, stages) == ("after_stage", old.pk)
    assert tap_of(after, stages) == ("after_stage", new.pk)
    assert tap_of(same_day, stages) == ("after_stage", new.pk)
    assert tap_of(before, []) == ("after_retention", 0)


def test_the_form_offers_that_tap_once_and_corrects_the_older_figure_there(dispatcher_client):
    train = make_startup_train()
    tank = train.stages.get(kind="retention")
    wrong = older(train.site)
    where = reverse("measurement-new", args=[train.site_id])
    page = dispatcher_client.get(where, {"corrects": wrong.pk})
    form = page.context["form"]
    offered = [value for value, _ in form.fields["place"].choices]
    assert ("after_retention" in offered, form.initial["place"]) == (False, "after_stage")
    sent = {name: form[name].value() or "" for name in form.fields}
    sent |= {"text": "8", "once": page.context["once"], "measured_at": "2026-06-10T08:00"}
    dispatcher_client.post(f"{where}?corrects={wrong.pk}", sent)
    row = Measurement.objects.get(corrects=wrong)
    assert (row.place, row.place_stage) == ("after_stage", tank)


def test_a_correction_keeps_a_place_that_the_form_does_not_offer(dispatcher_client):
    train = make_startup_train()
    wrong = make_measurement(
        site=train.site, quantity_key="pressure", value=60, place="hold_start", entered_unit="psi"
    )
    where = reverse("measurement-new", args=[train.site_id])
    form = dispatcher_client.get(where, {"corrects": wrong.pk}).context["form"]
    assert form.fields["place"].choices[0] == ("hold_start", "start of the pressure hold")
    assert form.initial["place"] == "hold_start"
