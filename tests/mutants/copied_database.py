"""A pytest plugin: every run begins with a copy of the database as it is after migrating."""

import shutil

import pytest

TEMPLATE = "template.sqlite3"


@pytest.fixture(scope="session")
def django_db_setup():
    from django.conf import settings
    from django.db import connections

    own = shutil.copy(TEMPLATE, settings.DATA_DIR / "test.sqlite3")
    connections.databases["default"]["NAME"] = own
    connections["default"].settings_dict["NAME"] = own
