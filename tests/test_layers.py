"""Layer rules that the import linter cannot see: strings, migrations, reverse names, templates."""

import ast
import re
import tomllib
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.db.migrations.loader import MigrationLoader

ROOT = Path(settings.BASE_DIR)
VAGUE_NAMES = {"utils", "util", "helpers", "helper", "common", "misc"}


def python_files(*folders):
    return [path for folder in folders for path in sorted((ROOT / folder).rglob("*.py"))]


def relations(app_label):
    """All forward relations, those of the history tables included."""
    for model in apps.get_app_config(app_label).get_models(include_auto_created=True):
        for field in model._meta.get_fields():
            if field.is_relation and not field.auto_created and field.related_model:
                yield model, field


def test_no_equipment_relation_points_to_jobs():
    pointing = [f"{m.__name__}.{f.name}" for m, f in relations("equipment")]
    to_jobs = [
        f"{model.__name__}.{field.name}"
        for model, field in relations("equipment")
        if field.related_model._meta.app_label == "jobs"
    ]
    assert pointing
    assert to_jobs == []


def test_relations_from_jobs_leave_no_reverse_name_on_equipment():
    found = [
        (f"{model.__name__}.{field.name}", field.remote_field.hidden)
        for model, field in relations("jobs")
        if field.related_model._meta.app_label == "equipment"
    ]
    assert found
    assert [name for name, hidden in found if not hidden] == []


def test_equipment_migrations_never_depend_on_jobs():
    graph = MigrationLoader(None, ignore_no_migrations=True).graph
    nodes = [key for key in graph.nodes if key[0] == "equipment"]
    parents = {p.key for key in nodes for p in graph.node_map[key].parents}
    assert nodes
    assert [key for key in parents if key[0] == "jobs"] == []


def test_equipment_names_jobs_in_no_string():
    naming = [
        (path.name, node.value)
        for path in python_files("equipment")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Constant)
        and isinstance(node.value, str)
        and re.match(r"jobs[./]\w+$", node.value)
    ]
    assert naming == []


def test_equipment_has_no_pages():
    names = {path.stem for path in python_files("equipment")}
    assert names & {"urls", "views", "admin"} == set()
    fragments = [*(ROOT / "equipment").rglob("*.html"), *(ROOT / "templates/equipment").rglob("*")]
    assert [p for p in fragments if p.is_file() and "{% url" in p.read_text()] == []


def test_admin_is_not_installed():
    assert "django.contrib.admin" not in settings.INSTALLED_APPS
    assert [path for path in python_files("jobs", "equipment") if path.stem == "admin"] == []


def test_no_module_has_a_vague_name():
    vague = [
        p for p in python_files("jobs", "equipment", "config", "tests") if p.stem in VAGUE_NAMES
    ]
    assert vague == []


@pytest.mark.parametrize("folder", ["equipment", "jobs/workflows", "jobs/models", "jobs/reports"])
def test_now_is_an_argument_below_views_and_tasks(folder):
    reading = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in python_files(folder)
        if "management" not in path.parts
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if re.search(
            r"\b(timezone\.(now|localdate|localtime)\(\)|date\.today\(|datetime\.now\()", line
        )
    ]
    assert reading == []


def test_nobody_calls_the_broker():
    """The database is the schedule: tasks are started by beat only."""
    calling = [
        f"{path.relative_to(ROOT)}:{number}"
        for path in python_files("equipment", "jobs")
        for number, line in enumerate(path.read_text().splitlines(), 1)
        if re.search(r"\.(delay|apply_async|delay_on_commit|send_task)\(", line)
    ]
    assert calling == []


def test_figures_that_are_shown_are_added_the_same_on_every_python():
    """From Python 3.12 on sum() carries what floats lose: only fsum is the same before and after.

    Whole numbers may be counted with it: sum(1 for ...).
    """
    adding = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in python_files("equipment/engineering", "jobs/fieldwork")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Name)
        and node.func.id == "sum"
        and not is_count(node.args[0])
    ]
    assert adding == []


def is_count(added):
    return isinstance(added, ast.GeneratorExp) and isinstance(added.elt, ast.Constant)


def test_make_test_can_read_every_test_with_what_it_installs():
    """What other groups bring is imported where it is used, never while tests are gathered."""
    brought = optional_modules()
    early = [
        f"{path.relative_to(ROOT)}:{node.lineno}"
        for path in python_files("tests")
        for node in ast.parse(path.read_text()).body
        for name in imported(node)
        if name.partition(".")[0] in brought
    ]
    assert {"playwright", "scipy"} <= brought
    assert early == []


def optional_modules():
    """Modules of the packages that `make setup` leaves out, named like their package."""
    groups = tomllib.loads((ROOT / "pyproject.toml").read_text())["dependency-groups"]
    packages = [one for group in groups if group != "dev" for one in groups[group]]
    return {re.split(r"[>=<]", one)[0].replace("-", "_") for one in packages}


def imported(node):
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    return [node.module or ""] if isinstance(node, ast.ImportFrom) else []
