"""Rows of another house, named in every parameter: nothing is shown, tied or changed.

What a page reads is found by listening: each key a view or form asks of the address or of what was
sent, and each box of the forms that the page shows. Rows of the other house have numbers that no
row of the own house has.
"""

import re
from collections import Counter
from functools import partial
from html.parser import HTMLParser
from pathlib import Path

import pytest
from django.apps import apps
from django.conf import settings
from django.db import connection, transaction
from django.http import QueryDict
from django.test import Client
from django.urls import resolve

from equipment.models import Site
from jobs.models import Customer
from tests import factories as make
from tests.conftest import signed_in

from .test_access_matrix import ADDRESSES, address, is_turned_away, lines, world

pytestmark = pytest.mark.django_db

#: every row of the other house is numbered from here
FIRST = 700_001
NAME, STREET = "Foreign Nettlecomb", "77 Foreign Lane"
OURS = [model for name in ("jobs", "equipment") for model in apps.get_app_config(name).get_models()]
#: what a box of that type is filled with where the page leaves it empty
FILLED = {"number": "1", "date": "2026-06-24", "time": "09:00", "tel": "(518) 555-0101"}
FILLED |= {"email": "a@example.com", "datetime-local": "2026-06-24T09:00"}


#: where the page is about the house it names: whoever takes a call may take it for any
OF_ANY_HOUSE = {("call-new", "house")}


class Boxes(HTMLParser):
    """The forms of a page: (address, method, {name: value}); and boxes in which nobody types."""

    def __init__(self):
        super().__init__()
        self.forms, self.select, self.needed, self.chosen = [], "", False, set()

    def handle_starttag(self, tag, attrs):
        said = {key: value or "" for key, value in attrs}
        if tag == "form":
            self.forms.append((said.get("action", ""), said.get("method", "get").upper(), {}))
        elif self.forms and tag == "option":
            boxes = self.forms[-1][2]
            lacks = self.needed and not boxes.get(self.select)
            if "selected" in said or lacks or self.select not in boxes:
                boxes[self.select] = said.get("value", "")
        elif self.forms and said.get("name"):
            self._box(tag, said, self.forms[-1][2], said["name"])

    def _box(self, tag, said, boxes, name):
        kind = said.get("type", "text") if tag == "input" else tag
        if kind in ("select", "hidden", "radio", "button"):
            self.chosen.add(name)
        if kind == "select":
            self.select, self.needed = name, "required" in said
        elif kind == "textarea":
            boxes[name] = "Said."
        elif kind in ("checkbox", "radio"):
            if name not in boxes or "checked" in said:
                boxes[name] = said.get("value", "on")
        else:
            boxes[name] = said.get("value") or FILLED.get(kind, "1")


def boxes_of(html):
    reader = Boxes()
    reader.feed(html)
    return reader.forms, reader.chosen


@pytest.fixture
def asked_for(monkeypatch):
    """The keys that are asked of an address or of what was sent."""
    heard = set()
    for name in ("get", "getlist", "__getitem__", "__contains__"):
        plain = getattr(QueryDict, name)

        def listened(self, key, *rest, plain=plain):
            heard.add(key)
            return plain(self, key, *rest)

        monkeypatch.setattr(QueryDict, name, listened)
    return heard


def number_from(first):
    """What is made from now on has numbers that nothing has yet; says how it was, to put it back.

    PostgreSQL does not take back a number with the transaction, SQLite does.
    """
    kept = {}
    with connection.cursor() as cursor:
        for model in OURS:
            field = model._meta.auto_field
            if not field:
                continue
            table = model._meta.db_table
            if connection.vendor == "sqlite":
                cursor.execute("DELETE FROM sqlite_sequence WHERE name = %s", [table])
                cursor.execute("INSERT INTO sqlite_sequence VALUES (%s, %s)", [table, first - 1])
                continue
            cursor.execute("SELECT pg_get_serial_sequence(%s, %s)", [table, field.column])
            name = cursor.fetchone()[0]
            cursor.execute(f"SELECT last_value, is_called FROM {name}")
            kept[name] = cursor.fetchone()
            cursor.execute("SELECT setval(%s, %s)", [name, first - 1])
    return kept


def number_as(kept):
    with connection.cursor() as cursor:
        for name, (last, is_called) in kept.items():
            cursor.execute("SELECT setval(%s, %s, %s)", [name, last, is_called])


def of_houses():
    """What belongs to a house or its people; the rest is the company's."""
    found = {Site, Customer}
    while more := {
        model
        for model in OURS
        if model not in found and any(f.related_model in found for f in model._meta.concrete_fields)
    }:
        found |= more
    return [model for model in OURS if model in found and model._meta.auto_field]


