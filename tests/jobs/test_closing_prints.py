"""Prints of ten closings: what they say is taken away piece by piece as the rows have it.

Nothing may be left over that no row says, and nothing may be missing that a row says.
"""

import io
import re
from math import floor

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from equipment.models import Measurement, SettingChange, Stage, StoredAssessment
from equipment.quantities import MEASURED
from jobs.fieldwork.cautions import CAUTIONS, DEFERS
from jobs.models import (
    Acknowledgement,
    Answer,
    ChecklistRecord,
    Company,
    DialStep,
    DoNotUse,
    FollowUp,
    FollowUpRule,
    Override,
    PourTold,
    RecordCorrection,
)
from tests.closings import CLOSINGS, clock, day_of, kept_day, squeezed

pytestmark = pytest.mark.django_db


@pytest.fixture(params=CLOSINGS)
def closing(request):
    """Its name, and the record as it is at the end."""
    call_command("load_rules", verbosity=0)
    record = CLOSINGS[request.param]()
    return request.param, ChecklistRecord.objects.get(pk=record.pk)


def sheet_of(client, record):
    """The pages of all answers, as the office opens them."""
    answer = client.get(reverse("answers-sheet", args=[record.pk]))
    return PdfReader(io.BytesIO(answer.content)).pages


class Residue:
    """The text of a print, from which everything that rows say is taken away."""

    def __init__(self, text):
        self.text = text

    def take(self, piece):
        piece = squeezed(piece)
        assert piece in self.text, f"not printed: {piece}"
        self.text = self.text.replace(piece, "|", 1)

    def between(self, head, end):
        """A whole section, which other tests recompute."""
        begins, ends = self.text.index(squeezed(head)), self.text.index(squeezed(end))
        cut = self.text[begins:ends]
        self.text = self.text[:begins] + "|" + self.text[ends:]
        return cut


def answered_as(answer, line):
    """An answer in words, from its row and its question."""
    if line.kind == "tick":
        return "yes" if answer.text else ""
    if line.kind == "cycles":
        ends = [dict(line.choices)[word] for word in answer.text.split()]
        return f"{len(ends)}: {', '.join(ends)}"
    if line.kind == "choice":
        return dict(line.choices)[answer.text]
    if line.key == "wash-hour":
        return f"{int(answer.text) % 12} {'am' if int(answer.text) < 12 else 'pm'}"
    spelled = {"percent": "%", "degC": "°C", "day": "days"}
    measured = MEASURED.get(line.quantity_key)
    unit = answer.unit or (measured.unit if measured else "")
    unit = spelled.get(unit, unit)
    return f"{answer.text} {unit}".strip()


def take_answers(left, record):
    """Every answered line once, with what was typed; nothing of a line that was not answered."""
    lines = {line.key: line for line in record.template.lines.all()}
    corrected = {row.line_key: row for row in RecordCorrection.objects.filter(record=record)}
    rows = {}
    for answer in Answer.objects.filter(record=record).exclude(text=""):
        rows.setdefault((answer.line_key, answer.stage_id), {})[answer.side] = answer
    overrides = {row.line_key: row for row in Override.objects.filter(record=record)}
    for (key, stage), sides in sorted(rows.items(), key=lambda kv: -len(lines[kv[0][0]].label)):
        line = lines[key]
        label = f"{line.label}: {Stage.objects.get(pk=stage)}" if stage else line.label
        said = ", ".join(
            f"{side} {answered_as(answer, line)}".strip() for side, answer in sorted(sides.items())
        )
        if key in corrected:
            said = corrected[key].after
        note, state = "", ""
        if key in overrides:
            row = overrides[key]
            note, state = f"{row.reason} ({row.by.get_full_name()})", "passed over"
        elif line.is_gate:
            state = "passed"
        take_row(left, label, note, said, state)


def take_filed(left, record):
    """The people of the house were counted before: the figure on file stands, with its day."""
    line = record.template.lines.filter(key="people").first()
    if line is None or Answer.objects.filter(record=record, line_key="people").exists():
        return
    row = Measurement.objects.get(site=record.site, quantity_key="people")
    day, _ = day_of(row.measured_at)
    left.take(f"{line.label} {row.value:g} (measured, {day.day} {day:%b %Y})")


