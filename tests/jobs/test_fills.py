"""A fill of another strength: the new setting is said, and a setting that was left is rechecked."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from equipment.models import Fill
from equipment.on_file import fed
from jobs.models import FollowUp
from tests.factories import make_setting, make_startup_train

pytestmark = pytest.mark.django_db


@pytest.fixture
def feeder(dispatcher):
    """Set to 20 percent of a pump that feeds a solution of 71.6 g/L."""
    call_command("load_rules", verbosity=0)
    stage = make_startup_train().stages.get(kind="feeder")
    earlier = timezone.now() - timedelta(days=60)
    make_setting(stage=stage, new_value=20, at=earlier)
    make_setting(stage=stage, name="solution_strength_g_l", new_value=71.6, unit="g/L", at=earlier)
    return stage


def filled(client, stage, **typed):
    sent = {
        "at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
        "filled_by": "company",
        "level_after_gal": "12",
        **typed,
    }
    answer = client.post(reverse("fill-new", args=[stage.pk]), sent, follow=True)
    return " ".join(answer.content.decode().split())


def rechecks(stage):
    return FollowUp.objects.alive().filter(rule__code="f1", train=stage.train)


def test_a_weaker_fill_says_the_new_setting_and_promises_a_recheck(feeder, dispatcher_client):
    """Setting times strength stays: 20 percent x 71.6 / 35 = 40.9, offered as 40 (arithmetic)."""
    page = filled(dispatcher_client, feeder, strength_g_l="35")
    assert "The dose moves by 51 percent at the setting of 20 %" in page
    assert "For the same dose set 40 %. It was left: a recheck is promised." in page
    promise = rechecks(feeder).get()
    assert promise.due_on == timezone.localdate() + timedelta(days=14)
    assert reverse("follow-up-detail", args=[promise.pk]) in page
    assert fed(feeder.pk).strength == 35


def test_a_setting_that_follows_the_strength_promises_nothing(feeder, dispatcher_client):
    page = filled(dispatcher_client, feeder, strength_g_l="35", setting_percent="40")
    assert "It was left" not in page
    assert not rechecks(feeder).exists()
    assert (fed(feeder.pk).setting, fed(feeder.pk).strength) == (40, 35)


def test_a_setting_that_does_not_follow_is_rechecked(feeder, dispatcher_client):
    filled(dispatcher_client, feeder, strength_g_l="35", setting_percent="25")
    assert rechecks(feeder).exists()


@pytest.mark.parametrize("strength", ["64.5", "78.7", "71.6"])
def test_within_a_tenth_the_setting_stays(feeder, dispatcher_client, strength):
    assert "The dose moves" not in filled(dispatcher_client, feeder, strength_g_l=strength)
    assert not rechecks(feeder).exists()


def test_a_solution_that_is_too_weak_is_said(feeder, dispatcher_client):
    """20 percent x 71.6 / 10 = 143 percent."""
    page = filled(dispatcher_client, feeder, strength_g_l="10")
    assert "too weak for the dose: it would need a setting of 143 percent" in page
    assert Fill.objects.get().strength_g_l == 10, "what was poured is kept"
    assert rechecks(feeder).exists()


def test_the_same_fill_again_moves_nothing(feeder, dispatcher_client):
    filled(dispatcher_client, feeder, strength_g_l="35", setting_percent="40")
    assert "The dose moves" not in filled(dispatcher_client, feeder, strength_g_l="35")
