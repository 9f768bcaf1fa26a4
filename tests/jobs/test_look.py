"""How figures, units, days and names are written: our own rules of the pages, no outside source."""

import re
from datetime import date
from decimal import Decimal

import pytest
from django import forms
from django.template import Context, Template

from jobs.phone import tags
from jobs.wording.days import days_left

THIN, SOFT = "\u202f", "\u00ad"
TODAY = date(2026, 10, 14)


def rendered(source, **context):
    """As a browser reads it: the ends of a template's lines are white space that does not show."""
    page = Template("{% load look draw %}" + source).render(Context(context))
    return re.sub(r"(<(?:h\d|label|legend|p)\b[^>]*>) | (?=</)", r"\1", " ".join(page.split()))


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("0.05", "0.05"),
        ("3.20", "3.20"),  # digits stay as they were typed
        (9999, "9999"),
        (16020, f"16{THIN}020"),
        (1234567, f"1{THIN}234{THIN}567"),
        ("<0.05", f"<{THIN}0.05"),
        (-0.35, "−0.35"),
        (1e-05, "0.00001"),  # never in powers of ten
        (Decimal("1E+4"), f"10{THIN}000"),
        (None, ""),
        ("10 to 25", "10 to 25"),
    ],
)
def test_figures_as_printed(value, text):
    assert tags.number(value) == text


def test_rounding_is_half_up():
    assert tags.number(2.5, 0) == "3"
    assert tags.number("8.4595", 3) == "8.460"


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (8.459, "8.46"),
        (0.012345, "0.0123"),
        (16021.7, f"16{THIN}022"),
        (0, "0"),
        ("trace", "trace"),
    ],
)
def test_three_significant_digits_never_cut_whole_ones(value, text):
    assert tags.sig(value) == text


def test_figures_are_split_at_the_point_with_nothing_between():
    assert tags.figure("0.12") == '<span class="pt"><span>0</span><span>.12</span></span>'
    assert (
        tags.figure("14", "above") == '<span class="pt above"><span>14</span><span></span></span>'
    )


def test_not_found_is_grey_and_keeps_its_limit_even_when_marked():
    shown = tags.figure("< 0.05", "above")
    assert 'class="pt nd"' in shown
    assert f"&lt;{THIN}0" in shown


def test_figures_from_outside_are_escaped():
    assert "<script>" not in tags.figure("<script>")
    assert "<script>" not in tags.with_unit("<script>", "gpm")


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("ft3", "ft³"),
        ("gpm/ft2", "gpm/ft²"),
        ("lb/ft3", "lb/ft³"),
        ("degC", "°C"),
        ("percent", "%"),
        ("mg*min/L", "mg·min/L"),
        ("fl oz", "fl oz"),
        ("", ""),
        (None, ""),
    ],
)
def test_units_as_printed(name, printed):
    assert tags.unit(name) == printed


def test_no_figure_means_no_unit():
    assert tags.with_unit(None, "gpm") == ""
    assert tags.with_unit(8, "gpm") == f'8{THIN}<span class="u">gpm</span>'


def test_in_unit_converts_by_the_exact_gallon():
    # NIST Handbook 44, appendix C: 1 US gallon = 3.785 411 784 litres, exactly (MEMORY)
    assert tags.in_unit(1, "gal:L") == pytest.approx(3.785411784, rel=1e-12)
    assert tags.in_unit(None, "gal:L") is None


def test_days_in_words():
    assert tags.day(TODAY, TODAY) == "Wednesday 14\u00a0October"
    assert tags.day(date(2027, 4, 1), TODAY) == "Thursday 1\u00a0April\u00a02027"
    assert tags.short_day(TODAY) == "14\u00a0Oct"
    near = [tags.days_from(date(2026, 10, day), TODAY) for day in (11, 13, 14, 15, 17)]
    assert near == ["3\u00a0days ago", "yesterday", "today", "tomorrow", "in 3\u00a0days"]
    left = [days_left(*days) for days in ((0, 1), (0, 0), (2, 0))]
    assert left == ["1\u00a0day late", "last day", "2\u00a0days left"]


def test_long_names_can_break_and_short_ones_stay_whole():
    broken = tags.soft("Maximiliana Featherstonehaugh-Baptiste Oduya")
    assert broken.replace(SOFT, "") == "Maximiliana Featherstonehaugh-Baptiste Oduya"
    assert f"Feather{SOFT}stone{SOFT}haugh-Baptiste" in broken
    assert broken.endswith("Baptiste Oduya")
    assert all(len(part) >= 4 for part in tags.soft("Vandersteenhoutmeyer").split(SOFT))


