"""The shipped catalog takes the words of the pages; what a company named stays."""

import pytest
from django.core.management import call_command

from equipment.models import FeedPump, RetentionTank
from tests.migrating import migrated

pytestmark = pytest.mark.django_db(transaction=True)


def names():
    pumps = dict(FeedPump.objects.values_list("slug", "name"))
    return pumps | dict(RetentionTank.objects.values_list("slug", "name"))


@pytest.mark.long
def test_an_older_catalog_takes_the_words_and_gives_them_back():
    call_command("load_catalog", verbosity=0)
    RetentionTank.objects.filter(slug="retention-80").update(name="Our tall tank")
    today = names()
    with migrated("equipment", "0015_contact_tank_and_dosing_pump"):
        then = names()
        assert then["peristaltic-17"] == "Peristaltic feed pump, 17 gal/day, 100 psi"
        assert then["retention-40"] == "Retention tank 40 gal"
        assert then["retention-80"] == "Our tall tank"
    assert names() == today
    assert all("feed pump" not in name and "Retention" not in name for name in today.values())
