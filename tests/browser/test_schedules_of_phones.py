"""A tenth of the schedules of `python -m tests.bench schedules`, by the phone's own scripts."""

import pytest

from .phone import BACK, STOOD, UNDER_WAY
from .schedules import run

SEEDS = range(20)


@pytest.fixture
def job(product):
    """The start-up under way; afterwards as it was."""
    pk, uuid, lead, user = product.rows(UNDER_WAY)[0]
    stood = [tuple(row) for row in product.rows(STOOD.format(pk=pk))]
    yield {"pk": pk, "uuid": str(uuid), "lead": lead, "user": user}
    product.ask(BACK.format(pk=pk, rows=stood, lead=lead))


def test_no_act_is_lost_and_none_has_two_effects_whatever_is_cut_and_killed(
    browser, product, job, capsys
):
    found = run(browser, product, job, SEEDS)
    with capsys.disabled():
        print(f"\n{found.typed} acts of {found.schedules} schedules: {dict(found.states)}")
    assert found.schedules == len(SEEDS)
    assert found.typed > 3 * len(SEEDS)
    assert found.states["kept"] > found.typed / 2
    assert (found.lost, found.doubled, found.other) == (0, 0, 0)
