"""Boxes of a page: three glasses instead of words, what was chosen, the hint read aloud."""

import re

import pytest
from django.template.loader import render_to_string

from jobs.fieldwork.asked import Item
from jobs.fieldwork.facts import Answer, Line
from jobs.fieldwork.kinds import LineKind
from jobs.phone.rows import row_of
from tests.conftest import NOW

GLASSES = (("clear", "Clear"), ("few", "A few bubbles"), ("milky", "Milky"))


def looks(chosen="", hint="Against something dark.", choices=GLASSES):
    line = Line(
        block="dial-back",
        block_title="Dial-back",
        key="glass-raw",
        label="Raw glass",
        kind=LineKind.CHOICE,
        hint=hint,
        choices=choices,
        required=True,
    )
    given = Answer(line_key=line.key, text=chosen, read_at=NOW, by="Tess Alder", by_id=1)
    item = Item(line=line, stage=None, answers={"": given} if chosen else {})
    return render_to_string("records/_item.html", {"row": row_of(item, system="us")})


@pytest.mark.parametrize("chosen", ["", "clear", "few", "milky"])
def test_one_glass_at_most_is_chosen_and_none_bars_the_way_to_other_buttons(chosen):
    page = looks(chosen)
    radios = re.findall(r'<input type="radio"[^>]*>', page)
    assert [re.search(r'value="(\w+)"', radio)[1] for radio in radios] == ["clear", "few", "milky"]
    checked = [radio for radio in radios if re.search(r"\bchecked\b", radio)]
    assert len(checked) == bool(chosen)
    assert all(f'value="{chosen}"' in radio for radio in checked)
    assert "required" not in page


def test_each_glass_has_a_label_of_its_own_and_the_question_its_hint():
    page = looks()
    ids = re.findall(r'<input type="radio"[^>]* id="([^"]+)"', page)
    assert re.findall(r'<label for="([^"]+)"', page) == ids
    assert len(set(ids)) == 3
    described = re.search(r'aria-describedby="([^"]+)"', page)[1]
    assert f'id="{described}">Against something dark.' in page
    assert "aria-describedby" not in looks(hint="")


def test_other_choices_are_words():
    assert "<svg" in looks()
    assert "<svg" not in looks(choices=GLASSES[:2])
