"""Systems and their parts: fitted, taken out, and plans that do not fit."""

from datetime import date

import pytest
from django.urls import reverse

from equipment.models import Stage, Train
from jobs.errors import BadEntry
from jobs.workflows import trains
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = date(2026, 6, 10)


def test_replacing_a_part_ends_one_row_and_begins_another(dispatcher, now):
    train = make.make_startup_train()
    old = train.stages.get(kind="filter")
    new = Stage(
        train=train,
        kind="filter",
        vessel=old.vessel,
        medium=make.make_medium(),
        fitted_on=date(2026, 6, 1),
    )
    trains.replace_stage(old=old, new=new, by=dispatcher, now=now)
    old.refresh_from_db()
    assert old.removed_on == date(2026, 6, 1)
    assert (new.position, new.replaces) == (old.position, old)
    kinds = list(train.stages.fitted().values_list("kind", flat=True))
    assert kinds == ["feeder", "retention", "filter", "softener"]


def test_a_part_put_in_between_moves_the_later_ones(dispatcher, now):
    train = make.make_train(stages=("feeder", "filter", "softener"))
    tank = Stage(
        train=train,
        position=2,
        kind="retention",
        retention_tank=make.make_retention_tank(),
        fitted_on=date(2026, 6, 1),
    )
    trains.fit_stage(stage=tank, by=dispatcher, now=now)
    rows = list(train.stages.fitted().values_list("position", "kind"))
    assert rows == [(1, "feeder"), (2, "retention"), (3, "filter"), (4, "softener")]


def test_a_part_is_not_taken_out_before_it_was_fitted(dispatcher, now):
    stage = make.make_stage(fitted_on=date(2026, 3, 1))
    with pytest.raises(BadEntry, match="1 March 2026"):
        trains.end_stage(stage=stage, on=date(2026, 2, 1), by=dispatcher, now=now)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"switching": "always_live"}, "The dosing pump is always live"),
        ({"injection": "after"}, "injects after the pressure tank"),
        ({"circuit_voltage": "240"}, "The voltages of circuit and dosing pump do not match"),
    ],
)
def test_a_dangerous_plan_stops_until_somebody_says_he_read_it(dispatcher_client, changed, said):
    train = make.make_startup_train()
    sent = {
        "name": "House system",
        "wells": [train.wells.get().pk],
        "injection": "before",
        "switching": "switch_load",
        "circuit_voltage": "120",
        "version": 1,
        **changed,
    }
    where = reverse("train-edit", args=[train.pk])
    answer = dispatcher_client.post(where, sent)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert Train.objects.get().switching == ""
    assert dispatcher_client.post(where, {**sent, "seen": "on"}).status_code == 302


def test_a_sound_plan_is_kept_without_a_word(dispatcher_client):
    train = make.make_startup_train()
    sent = {
        "name": "House system",
        "wells": [train.wells.get().pk],
        "injection": "before",
        "switching": "current_relay",
        "circuit_voltage": "120",
        "version": 1,
    }
    assert dispatcher_client.post(reverse("train-edit", args=[train.pk]), sent).status_code == 302


@pytest.mark.parametrize("kind", Stage.Kind.values)
def test_each_kind_of_part_has_its_form(dispatcher_client, kind):
    train = make.make_startup_train()
    answer = dispatcher_client.get(reverse("stage-new", args=[train.pk]), {"kind": kind})
    assert answer.status_code == 200
