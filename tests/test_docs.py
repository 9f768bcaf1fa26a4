"""README and .env.example name every setting, and no setting that is not there."""

import ast
import re
from pathlib import Path

import pytest
from django.conf import settings

ROOT = Path(settings.BASE_DIR)
#: read before settings exist, and not for people
INTERNAL = {"BARE_START", "DJANGO_SETTINGS_MODULE"}


def settings_read():
    """Names given to `env.<method>("NAME", ...)` anywhere in config."""
    return {
        node.args[0].value
        for path in (ROOT / "config").glob("*.py")
        for node in ast.walk(ast.parse(path.read_text()))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and isinstance(node.func.value, ast.Name)
        and node.func.value.id == "env"
        and node.args
        and isinstance(node.args[0], ast.Constant)
        and isinstance(node.args[0].value, str)
    }


def test_settings_are_found_at_all():
    assert {"DEPLOYMENT", "SECRET_KEY", "DATABASE_URL", "TICK_SECONDS"} <= settings_read()


def test_env_example_names_every_setting():
    text = (ROOT / ".env.example").read_text()
    assert set(re.findall(r"^#?([A-Z_]+)=", text, re.MULTILINE)) == settings_read()


def test_readme_has_a_row_for_every_setting():
    text = (ROOT / "README.md").read_text()
    rows = set(re.findall(r"^\|\s*`([A-Z][A-Z_]+)`", text, re.MULTILINE))
    assert rows == settings_read()


def test_environment_is_read_in_one_place():
    reading = [
        str(path.relative_to(ROOT))
        for app in ("jobs", "equipment")
        for path in (ROOT / app).rglob("*.py")
        if re.search(r"os\.(environ|getenv)", path.read_text())
    ]
    assert reading == []


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_commands_in_the_documents_exist(name):
    text = (ROOT / name).read_text()
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(), re.MULTILINE))
    assert set(re.findall(r"\bmake ([a-z]+)\b(?=[`\s#]|$)", text)) & targets
    commands = {
        path.stem
        for app in ("jobs", "equipment")
        for path in (ROOT / app / "management" / "commands").glob("[a-z]*.py")
    }
    stock = {
        "check",
        "migrate",
        "makemigrations",
        "collectstatic",
        "shell",
        "dbshell",
        "showmigrations",
    }
    named = set(re.findall(r"manage\.py ([a-z_]+)", text))
    assert named <= commands | stock


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_paths_in_the_documents_exist(name):
    text = (ROOT / name).read_text()
    paths = re.findall(
        r"`((?:config|equipment|jobs|templates|tests|fixtures|\.ci)/[\w./-]+)`", text
    )
    assert [path for path in paths if not (ROOT / path).exists()] == []
