"""Letters of ten closings: every sentence has its rows, every row its sentence.

What a letter says is gone through line by line.
"""

import html
import re

import pytest
from django.core.management import call_command

from equipment.models import Sample, Stage
from jobs.fieldwork.cautions import DEFERS
from jobs.mail.words import HOUSEHOLD_CAUTIONS, PURPOSES
from jobs.models import (
    ChecklistRecord,
    Company,
    DoNotUse,
    FollowUp,
    FollowUpRule,
    OutboxMail,
    RecordCorrection,
)
from tests.closings import CLOSINGS, day_of, kept_day, squeezed
from tests.jobs.mail.letters import html_of, text_of

pytestmark = pytest.mark.django_db
LETTERS = ("record_summary", "record_corrected")


@pytest.fixture(params=CLOSINGS)
def closing(request):
    """Its name, and the record as it is at the end."""
    call_command("load_rules", verbosity=0)
    record = CLOSINGS[request.param]()
    return request.param, ChecklistRecord.objects.get(pk=record.pk)


def promised(record):
    """Work that is still promised at the house, and is no look of the office's at its papers."""
    alive = FollowUp.objects.alive().filter(site=record.site).order_by("due_on", "pk")
    closing = FollowUpRule.Closing.ACKNOWLEDGED
    return [row for row in alive if row.terms.job_kind and row.terms.closing != closing]


# --- letters ----------------------------------------------------------------------------------


def notice_lines(record):
    """What the standing notices mean, told from their rows; the words of E. coli and flood are
    nowhere in these ten."""
    rows = list(DoNotUse.objects.standing().at_site(record.site))
    if any(row.level == "no_drinking" for row in rows):
        rows = [row for row in rows if row.level != "sample_pending"]
    for row in rows:
        _, day = day_of(row.opened_at)
        day = f"{day}, {row.opened_at.year}"
        if row.level == "sample_pending":
            since = f"SINCE {day} IT WAITS FOR A BACTERIA SAMPLE THAT IS NEGATIVE."
        else:
            since = f"OUR NOTICE OF {day} STILL HOLDS UNTIL WE LIFT IT."
        yield f"*** DO NOT DRINK THE WATER YET. {since} ***".upper()
        yield "- Not for drinking, teeth, ice, infant formula or cooking."
        yield "- For those use bottled water, or water that has boiled for one minute."
        yield (
            "- You may wash, bathe and do the laundry with it; babies and open wounds by boiled "
            "or bottled water."
        )
        yield (
            "- Until the samples that lift it are in and one of us tells an adult of the house "
            "by name."
        )
        bottles = Sample.objects.filter(site=record.site, taken_at__gte=row.opened_at)
        assert not bottles.filter(outcome="waiting").exists(), "no scene leaves one there"
        here = "at the laboratory today" if bottles.exists() else "has been filled since that day"
        yield f"- No bottle is {here}." if bottles.exists() else f"- No bottle {here}."


def summary_lines(record):
    _, day = day_of(record.closed_at)
    yield f"Attached is the record of our work of {day} at"
    yield f"{record.site.street}, {record.site.town}: what was done, set and measured. " + (
        "Please keep it with the house."
    )
    yield from notice_lines(record)
    yield "Please note"
    pump = Stage.objects.fitted().filter(train=record.train_id, kind="feeder").exists()
    yield from (f"- {said}" for said in (HOUSEHOLD_CAUTIONS if pump else HOUSEHOLD_CAUTIONS[-1:]))
    yield f"- {DEFERS}"
    yield f"Poison Help: {Company.load().poison_phone}"
    lines = [
        f"- About {kept_day(r.due_on)}: {PURPOSES[r.terms.job_kind]}" for r in promised(record)
    ]
    if lines:
        yield "What comes next (we come)"
    yield from list(dict.fromkeys(lines))[:4]


def corrected_lines(record):
    row = RecordCorrection.objects.get(record=record)
    _, day = day_of(record.closed_at)
    where = f"{record.site.street}, {record.site.town}"
    yield f"We have corrected the record of our work of {day} at {where}."
    yield f"{row.label}: {row.after} instead of {row.before}."
    yield f"Why: {row.reason}"
    who = f"Corrected by {row.by.get_full_name()}. Attached is version {row.version};"
    yield f"{who} it replaces the one you have."
    yield from notice_lines(record)


SAYS = {"record_summary": summary_lines, "record_corrected": corrected_lines}


def letters_of(record):
    rows = OutboxMail.objects.filter(template__in=LETTERS, context__record=record.pk)
    return rows.order_by("pk")


def body_of(mail):
    """Without greeting, sender and link, which are the same on every letter."""
    lines = [line.strip() for line in text_of(mail).splitlines() if line.strip()]
    assert lines[0] == f"Dear {mail.customer.name},"
    assert lines[-1].startswith("No mail about visits, please: http")
    assert lines[-2].startswith(Company.load().name)
    return lines[1:-2]


def test_every_line_of_the_letters_has_its_rows_and_none_is_missing(closing):
    name, record = closing
    mails = letters_of(record)
    kinds = [mail.template for mail in mails]
    assert kinds == ["record_summary", *(["record_corrected"] if name == "corrected" else [])]
    for mail in mails:
        assert body_of(mail) == list(SAYS[mail.template](record))


def test_the_letter_with_markup_says_the_same(closing):
    """Every line of the text stands in the other part, but for the mark of a list."""
    _, record = closing
    for mail in letters_of(record):
        shown = re.sub(r"<style>.*?</style>|<[^>]+>", " ", html_of(mail), flags=re.S)
        shown = squeezed(html.unescape(shown)).lower()
        for line in body_of(mail):
            said = squeezed(re.sub(r"^- |^\*\*\* | \*\*\*$", "", line)).lower()
            assert said in shown, line
