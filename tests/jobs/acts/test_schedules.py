"""Random schedules of cuts, ends of the office, tabs and two phones: each act is judged once."""

import pytest
from hypothesis import HealthCheck, settings
from hypothesis.stateful import run_state_machine_as_test

from tests.record_scenes import make_house

from .schedules import Schedules

#: few in the suite; `python -m tests.bench schedules` runs many
FEW = settings(
    max_examples=12,
    stateful_step_count=14,
    deadline=None,
    derandomize=True,
    suppress_health_check=list(HealthCheck),
)


@pytest.mark.django_db
def test_each_act_is_judged_once_whatever_happens_on_the_way():
    class Here(Schedules):
        house = make_house()

    run_state_machine_as_test(Here, settings=FEW)