class Watch:
    """What stood in the database, and what a request made of it."""

    def __init__(self):
        self.before = self._rows()
        self.wrote = False

    def _rows(self):
        return {
            model: {row["pk"]: row for row in model._base_manager.values("pk", *self._names(model))}
            for model in of_houses()
        }

    def _names(self, model):
        return [field.attname for field in model._meta.concrete_fields]

    def listen(self, execute, sql, params, many, context):
        self.wrote = self.wrote or sql.lstrip()[:6].upper() in ("INSERT", "UPDATE", "DELETE")
        return execute(sql, params, many, context)

    def harm(self):
        """Rows of the other house that changed, and rows that tie the two houses together."""
        if not self.wrote:
            return []
        found = []
        for model, rows in self._rows().items():
            before = self.before[model]
            for pk in before.keys() - rows.keys():
                if pk >= FIRST:
                    found.append(f"{model.__name__} {pk} gone")
            for pk, row in rows.items():
                if before.get(pk) == row:
                    continue
                if pk in before and pk >= FIRST:
                    found.append(f"{model.__name__} {pk} changed")
                elif self._ties(model, row):
                    found.append(f"{model.__name__} names the other house")
        return found

    def _ties(self, model, row):
        for field in model._meta.concrete_fields:
            kin = field.related_model
            if kin is Customer:
                continue  # people move: somebody on file may take over a house
            named = row[field.attname] if kin in self.before else None
            if named in self.before.get(kin, ()) and named >= FIRST:
                return True
        return False


def tries(client, line, own, heard):
    """(method, address, what is sent, key of the foreign number)."""
    where, filled = address(line["url_name"], own), {}
    if "GET" in line["methods"]:
        heard.clear()
        answer = client.get(where)
        for key in sorted(heard):
            yield "GET", where, {}, key
        if answer.get("Content-Type", "").startswith("text/html") and not answer.streaming:
            forms, chosen = boxes_of(answer.content.decode())
            for action, method, boxes in forms:
                path = action.partition("?")[0] or where.partition("?")[0]
                if resolve(path).url_name != line["url_name"]:
                    continue
                filled |= boxes if method == "POST" else {}
                for key in sorted((boxes.keys() & chosen) - any_house(line)):
                    yield method, action or where, boxes, key
    if "POST" in line["methods"]:
        heard.clear()
        with transaction.atomic():
            client.post(where, filled)
            transaction.set_rollback(True)
        for key in sorted(heard - filled.keys() - any_house(line)):
            yield "POST", where, filled, key


def any_house(line):
    return {key for name, key in OF_ANY_HOUSE if name == line["url_name"]}


def outcome(client, watch, method, where, sent, key, *, hides):
    """What is wrong with the answer, and whether it was a refusal."""
    watch.wrote = False
    with transaction.atomic(), connection.execute_wrapper(watch.listen):
        try:
            if method == "POST":  # in the address too: a page may read it there
                where += f"{'&' if '?' in where else '?'}{key}={FIRST}"
            answer = getattr(client, method.lower())(where, {**sent, key: str(FIRST)})
            wrong = watch.harm()
        except Exception as error:  # whatever breaks is what is looked for
            transaction.set_rollback(True)
            return [f"breaks: {type(error).__name__}: {error}"], False
        transaction.set_rollback(True)
    if answer.status_code == 500:
        wrong.append("breaks")
    if hides and not answer.streaming:
        text = answer.content.decode(errors="replace")
        wrong += [f"shows {mark}" for mark in (NAME, STREET) if mark in text]
    return wrong, answer.status_code >= 400 or is_turned_away(answer) or not watch.wrote


@pytest.fixture
def houses():
    """The own house and the other one, whose rows are numbered from FIRST."""
    office, technician = make.make_staff("dispatcher"), make.make_staff("technician")
    own = world(technician, office)
    other = make.make_staff("technician")
    kept = number_from(FIRST)
    foreign = world(other, office)
    customer, site = foreign.rows["customers"], foreign.site
    type(customer).objects.filter(pk=customer.pk).update(name=NAME)
    type(site).objects.filter(pk=site.pk).update(street=STREET)
    people = {"technician": technician, "dispatcher": office, "owner": make.make_staff("owner")}
    make.make_measurement(site=site, by=office)
    assert foreign.site.pk == FIRST
    yield own, {role: partial(signed_in, person) for role, person in people.items()}
    number_as(kept)


def named_in_code():
    """Parameters that the code reads as the number of a row."""
    found = set()
    for path in sorted((Path(settings.BASE_DIR) / "jobs").rglob("*.py")):
        found |= set(re.findall(r'row_named\(.*?(?:GET|POST)\.get\("(\w+)"', path.read_text()))
    return found


@pytest.mark.parametrize("role", ["anyone", "technician", "dispatcher", "owner"])
def test_another_house_is_named_in_every_parameter(houses, asked_for, role):
    own, clients = houses
    new_client = clients.get(role, Client)
    watch, wrong, tally, keys = Watch(), [], Counter(), set()
    seen = set()
    for line in lines():
        if line["url_name"] not in ADDRESSES or line[role] == "no":
            continue
        if role == "owner" and line["dispatcher"] != "no":
            continue  # the same pages, the same rights
        client = new_client()  # signing out is one of the lines
        for method, where, sent, key in list(tries(client, line, own, asked_for)):
            once = (method, where, tuple(sorted(sent)), key)
            if once in seen or key == "csrfmiddlewaretoken":
                continue
            seen.add(once)
            keys.add(key)
            hides = role in ("anyone", "technician")
            said, refused = outcome(client, watch, method, where, sent, key, hides=hides)
            tally["tried"] += 1
            tally["refused"] += refused
            wrong += [f"{method} {where} {key}: {each}" for each in said]
    print(f"{role}: {tally['tried']} tried, {tally['refused']} refused, {len(wrong)} unexpected")
    assert wrong == []
    if role == "dispatcher":
        assert named_in_code() <= keys