def take_row(left, label, note, said, state):
    """A row of the table; the reader may give its note before or after its answer."""
    tries = [label + note + said + state, label + said + state + note]
    found = next((piece for piece in map(squeezed, tries) if piece in left.text), None)
    assert found, f"not printed: {tries[0]}"
    left.take(found)


def take_rest_of_the_blocks(left, record):
    """Waits, notices that are lifted and the kept step are shown by what was done, not typed."""
    timer = record.timers.filter(line_key="contact").first()
    if timer:
        hours = f"{timer.needed_minutes / 60:g} h needed"
        left.take(f"Contact time from {clock(timer.started_at)}, {hours} passed")
    for key, label, holds in (
        ("notice-state", "Nobody is told not to use the water any more", not _no_use(record)),
        ("steps", "Steps", DialStep.objects.filter(record=record, is_final=True).exists()),
    ):
        if holds and squeezed(label + "passed") in left.text:
            assert record.template.lines.filter(key=key).exists()
            left.take(label + "passed")


def take_told(left, record):
    """Who was told at each house before the chlorine went in; they all were, face to face."""
    rows = PourTold.objects.filter(record=record)
    for row in rows:
        left.take(f"{row.site} {row.whom} told at the house, said it back, {clock(row.told_at)}")
    if rows:
        left.take("Told before the chlorine went in")


def _no_use(record):
    return DoNotUse.objects.standing().at_site(record.site).filter(level="no_use").exists()


def take_frame(left, record, number):
    company, site = Company.load(), record.site
    for page in range(1, number + 1):
        footer = f"{company.name}, record {record.pk}, job {record.job_id}"
        left.take(f"{footer}page {page} of {number}")
    left.take(company.name)
    left.take(f"Poison Help: {company.poison_phone}.")
    left.take(f"{record.template.title} at {site.street}, {site.town}")
    left.take(f"{clock(record.closed_at)}. For {record.job.customer}.")
    lead = record.closed_in.lead.get_full_name()
    left.take(f"Work led by {lead}. {record.train.name}.")
    left.take("The system, in the order the water meets it")
    for stage in Stage.objects.fitted().filter(train=record.train).order_by("position"):
        own = (stage.feed_pump, stage.product, stage.retention_tank, stage.vessel, stage.medium)
        names = ", ".join(part.name for part in (*own, stage.resin) if part)
        left.take(f"{stage.position}. {stage}: {names}")
    whom = Answer.objects.get(record=record, line_key="handover-name").text
    days = [
        f"{kept_day(day_of(visit.starts_at)[0])}: {visit.lead.get_full_name()}"
        for visit in record.job.visits.order_by("starts_at")
    ]
    left.take(f"Handed over To {whom}. Visits: {'; '.join(days)}.")


def take_cautions(left, record):
    read = {row.caution: row.by for row in Acknowledgement.objects.filter(record=record)}
    pump = Stage.objects.fitted().filter(train=record.train, kind="feeder").exists()
    for key, caution in CAUTIONS.items():
        if squeezed(caution.title) not in left.text:
            assert key not in read
            continue
        by = f"read by {read[key].get_full_name()}" if key in read else ""
        left.take(f"{caution.title}. {caution.text} {by}")
        assert pump or "dosing pump" not in caution.title + caution.text
    left.take("Cautions")
    left.take(DEFERS)


def take_settings(left, record):
    names = {
        "output_percent": ("dosing pump setting", "%"),
        "solution_strength_g_l": ("strength of the solution", "g/L"),
        "wash_interval_days": ("days between backwashes", "days"),
        "wash_hour": ("hour of the backwash", ""),
        "hardness_gpg": ("hardness programmed", "grains per gallon"),
        "salt_each_lb": ("salt for each regeneration", "lb"),
    }
    rows = SettingChange.objects.standing().filter(occasion=record.uuid)
    for row in rows:
        name, unit = names[row.name]
        new, old = (_set_to(row.name, value, unit) for value in (row.new_value, row.old_value))
        was = f"{new}, as it was" if old == new else f"{old} to {new}" if old else new
        left.take(f"{row.stage} {name} {was}")
    if rows:
        left.take("Settings we left")
        left.take("Part Setting From, to")


def _set_to(name, value, unit):
    if value is None:
        return ""
    if name == "wash_hour":
        return f"{value % 12:g} {'am' if value < 12 else 'pm'}"
    return f"{value:g} {unit}"


