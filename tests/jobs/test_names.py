"""Names that tie rooms together: each stands in one place, is used, and means something.

The shipped files are compared with the names by `manage.py check`; here each fault is planted.
"""

import ast
import copy
import json
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.core.checks import run_checks

from config import checks
from equipment.engineering.registry import calculation
from equipment.quantities import MEASURED, SETTING_UNITS, PlaceName, SettingName
from jobs.fieldwork.keys import BlockKey, LineKey, PanelName
from jobs.fieldwork.panels.table import PANELS
from jobs.models import FACTS, FACTS_TOLD, FollowUpRule, RuleCode
from jobs.wording.names import SETTINGS
from jobs.workflows.shipped import faults_of

ROOT = Path(settings.BASE_DIR)
CHECKLISTS = json.loads((ROOT / "fixtures/checklists.json").read_text())
RULES = json.loads((ROOT / "fixtures/rules.json").read_text())
NAMES = (LineKey, BlockKey, PanelName, SettingName, PlaceName, RuleCode)
#: arguments of `happened` that are no facts
OF_EVERY_EVENT = {"event", "about", "day", "by", "now", "visit"}


def modules():
    for folder in ("jobs", "equipment", "config"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            if "migrations" not in path.parts:
                yield path, ast.parse(path.read_text())


MODULES = list(modules())


def lines_of(checklists, key):
    return [
        line for b in checklists["blocks"].values() for line in b["lines"] if line["key"] == key
    ]


def faults(change):
    """What is said about the shipped files after one change."""
    checklists, rules = copy.deepcopy(CHECKLISTS), copy.deepcopy(RULES)
    change(checklists, {rule["code"]: rule for rule in rules})
    return faults_of(checklists, rules)


# --- the shipped files ----------------------------------------------------------------------


def test_the_shipped_files_name_what_the_code_knows():
    assert faults_of(CHECKLISTS, RULES) == []
    assert checks.check_shipped_files(None) == []


def test_a_fault_stops_every_command_and_names_the_key(monkeypatch, tmp_path, settings):
    changed = copy.deepcopy(CHECKLISTS)
    lines_of(changed, "contact")[0]["key"] = "contact-time"
    (tmp_path / "fixtures").mkdir()
    (tmp_path / "fixtures/checklists.json").write_text(json.dumps(changed))
    (tmp_path / "fixtures/rules.json").write_text(json.dumps(RULES))
    settings.BASE_DIR = tmp_path
    found = [each for each in run_checks() if each.id == "revisit.E007"]
    assert [each.msg for each in found] == ["fixtures: no checklist has the line contact."]
    assert found[0].is_serious()


def renamed(key, other):
    def change(checklists, rules):
        for line in lines_of(checklists, key):
            line["key"] = other

    return change


def in_line(key, **fields):
    def change(checklists, rules):
        for line in lines_of(checklists, key):
            line.update(fields)

    return change


def in_rule(code, /, **fields):
    def change(checklists, rules):
        rules[code].update(fields)

    return change


def without_page(purpose, key):
    def change(checklists, rules):
        (entry,) = [t for t in checklists["templates"] if t["purpose"] == purpose]
        entry["blocks"].remove(key)

    return change


def without_template(purpose):
    def change(checklists, rules):
        checklists["templates"] = [t for t in checklists["templates"] if t["purpose"] != purpose]

    return change


HERE = {"line": "disinfect-scope", "one_of": ["here"]}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (renamed("pump-flow", "flow-of-the-pump"), "no checklist has the line pump-flow."),
        (renamed("use-brewing", "use-wine"), "wine is no special use."),
        (renamed("use-brewing", "brewing"), "no checklist asks for the special use brewing."),
        (without_page("startup", "dial-back"), "no checklist has the page dial-back."),
        (without_page("startup", "disinfect"), "it looks at disinfect-scope, which this record"),
        (without_template("survey"), "no checklist has the purpose survey."),
        (in_line("contact", kind="clock"), "line contact: kind clock is not known."),
        (in_line("raw-iron", quantity_key="iorn"), "quantity_key iorn is not known."),
        (in_line("backwash-flow", subject="tank"), "subject tank is not known."),
        (in_line("tap-iron", place="sink"), "line tap-iron: place sink is not known."),
        (in_line("isolated", caution="presure"), "caution presure is not known."),
        (in_line("heater", caution="heat"), "line heater: caution heat is not known."),
        (in_line("use-dialysis", caution=""), "caution dialysis is shown on no line."),
        (in_line("contact", expectation="shock.contact_time"), "expectation shock is no panel."),
        (in_line("lot", condition={"hass": "feeder"}), "condition hass is not known."),
        (in_line("lot", condition={"has": "feeders"}), "a system has no feeders."),
        (in_line("lot", condition={"all": [{"lacks": "coal"}]}), "a system has no coal."),
        (in_line("pink", condition={"oxidant": "ozon"}), "ozon is no oxidant."),
        (in_line("heater", condition={**HERE, "line": "scop"}), "looks at scop, which"),
        (in_line("heater", condition={**HERE, "one_of": ["hear"]}), "has no choice hear."),
        (in_line("soaked", choices=[["soaked", "24 h"]]), "soaked has no choice not_soaked."),
        (in_line("pink", passes={"one_of": ["never"]}), "pink has no choice never."),
        (in_line("tap-iron", passes={"atmost": 1}), "passing word atmost is not known."),
        (in_line("tap-iron", passes={}), "it must pass, and nothing says when."),
        (in_line("tap-iron", passes={"at_most": "company.iron"}), "no company value has this"),
        (in_line("flush-low", passes={"after": "flush-hi"}), "looks at flush-hi, which"),
        (in_line("hold-end", passes={"falls_at_most": {"line": "start"}}), "looks at start, which"),
        (in_line("notice-state", passes={"no_notice": "no_tea"}), "no_tea is no level"),
        (in_line("backwash-flow", passes={"at_least": "result:wash.flow"}), "wash is no panel."),
        (in_rule("f6", event="tube_fitted"), "rule f6: Each further event needs the name"),
        (in_rule("f6", also_on=[{"event": "date_reached"}]), "rule f6: Each further event needs"),
        (in_rule("f24", filter={"is_call_back": True}), "rule f24: is_call_back cannot be asked"),
        (in_rule("f20", filter={"completed": True}), "rule f20: completed cannot be asked"),
        (in_rule("f8", filter={"stage_kind": ["uvv"]}), "rule f8: uvv is no stage_kind."),
        (in_rule("f13", closing_parameters={"sample_kinds": ["germs"]}), "germs is none of"),
        (in_rule("f13", closing_parameters={"outcomes": ["stable"]}), "stable is none of"),
        (in_rule("f1", closing_parameters={"outcomes": ["negative"]}), "negative is none of"),
        (in_rule("f1", closing_parameters={"job_kinds": ["recheck", "re"]}), "re is none of"),
        (in_rule("f2", closing_parameters={"line_keys": ["last-wash"]}), "a line last-wash."),
        (in_rule("f1", closing_parameters={"line_keys": [["pink", "rosy"]]}), "a line rosy."),
        (in_rule("f24", code="f25"), "no rule has the code f24."),
    ],
)
def test_a_planted_fault_is_named(change, said):
    assert any(said in fault for fault in faults(change)), faults(change)


