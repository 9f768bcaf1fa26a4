"""Panels, what must pass and advice: the office and the browser's Python say the same."""

import pytest

from . import same

pytestmark = pytest.mark.runtime

#: a tenth of what `python -m tests.bench same` compares
GENERATED, STEP = 500, 10


def test_panels_gates_and_advice_of_generated_records_in_the_browser(browser, tmp_path):
    numbers = range(0, GENERATED, STEP)
    pieces, different = same.differing(browser, tmp_path, numbers)
    assert different == []
    assert pieces > 20 * len(numbers)


def test_one_letter_that_differs_is_found(browser, tmp_path, monkeypatch):
    """The office says one more letter in the first piece of each record."""
    real = same.on_server

    def one_more(*facts, **how):
        said = real(*facts, **how)
        said[1]["gates"] += "."
        return said

    monkeypatch.setattr(same, "on_server", one_more)
    _, different = same.differing(browser, tmp_path, range(3))
    assert [(number, name) for number, name, *_ in different] == [(n, "gates") for n in range(3)]