def take_steps(left, record):
    steps = DialStep.objects.filter(record=record)
    for step in steps:
        read = f"{step.residual_low_mg_l:g} to {step.residual_high_mg_l:g}"
        kept = "kept" if step.is_final else ""
        waited = f"{floor(step.turnovers * 10) / 10:.1f}"  # three are not said before they are over
        colour = {True: "no colour after the filter", None: ""}[step.colour_gone]
        left.take(f"{step.number} {step.setting_percent:g} % {waited} clear {colour} {read} {kept}")
    if steps:
        left.take("Steps of the dosing pump setting")
        left.take("Step Setting Turnovers Glass Residual, mg/L")


def take_promises(left, record, at):
    """What stood as it was printed; what that visit itself kept is nothing to come."""
    alive = [row for row in FollowUp.objects.filter(site=record.site) if row.made_at <= at]
    ended = {row.pk for row in alive if row.ended_at}
    coming = [row for row in alive if row.pk not in ended and row.terms.job_kind]
    coming = [row for row in coming if row.terms.closing != FollowUpRule.Closing.ACKNOWLEDGED]
    for row in sorted(coming, key=lambda row: (row.due_on, row.pk))[:6]:
        part = f": {row.stage}" if row.stage else ""
        left.take(f"about {kept_day(row.due_on)}: {row.terms.name}{part}")
    if coming:
        left.take("What comes next")


MAY_AND_MAY_NOT = (
    "Not for drinking, teeth, ice, infant formula or cooking. For those use bottled water, or "
    "water that has boiled for one minute. You may wash, bathe and do the laundry with it; babies "
    "and open wounds by boiled or bottled water. Until the samples that lift it are in and one of "
    "us tells an adult of the house by name."
)


def take_notices(left, record, at):
    """A sample that is waited for says nothing beside one with bacteria."""
    stood = DoNotUse.objects.at_site(record.site).filter(opened_at__lte=at)
    rows = list(stood.exclude(lifted_at__lte=at))
    found = [row for row in rows if row.level == "no_drinking"]
    for row in found or rows:
        _, day = day_of(row.opened_at)
        day = f"{day}, {row.opened_at.year}"
        head = (
            f"Our notice of {day} still holds until we lift it."
            if found
            else f"Since {day} it waits for a bacteria sample that is negative."
        )
        left.take(f"Do not drink the water yet. {head} {MAY_AND_MAY_NOT}")


def take_corrections(left, record):
    for row in RecordCorrection.objects.filter(record=record):
        left.take(
            f"Version {row.version}, {clock(row.at)}, replaces the one before. {row.label}: "
            f"{row.after} instead of {row.before}. Why: {row.reason}. {row.by.get_full_name()}."
        )


def test_nothing_is_left_of_a_print_when_all_that_rows_say_is_taken_away(
    closing, dispatcher_client
):
    _, record = closing
    pages, at = sheet_of(dispatcher_client, record), timezone.now()
    left = Residue(squeezed(" ".join(page.extract_text() for page in pages)))
    take_frame(left, record, len(pages))
    if squeezed("Worked out on this record") in left.text:
        end = "What comes next" if squeezed("What comes next") in left.text else "Cautions"
        computed = left.between("Worked out on this record", end)
        kept = StoredAssessment.objects.standing().filter(occasion=record.uuid)
        methods = tuple(kept.values_list("method_version", flat=True))
        rows = re.findall(r"[a-z-]+/\d+", computed)
        assert rows
        assert all(row.endswith(methods) for row in rows)
    take_corrections(left, record)
    take_notices(left, record, at)
    take_cautions(left, record)
    take_settings(left, record)
    take_steps(left, record)
    take_promises(left, record, at)
    take_answers(left, record)
    take_filed(left, record)
    take_rest_of_the_blocks(left, record)
    take_told(left, record)
    left.take(
        "Figures hold for this day and these taps. < means: not found above the figure. "
        "Worked-out figures rest on the figures shown and on the strength on the label."
    )
    titles = record.template.lines.values_list("block_title", flat=True)
    own = ("What do the gauges show while water runs?", "What does the well pump give?")
    for title in {*titles, *own}:
        if squeezed(title) in left.text:
            left.take(title)
    rest = left.text.replace("AskedAnswerState", "|").replace("FigureResultArithmetic", "|")
    assert rest.strip("|") == "", rest
