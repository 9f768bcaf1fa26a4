"""What a technician sees on site is corrected on site, at the houses of own visits and no other."""

from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import Stage
from jobs.models import DoNotUse
from tests.acts import booked, opened, sold
from tests.conftest import NOW, signed_in
from tests.factories import make_customer, make_site, make_staff, make_startup_train, make_well

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def own(clock):
    """A visit today at a house with a system and a well."""
    train, lead = make_startup_train(), make_staff("technician", first_name="Tess")
    visit = booked(opened(train), lead)
    return visit, lead, signed_in(lead)


def sent(client, name, pk, question="", **typed):
    """What stands in the boxes of a page, with what was typed over it."""
    where = reverse(name, args=[pk]) + question
    form = client.get(where).context["form"]
    boxes = {}
    for box in form:
        value = box.value()
        if value not in (None, "", False):
            boxes[box.html_name] = value if not isinstance(value, list) else [str(v) for v in value]
    return client.post(where, {**boxes, **typed})


def site_page(client, site):
    return client.get(reverse("site-detail", args=[site.pk])).content.decode()


def test_a_part_that_is_another_than_on_file_is_replaced_and_its_row_stays(own):
    visit, _, client = own
    train = visit.job.train
    old = train.stages.get(kind="filter")
    assert reverse("stage-replace", args=[old.pk]) in site_page(client, visit.job.site)
    answered = sent(client, "stage-replace", old.pk, serial="F-2231", fitted_on="2026-06-10")
    assert answered.status_code == 302, answered.context["form"].errors
    new = Stage.objects.get(replaces=old)
    assert new.serial == "F-2231"
    assert "F-2231" in site_page(client, visit.job.site)
    old.refresh_from_db()
    assert old.removed_on.isoformat() == "2026-06-10"


def test_the_well_is_corrected_and_who_else_it_serves_stays(own):
    visit, _, client = own
    well = visit.job.train.wells.get()
    neighbour = make_site(street="9 Otherhouse Road")
    well.also_serves.add(neighbour)
    page = client.get(reverse("well-edit", args=[well.pk])).content.decode()
    assert "9 Otherhouse Road" not in page
    answered = sent(client, "well-edit", well.pk, **{"tag": "W-77", "figure-total_depth": "241"})
    assert answered.status_code == 302, answered.context["form"].errors
    html = site_page(client, visit.job.site)
    assert "tag W-77" in html
    assert "241" in html
    assert list(well.also_serves.all()) == [neighbour]


def test_a_tag_of_another_house_is_refused_without_naming_the_house(own):
    visit, _, client = own
    make_well(site=make_site(street="9 Otherhouse Road"), tag="W-1")
    answered = sent(client, "well-edit", visit.job.train.wells.get().pk, tag="W-1")
    html = answered.content.decode()
    assert "Another well has this tag" in html
    assert "Otherhouse" not in html


def test_whose_work_it_was_is_not_for_whose_work_it_counts(own):
    visit, _, client = own
    train = visit.job.train
    page = client.get(reverse("train-edit", args=[train.pk]))
    for name in ("handed_over_on", "installed_by", "is_inherited"):
        assert name not in page.context["form"].fields
    answered = sent(client, "train-edit", train.pk, switching="flow_switch", is_inherited="on")
    assert answered.status_code == 302, answered.context["form"].errors
    train.refresh_from_db()
    assert (train.switching, train.is_inherited) == ("flow_switch", False)


def test_do_not_use_is_raised_on_site_and_the_office_reads_it(own, dispatcher):
    visit, _, client = own
    site = visit.job.site
    assert reverse("notice-new", args=[site.pk]) in site_page(client, site)
    sent(client, "notice-new", site.pk, level="no_drinking", cause="flood", reason="cap in water")
    notice = DoNotUse.objects.standing().get()
    assert notice.opened_by.first_name == "Tess"
    assert "ap in water" in site_page(client, site)
    worklist = signed_in(dispatcher).get(reverse("worklist")).content.decode()
    assert "cap in water" in worklist
    assert client.get(reverse("notice-lift", args=[notice.pk])).status_code == 403


def test_only_houses_of_own_visits_are_found(own):
    visit, lead, client = own
    site = visit.job.site
    other = make_site(street="77 Foreign Lane", town=site.town)
    sold(other, on=NOW.date(), to=make_customer(name="Foreign Nettlecomb"))
    make_customer(name="Houseless Nettlecomb")

    def found(words):
        return client.get(reverse("search"), {"q": words}).content.decode()

    assert reverse("site-detail", args=[site.pk]) in found(site.street)
    for words in ("Foreign Lane", "Nettlecomb", site.town):
        assert "77 Foreign" not in found(words)
        assert "Houseless" not in found(words)
    assert "The office finds all others" in found("Nettlecomb")
    assert reverse("search") in client.get(reverse("my-day")).content.decode()


def test_the_next_visit_there_stands_on_this_one_and_own_ones_open(own):
    visit, lead, client = own
    job = visit.job
    mine = booked(opened(job.train), lead, at=NOW + 14 * DAY, now=NOW)
    other = booked(opened(job.train), make_staff("technician"), at=NOW + 20 * DAY, now=NOW)
    html = client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    for page in (html, site_page(client, job.site)):
        assert "24 Jun" in page
        assert "30 Jun" in page
        assert reverse("visit-detail", args=[mine.pk]) in page
        assert reverse("visit-detail", args=[other.pk]) not in page
    assert client.get(reverse("visit-detail", args=[mine.pk])).status_code == 200


@pytest.mark.parametrize("name", ["train-edit", "stage-new", "stage-replace", "stage-end"])
def test_houses_of_others_are_not_there(own, name):
    _, _, client = own
    other = make_startup_train()
    pk = other.pk if name in ("train-edit", "stage-new") else other.stages.first().pk
    assert client.get(reverse(name, args=[pk])).status_code == 404
    well = reverse("well-edit", args=[other.wells.get().pk])
    assert client.get(well).status_code == 404
    assert client.get(reverse("notice-new", args=[other.site_id])).status_code == 404