# --- events ---------------------------------------------------------------------------------


def told():
    """Every call that raises an event: its name and the facts told with it."""
    for path, tree in MODULES:
        for node in ast.walk(tree):
            if isinstance(node, ast.Call) and ast.unparse(node.func).endswith("happened"):
                given = {word.arg: word.value for word in node.keywords}
                yield path.name, given["event"], set(given) - OF_EVERY_EVENT


def test_every_event_is_raised_and_called_by_its_name():
    raised = [ast.unparse(event) for _, event, _ in told()]
    assert sorted(set(raised)) == sorted(f"FollowUpRule.Event.{e.name}" for e in FollowUpRule.Event)


def test_every_fact_that_may_be_asked_is_told_with_the_event():
    """The kind of a part is no fact: it chooses the parts of the system the event is about."""
    found = {}
    for _, event, facts in told():
        found.setdefault(FollowUpRule.Event[event.attr], set()).update(facts)
    assert found == {event: set(facts) - {"stage_kind"} for event, facts in FACTS_TOLD.items()}
    assert set().union(*FACTS_TOLD.values()) == set(FACTS)


# --- names ----------------------------------------------------------------------------------


@pytest.mark.parametrize("names", NAMES, ids=lambda names: names.__name__)
def test_every_name_is_used(names):
    asked = {
        node.attr
        for _, tree in MODULES
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute) and ast.unparse(node.value) == names.__name__
    }
    assert [name for name in names.__members__ if name not in asked] == []


def spelled():
    """String constants of the code, but for docstrings, with the call or comparison around them."""
    for path, tree in MODULES:
        parents = {child: node for node in ast.walk(tree) for child in ast.iter_child_nodes(node)}
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield str(path.relative_to(ROOT)), node, parents[node]


#: where names of a kind stand, and where the same words name something else
HOMES = {
    "jobs/fieldwork/keys.py",
    "equipment/quantities.py",
    "jobs/models/rules.py",
    "jobs/fieldwork/cautions.py",
    "jobs/pages/worksheets.py",
}


def test_no_code_spells_a_name_of_several_words():
    """Calculations are named where they are registered; worksheets list them all."""
    names = {str(name) for kind in NAMES for name in kind if "-" in name or "_" in name}
    names |= {str(event) for event in FollowUpRule.Event} | {str(code) for code in RuleCode}
    assert [
        (path, node.lineno, node.value)
        for path, node, _ in spelled()
        if node.value in names
        and path not in HOMES
        and not path.startswith("equipment/engineering/")
    ] == []


