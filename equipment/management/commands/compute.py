"""Run one calculation from the shell: compute NAME key=value ...

Prints one JSON object. It needs no settings of an installation, no database and no checks, and
reads its own arguments, so that every refusal is one line and exit status 2.
"""

from __future__ import annotations

import json
import sys
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from equipment.engineering import registry
from equipment.engineering.errors import EngineeringError, WrongInput
from equipment.engineering.results import Answer, plain
from equipment.engineering.units import UNITS, Quantity, unit


class Command(BaseCommand):
    help = __doc__
    requires_system_checks: list[str] = []
    requires_migrations_checks = False

    def run_from_argv(self, argv: list[str]) -> None:
        try:
            self.execute(*argv[2:], stdout=None, stderr=None, no_color=True, force_color=False)
        except CommandError as refused:
            sys.stderr.write(f"{refused}\n")
            sys.exit(refused.returncode)

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("words", nargs="*")
        # every word, also --list and --unit, is read by handle: the same from shell and code
        parser.prefix_chars = ""

    def handle(self, *words: str, **options: Any) -> str:
        given = list(words or options.get("words") or ())
        try:
            return self._answer(given)
        except EngineeringError as refused:
            raise CommandError(str(refused), returncode=2) from None

    def _answer(self, words: list[str]) -> str:
        if not words or words[0] in ("--help", "-h"):
            raise WrongInput("name", "say compute NAME key=value ..., or compute --list")
        if words[0] == "--list":
            entries = sorted(registry.load().values(), key=lambda entry: entry.name)
            return "\n".join(f"{entry.name:22}{entry.title}" for entry in entries)
        entry = registry.calculation(words[0])
        if "--help" in words[1:] or "-h" in words[1:]:
            return help_text(entry)
        pairs, units = split_words(words[1:])
        values = entry.read_inputs(pairs)
        answer = entry.run(values)
        printed = entry.as_json(values, answer)
        for key, name in units.items():
            printed["results"][key] = in_unit(answer, key, name)
        return json.dumps(printed, ensure_ascii=False, allow_nan=False)


def split_words(words: list[str]) -> tuple[list[tuple[str, str]], dict[str, str]]:
    """key=value pairs and --unit KEY=UNIT wishes."""
    pairs, units = [], {}
    waiting = iter(words)
    for word in waiting:
        if word == "--unit" or word.startswith("--unit="):
            wish = next(waiting, "") if word == "--unit" else word.removeprefix("--unit=")
            key, _, name = wish.partition("=")
            if not name or name not in UNITS:
                raise WrongInput("--unit", f"say --unit KEY=UNIT with a known unit, got {wish!r}")
            units[key] = name
            continue
        key, equals, text = word.partition("=")
        if not equals or not key.isidentifier():
            raise WrongInput(" ".join(word.split())[:40] or "''", "is not key=value")
        pairs.append((key, text))
    return pairs, units


def in_unit(answer: Answer, key: str, name: str) -> object:
    fields = {spec.name: spec.metadata["unit"] for spec in answer.result_fields()}
    value = getattr(answer, key, None) if key in fields else None
    if value is None:
        raise WrongInput("--unit", f"{key!r} is not a result here")
    parts = [value.low] if hasattr(value, "low") else [value]
    if not isinstance(parts[0], Quantity) or not parts[0].is_compatible_with(unit(name)):
        raise WrongInput("--unit", f"{key} is in {fields[key] or 'no unit'}, {name} does not fit")
    return plain(value, name)


def help_text(entry: registry.Calculation) -> str:
    lines = [f"{entry.name}: {entry.title}", "", "Keys (* needed):"]
    for key in entry.keys:
        unit_text = " or ".join(filter(None, (key.unit, *key.units, *key.words)))
        choices = ", ".join(key.choices)
        span = f" [{key.range_text}]" if key.range_text else ""
        mark = "*" if key.required else " "
        lines.append(f" {mark} {key.name:22}{unit_text or choices or key.kind:20}{key.help}{span}")
    lines += ["", "Results:"]
    for spec in entry.answer.result_fields():
        lines.append(f"   {spec.name:22}{spec.metadata['unit']:20}{spec.metadata['help']}")
    return "\n".join(lines)
