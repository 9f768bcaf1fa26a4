"""What the shipped files name, against what the code knows: read once at the start of a command.

Each fault is a sentence that names the key. A line may stand on pages of several records; what it
looks at on another line must be asked in each of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from equipment.engineering.results import Json
from equipment.models import OxidantProduct, SpecialUse, Stage
from equipment.quantities import MEASURED
from jobs.errors import BadEntry
from jobs.fieldwork.cautions import CAUTIONS, PIT
from jobs.fieldwork.conditions import CONDITIONS
from jobs.fieldwork.gates import PASSING
from jobs.fieldwork.keys import CHOICES_ASKED, USE_LINES, BlockKey, LineKey, PanelName
from jobs.fieldwork.kinds import Source
from jobs.fieldwork.subjects import PUMP_HEADS, STAGE_SUBJECTS
from jobs.models import ChecklistLine, ChecklistTemplate, Company, DoNotUse, FollowUpRule, RuleCode
from jobs.wording.taps import DISINFECTING, OTHER_PLACES, PLACE_WORDS

from .checklist_edits import OWN
from .rules import check_lines, check_rule

Line = Json
SUBJECTS = {"", "site", "well", *STAGE_SUBJECTS}
PLACES = {"", *PLACE_WORDS, *DISINFECTING, *OTHER_PLACES}
PARTS = {*STAGE_SUBJECTS, *Stage.Kind.values, *PUMP_HEADS, "carbon"}
PANELS = frozenset(PanelName)
#: passing words that look at another line
OF_ANOTHER_LINE = ("after", "after_all", "above_line", "below_line")


def faults_of(checklists: Json, rules: list[Json]) -> list[str]:
    """Everything wrong with the two files, empty where all names are known."""
    return [*line_faults(checklists), *missing(checklists, rules), *rule_faults(checklists, rules)]


# --- lines ------------------------------------------------------------------------------------


def line_faults(checklists: Json) -> Iterator[str]:
    blocks = checklists["blocks"]
    for entry in checklists["templates"]:
        purpose = entry["purpose"]
        if purpose not in ChecklistTemplate.Purpose.values:
            yield f"checklist {purpose}: no record has this purpose."
        for key in entry["blocks"]:
            if key not in blocks:
                yield f"checklist {purpose}: there is no page {key}."
        lines = [
            line for key in entry["blocks"] for line in blocks.get(key, {"lines": []})["lines"]
        ]
        asked = {line["key"]: line for line in lines}
        for line in lines:
            if line["key"].startswith(OWN):
                yield f"checklist {purpose}, line {line['key']}: keys of the company begin so."
            for fault in (*_words(line), *_condition(line, line.get("condition", {}), asked)):
                yield f"checklist {purpose}, line {line['key']}: {fault}"
            for fault in _passing(line, asked):
                yield f"checklist {purpose}, line {line['key']}: {fault}"


def _words(line: Line) -> Iterator[str]:
    """Words of one line, each from the list that the code reads."""
    lists: tuple[tuple[str, Iterable[str]], ...] = (
        ("kind", ChecklistLine.Kind.values),
        ("quantity_key", ("", *MEASURED)),
        ("subject", SUBJECTS),
        ("place", PLACES),
        ("caution", ("", *CAUTIONS)),
    )
    for name, known in lists:
        if line.get(name, "") not in known:
            yield f"{name} {line.get(name, '')} is not known."
    panel = line.get("expectation", "").partition(".")[0]
    if panel and panel not in PANELS:
        yield f"expectation {panel} is no panel."
    kind = line["key"].removeprefix(USE_LINES).replace("-", "_")
    if line["key"].startswith(USE_LINES) and kind not in SpecialUse.Kind.values:
        yield f"{kind} is no special use."


def _condition(line: Line, condition: Json, asked: dict[str, Line]) -> Iterator[str]:
    for word in condition:
        if word not in (*CONDITIONS, "one_of", "figure"):
            yield f"condition {word} is not known."
    for part in (condition.get("has"), condition.get("lacks")):
        if part is not None and part not in PARTS:
            yield f"condition: a system has no {part}."
    yield from _of_system(condition)
    for word in ("line", "answer"):
        if word in condition:
            yield from _choices(condition[word], condition["one_of"], asked)
    if "above" in condition:
        yield from _compared(condition["above"], condition["figure"], asked)
    for part in condition.get("all", []):
        yield from _condition(line, part, asked)


def _of_system(condition: Json) -> Iterator[str]:
    if condition.get("found", "iron") not in MEASURED:
        yield f"condition: {condition['found']} is no figure."
    source, oxidant = condition.get("source"), condition.get("oxidant")
    if source is not None and source not in set(Source):
        yield f"condition: water does not stand as {source}."
    if oxidant is not None and oxidant not in OxidantProduct.Oxidant.values:
        yield f"condition: {oxidant} is no oxidant."


def _compared(key: str, figure: str, asked: dict[str, Line]) -> Iterator[str]:
    if key not in asked:
        yield f"it looks at {key}, which this record does not ask."
    if figure not in MEASURED:
        yield f"condition: {figure} is no figure."


def _choices(key: str, words: list[str], asked: dict[str, Line]) -> Iterator[str]:
    """The other line is asked in the same record and has these choices."""
    if key not in asked:
        yield f"it looks at {key}, which this record does not ask."
        return
    for word in words:
        if word not in dict(asked[key].get("choices", [])):
            yield f"{key} has no choice {word}."


def _passing(line: Line, asked: dict[str, Line]) -> Iterator[str]:
    passes = line.get("passes", {})
    if line.get("is_gate") and not passes:
        yield "it must pass, and nothing says when."
    for word, given in passes.items():
        if word not in PASSING:
            yield f"passing word {word} is not known."
        elif word in ("one_of", "ends_with"):
            yield from _choices(line["key"], [given] if word == "ends_with" else given, asked)
        elif word == "no_notice" and given not in DoNotUse.Level.values:
            yield f"{given} is no level of a notice."
        elif word in OF_ANOTHER_LINE and given not in asked:
            yield f"it looks at {given}, which this record does not ask."
        elif word == "falls_at_most" and given["line"] not in asked:
            yield f"it looks at {given['line']}, which this record does not ask."
        elif isinstance(given, str):
            yield from _limit(given)


def _limit(given: str) -> Iterator[str]:
    source, _, name = given.removeprefix("result:").partition(".")
    if given.startswith("result:"):
        if source not in PANELS:
            yield f"limit {given}: {source} is no panel."
    elif source == "company" and not hasattr(Company, name):
        yield f"limit {given}: no company value has this name."


# --- what code asks for -----------------------------------------------------------------------


def missing(checklists: Json, rules: list[Json]) -> Iterator[str]:
    """Names of the code that no shipped file has, and cautions that are shown nowhere."""
    pages = {key for entry in checklists["templates"] for key in entry["blocks"]}
    lines = [line for key in pages & set(checklists["blocks"]) for line in _page(checklists, key)]
    keys = {line["key"] for line in lines}
    begun = {entry["purpose"] for entry in checklists["templates"]}
    for purpose in ChecklistTemplate.Purpose.values:
        if purpose not in begun:
            yield f"no checklist has the purpose {purpose}."
    yield from (f"no checklist has the line {key}." for key in LineKey if key not in keys)
    yield from (f"no checklist has the page {key}." for key in BlockKey if key not in pages)
    for key, words in CHOICES_ASKED.items():
        for line in lines:
            if line["key"] == key:
                choices = dict(line.get("choices", []))
                yield from (f"line {key} has no choice {w}." for w in words if w not in choices)
    for kind in SpecialUse.Kind.values:
        if USE_LINES + kind.replace("_", "-") not in keys:
            yield f"no checklist asks for the special use {kind}."
    shown = {line.get("caution") for line in lines} | {PIT}
    yield from (f"caution {key} is shown on no line." for key in CAUTIONS if key not in shown)
    codes = {rule["code"] for rule in rules}
    yield from (f"no rule has the code {code}." for code in RuleCode if code not in codes)


def _page(checklists: Json, key: str) -> list[Line]:
    lines: list[Line] = checklists["blocks"][key]["lines"]
    return lines


# --- rules ------------------------------------------------------------------------------------


def rule_faults(checklists: Json, rules: list[Json]) -> Iterator[str]:
    """Events, facts, kinds of work and lines that a rule names."""
    keys = {
        line["key"]
        for entry in checklists["templates"]
        for page in entry["blocks"]
        if page in checklists["blocks"]
        for line in _page(checklists, page)
    }
    for row in rules:
        try:
            rule = FollowUpRule(**row)
            check_rule(rule)
            check_lines(rule, keys)
        except BadEntry as refusal:
            yield f"rule {row['code']}: {refusal}"