def test_no_code_asks_for_a_line_a_page_or_a_panel_by_its_spelling():
    known = {line["key"] for b in CHECKLISTS["blocks"].values() for line in b["lines"]}
    known |= set(CHECKLISTS["blocks"]) | set(PanelName)
    asking = {"line", "item", "text", "value", "of", "typed", "result", "block"}
    found = []
    for path, node, around in spelled():
        if node.value not in known or path.startswith(("equipment/", "jobs/urls/")):
            continue
        by_call = (
            isinstance(around, ast.Call)
            and around.args[:1] == [node]
            and ast.unparse(around.func).split(".")[-1] in asking
        )
        by_word = isinstance(around, ast.keyword) and around.arg in {"line_key", "block", "name"}
        by_key = isinstance(around, ast.Compare) and re.search(
            r"\b(line_key|line\.key|block|block\.key|panel\.name)\b", ast.unparse(around.left)
        )
        if by_call or by_word or by_key:
            found.append((path, node.lineno, node.value))
    assert found == []


def test_every_reading_that_a_panel_asks_for_is_a_measured_figure():
    """A misspelled one would be found nowhere on file, and the panel would wait for ever."""
    asked = [
        (str(path.relative_to(ROOT)), node.args[0].value)
        for path, tree in MODULES
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        and ast.unparse(node.func).split(".")[-1] == "reading"
        and node.args
        and isinstance(node.args[0], ast.Constant)
    ]
    assert len(asked) > 20
    assert [each for each in asked if each[1] not in MEASURED] == []


def told_in_the_demo(name):
    """Every value under that name in the story of the invented company."""
    waiting = [json.loads((ROOT / "fixtures/demo.json").read_text())]
    while waiting:
        each = waiting.pop()
        if isinstance(each, dict) and name in each:
            yield each[name]
        if isinstance(each, dict | list):
            waiting += each.values() if isinstance(each, dict) else each


def test_the_demo_answers_lines_and_keeps_promises_that_exist():
    lines = {line["key"] for b in CHECKLISTS["blocks"].values() for line in b["lines"]}
    by_purpose = next(told_in_the_demo("answers"))
    answered = {key for each in told_in_the_demo("answers") for key in each} - set(by_purpose)
    answered |= {key for each in by_purpose.values() for key in each}
    assert len(answered) > 40
    assert answered - lines == set()
    assert set(told_in_the_demo("promise")) <= {rule["code"] for rule in RULES}


def test_every_setting_has_its_unit_and_its_words():
    assert set(SETTING_UNITS) == set(SETTINGS) == set(SettingName)


# --- panels ---------------------------------------------------------------------------------


def test_every_panel_is_shown_on_a_page_of_a_checklist():
    pages = {key for entry in CHECKLISTS["templates"] for key in entry["blocks"]}
    assert set(PANELS) == set(PanelName)
    for panel in PANELS.values():
        assert panel.blocks, panel.name
        assert set(panel.blocks) <= pages, panel.name
        assert set(panel.folded_on) <= set(panel.blocks), panel.name


def test_what_is_printed_of_a_record_is_kept_with_it():
    assert [panel.name for panel in PANELS.values() if panel.is_printed > panel.is_kept] == []


def test_every_echo_stands_on_a_page_of_its_panel():
    for panel in PANELS.values():
        pages = [CHECKLISTS["blocks"][page]["lines"] for page in panel.blocks]
        assert panel.echo in {None} | {line["key"] for page in pages for line in page}, panel.name


def results_of(panel):
    return {field.name for field in calculation(panel).answer.result_fields()}


def test_every_result_that_code_asks_of_a_panel_is_one_of_its_results():
    """result(PanelName.X, "dose") and anything(PanelName.X).value("dose")."""
    asked = set()
    for _, tree in MODULES:
        for node in ast.walk(tree):
            if not isinstance(node, ast.Call) or not isinstance(
                node.func, ast.Name | ast.Attribute
            ):
                continue
            word = ast.unparse(node.func).split(".")[-1]
            panel, key = None, None
            if word == "result" and len(node.args) == 2:
                panel, key = node.args
            elif word == "value" and isinstance(node.func.value, ast.Call) and node.args:
                panel, key = next(iter(node.func.value.args), None), node.args[0]
            if ast.unparse(panel or ast.Tuple([])).startswith("PanelName."):
                asked.add((PanelName[panel.attr], key.value))
    assert len(asked) > 3
    assert [(panel, key) for panel, key in asked if key not in results_of(panel)] == []


def test_every_expected_result_is_one_of_its_panel():
    for block in CHECKLISTS["blocks"].values():
        for line in block["lines"]:
            limits = [v for v in line.get("passes", {}).values() if isinstance(v, str)]
            wanted = [v.removeprefix("result:") for v in limits if v.startswith("result:")]
            for each in [*wanted, line.get("expectation", "")]:
                panel, _, key = each.partition(".")
                if each:
                    assert key in results_of(panel), line["key"]
