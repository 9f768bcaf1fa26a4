"""A fresh database is made in one step of many; it is what the single steps make."""

from collections.abc import Iterable

from django.db.migrations.loader import MigrationLoader
from django.db.migrations.state import ModelState, ProjectState
from django.db.models import Field

from tests.migrating import is_whole

APPS = ("equipment", "jobs")


def said(state: ProjectState) -> dict:
    """Fields, options, constraints and indexes of each table, in no order."""
    return {
        f"{app}.{name}": (
            sorted((field, in_no_order(made.deconstruct()[1:])) for field, made in fields(model)),
            sorted((key, in_no_order(value)) for key, value in model.options.items() if value),
            model.bases,
        )
        for (app, name), model in state.models.items()
        if app in APPS
    }


def fields(model: ModelState) -> Iterable[tuple[str, Field]]:
    return model.fields.items()


def in_no_order(value: object) -> str:
    if isinstance(value, dict):
        return repr(sorted((key, in_no_order(of)) for key, of in value.items()))
    if isinstance(value, list | tuple):
        rows = [in_no_order(row) for row in value]
        return repr(sorted(rows) if all(hasattr(row, "deconstruct") for row in value) else rows)
    deconstruct = getattr(value, "deconstruct", None)
    return in_no_order(deconstruct()) if deconstruct else repr(value)


def test_one_step_makes_what_the_single_steps_make():
    whole, steps = MigrationLoader(None), MigrationLoader(None, replace_migrations=False)
    assert [node for node in whole.graph.nodes if is_whole(whole, node)]
    ends = [node for node in steps.graph.leaf_nodes() if not is_whole(steps, node)]
    one = said(whole.project_state(whole.graph.leaf_nodes()))
    many = said(steps.project_state(ends))
    assert len(one) > 60
    assert one.keys() == many.keys()
    assert {name for name in one if one[name] != many[name]} == set()


def test_every_step_of_before_is_in_one_and_one_only():
    loader = MigrationLoader(None)
    wholes = [row for node, row in loader.disk_migrations.items() if row.replaces]
    replaced = [node for row in wholes for node in row.replaces]
    assert len(replaced) == len(set(replaced))
    for row in wholes:
        last = max(name for _, name in row.replaces)
        mine = {n for n in loader.disk_migrations if n[0] == row.app_label and n[1] <= last}
        assert mine - {(row.app_label, row.name)} == set(row.replaces)