class Entry(forms.Form):
    level = forms.CharField(label="Static level", help_text="Below the top of the casing.")
    note = forms.CharField(label="Note", required=False)
    ready = forms.BooleanField(label="Notice given on paper", required=False)


FIELD = '{% include "parts/_field.html" with field=form.level unit="ft" %}'


def test_a_question_has_its_label_hint_and_unit_and_a_number_keypad():
    page = rendered(FIELD, form=Entry())
    assert '<label for="id_level">Static level</label>' in page
    assert 'id="id_level_helptext"' in page
    assert 'aria-describedby="id_level_helptext"' in page
    assert 'inputmode="decimal"' in page
    assert '<span class="unit">ft</span>' in page


def test_a_refused_answer_stays_in_the_box_beside_its_reason():
    form = Entry(data={"level": "262"})
    form.add_error("level", "The well is 240 ft deep.")
    page = rendered(FIELD, form=form)
    assert 'class="ask refused"' in page
    assert 'value="262"' in page
    assert 'aria-invalid="true"' in page
    assert "<strong>Not saved.</strong> The well is 240 ft deep." in page


def test_an_unusual_answer_is_said_beside_the_box():
    form = Entry(data={"level": "250"})
    form.fields["level"].warning = "Deeper than usual."
    page = rendered(FIELD, form=form)
    assert 'class="ask warned"' in page
    assert "id_level_helptext id_level_warning" in page
    assert "<strong>Look twice.</strong> Deeper than usual." in page


def test_ticks_have_one_label_and_optional_questions_say_so():
    page = rendered(
        "{% for field in form %}{% include 'parts/_field.html' %}{% endfor %}", form=Entry()
    )
    assert page.count("Notice given on paper") == 1
    assert 'Note <span class="u">if known</span>' in page


def test_the_glass_shows_the_answer_or_what_it_waits_for():
    shown = '{% include "parts/_measure.html" %}'
    full = rendered(shown, glass={"title": "Setting", "answer": "30", "unit": "percent"})
    assert '30&#8239;<span class="u">%</span>' in full
    assert 'aria-live="polite"' in full
    waiting = rendered(shown, glass={"title": "Setting", "waiting": "needs the strength"})
    assert "needs the strength" in waiting


def test_the_live_glass_brings_the_echo_along():
    glass = {"title": "Setting", "answer": "30", "unit": "percent", "echo": "Set 30 %"}
    live = rendered('{% include "parts/_measure_inside.html" %}', glass=glass, live=True)
    assert '<p class="echo" id="glass-echo" aria-hidden="true" hx-swap-oob="true">Set 30 %' in live
    assert "hx-swap-oob" not in rendered('{% include "parts/_measure.html" %}', glass=glass)


@pytest.mark.parametrize(
    ("state", "word"),
    [
        ("passed", "Passed."),
        ("open", "Open."),
        ("failed", "Failed."),
        ("overridden", "Overridden."),
    ],
)
def test_states_are_words_before_they_are_marks(state, word):
    line = {"state": state, "text": "Jar is clear", "evidence": "10:02"}
    assert word in rendered('{% include "parts/_gate.html" %}', line=line)


@pytest.mark.parametrize(
    ("level", "title", "heading"),
    [
        ("twice", "strong acid", "<h3>Look twice: strong acid</h3>"),
        ("stop", "well head in a pit", "<h3>Stop: well head in a pit</h3>"),
        ("stop", "Do not drink", "<h3>Do not drink</h3>"),
        ("note", "Milky water", "<h3>Milky water</h3>"),
    ],
)
def test_cautions_begin_with_their_level(level, title, heading):
    part = '{% include "parts/_caution.html" with text="Sentence." %}'
    assert heading in rendered(part, level=level, title=title)


def test_words_over_several_lines_are_one_line_of_words():
    said = rendered(
        "{% words as text %}\n  Not “{{ name }}”:\n  ask.\n{% endwords %}{{ text }}", name="a<b"
    )
    assert said == "Not “a&lt;b”: ask."


def test_the_border_says_which_part_this_is():
    page = rendered("{% border here=9 of=13 done=8 %}")
    assert 'aria-label="Part 9 of 13"' in page
    assert page.count('class="here"') == 1
    assert page.count("<path") == 4  # parts 10 to 13 are open
    assert 'aria-hidden="true"' in rendered("{% border %}")


def test_an_unknown_fact_is_said_to_be_unknown():
    facts = [{"label": "Yield", "value": None}, {"label": "Casing", "value": "6", "unit": "in"}]
    page = rendered('{% include "parts/_facts.html" %}', facts=facts)
    assert "not known" in page
    assert "6&#8239;in" in page
