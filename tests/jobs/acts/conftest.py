"""A technician with a phone at a start-up, two hours after the visit began."""

import pytest

from tests.record_scenes import make_house

from .phone import LATER, Phone


@pytest.fixture(autouse=True)
def _two_hours_later(clock):
    """Everything is told two hours after the visit began."""
    clock(LATER)


@pytest.fixture
def phone():
    record, visit, lead = make_house()
    return Phone(lead, record, visit)
