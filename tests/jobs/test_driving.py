"""Minutes of driving: the table of towns, places of houses, and what booking says of them."""

import math
import re
from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import Site
from jobs.models import Company, LogEntry, TownDrive, Visit
from jobs.schedule.driving import Driving, Place, miles_between
from tests.factories import make_site, make_staff, make_train
from tests.jobs.people_at_work import TOMORROW, errors, send, typed

pytestmark = pytest.mark.django_db
PAGE = "town-drives"


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


def keep(client, one, other, minutes):
    return client.post(reverse(PAGE), {"one": one, "other": other, "minutes": minutes})


def between(one, other):
    return Driving.load().between(Place(one), Place(other))


# --- the table -----------------------------------------------------------------------------------


def test_a_drive_is_the_same_in_both_directions_and_is_changed_by_saying_it_again(owner_client):
    keep(owner_client, "Kestrel Ford", "brindle  cross", 15)
    assert between("Brindle Cross", "Kestrel Ford").minutes == 15
    assert between("Kestrel Ford", "BRINDLE CROSS").minutes == 15
    keep(owner_client, "Brindle Cross", "Kestrel Ford", 18)
    row = TownDrive.objects.get()
    assert (row.one, row.other, row.minutes) == ("brindle cross", "Kestrel Ford", 18)
    page = owner_client.get(reverse(PAGE)).content.decode()
    assert "15 &rarr; 18" in page
    assert "not in the table &rarr; 15" in page


def test_where_the_table_says_nothing_the_company_s_values_hold(owner_client):
    assert (between("Marl", "Marl").minutes, between("Marl", "Tarn").minutes) == (10, 20)
    Company.objects.update(drive_min=33, drive_in_town_min=7)
    assert (between("Marl", "Marl").minutes, between("Marl", "Tarn").minutes) == (7, 33)
    keep(owner_client, "Marl", "Marl", 4)
    assert between("Marl", "Marl").said == "4 min of driving (table of towns)"


def test_what_is_taken_off_is_usual_again_and_stays_in_the_history(owner_client):
    keep(owner_client, "Marl", "Tarn", 9)
    owner_client.post(reverse("town-drive-drop", args=[TownDrive.objects.get().pk]))
    assert between("Marl", "Tarn").by == "usual between two towns"
    assert "9 &rarr; not in the table" in owner_client.get(reverse(PAGE)).content.decode()
    assert LogEntry.objects.filter(verb="town_drive_dropped").count() == 1


def test_the_same_figure_again_is_no_change(owner_client):
    for _ in range(2):
        keep(owner_client, "Marl", "Tarn", 9)
    assert TownDrive.history.count() == 1


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"minutes": "0"}, "minutes", "At least 1"),
        ({"minutes": "601"}, "minutes", "At most 600"),
        ({"minutes": "a while"}, "minutes", "whole number"),
        ({"minutes": ""}, "minutes", "This is needed."),
        ({"one": " "}, "one", "This is needed."),
        ({"other": "--"}, "other", "Write the name of a town."),
        ({"other": "M" * 81}, "other", "80"),
    ],
)
def test_a_drive_that_cannot_be_is_refused_at_its_field(owner_client, changed, field, said):
    sent = {"one": "Marl", "other": "Tarn", "minutes": "9", **changed}
    answer = owner_client.post(reverse(PAGE), sent)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert said in errors(answer, field)
    assert sent["one"].strip() in answer.content.decode()
    assert not TownDrive.objects.exists()


def test_towns_of_houses_are_offered_in_one_spelling(owner_client):
    for town in ("Tarn Hollow", "tarn hollow", "Marl"):
        make_site(town=town)
    assert owner_client.get(reverse(PAGE)).context["towns"] == ["Marl", "Tarn Hollow"]


def test_the_page_asks_a_fixed_number_of_times(owner_client, django_assert_max_num_queries):
    for number in range(30):
        keep(owner_client, "Marl", f"Town {number}", 9)
    with django_assert_max_num_queries(12):
        page = owner_client.get(reverse(PAGE))
    assert len(page.context["changes"]) == 20


# --- places --------------------------------------------------------------------------------------

#: A minute of arc of a great circle is one nautical mile by its first definition; 1852 m exactly
#: since the International Extraordinary Hydrographic Conference, Monaco, 1929 (from memory). The
#: mean sphere differs from it by 0.06 percent.
NAUTICAL_IN_MILES = 1852 / 1609.344


@pytest.mark.parametrize(
    ("one", "other", "minutes_of_arc"),
    [
        ((42, -75), (43, -75), 60),
        ((0, 10), (0, 12.5), 150),
        ((0, 179.5), (0, -179.5), 60),
        ((89.5, 0), (89.5, 180), 60),
        ((42.5, -75.5), (42.5, -75.5), 0),
        ((10, 20), (-10, -160), 10_800),
    ],
)
def test_distance_is_that_of_the_great_circle(one, other, minutes_of_arc):
    miles = miles_between(Place("A", 1, *one), Place("B", 2, *other))
    assert miles == pytest.approx(minutes_of_arc * NAUTICAL_IN_MILES, rel=1e-3, abs=1e-9)


def test_distance_agrees_with_the_angle_between_two_vectors():
    """The same by another way: the angle between the directions of both places."""

    def direction(north, east):
        north, east = math.radians(north), math.radians(east)
        return math.cos(north) * math.cos(east), math.cos(north) * math.sin(east), math.sin(north)

    one, other = (42.531, -75.5235), (41.08, -74.2)
    dot = sum(a * b for a, b in zip(direction(*one), direction(*other), strict=True))
    miles = miles_between(Place("A", 1, *one), Place("B", 2, *other))
    assert miles == pytest.approx(math.acos(dot) * 6371.0088 / 1.609344, rel=1e-9)


def test_a_typed_drive_goes_before_the_distance_and_the_distance_before_what_is_usual(
    owner_client,
):
    here, there = Place("Marl", 1, 42, -75), Place("Tarn", 2, 42.1, -75)
    drive = Driving.load().between(here, there)
    assert drive.by == "6.9 mi as the crow flies"
    assert drive.minutes == 17  # 6.91 mi at 25 mi/h are 16.6 min
    assert Driving.load().between(here, Place("Tarn", 3)).by == "usual between two towns"
    keep(owner_client, "Marl", "Tarn", 31)
    assert Driving.load().between(here, there).said == "31 min of driving (table of towns)"
    assert Driving.load().between(here, Place("Marl", 1)).minutes == 0


@pytest.mark.django_db
def test_between_two_houses_of_one_place_a_minute_is_driven():
    here = (42.0, -74.0)
    drive = Driving.load().between(Place("Kestrel Ford", 1, *here), Place("Kestrel Ford", 2, *here))
    assert (drive.minutes, drive.by) == (1, "0.0 mi as the crow flies")


def test_the_place_of_a_house_is_typed_whole_or_not_at_all(dispatcher_client):
    site = make_site(town="Marl")
    where = reverse("site-edit", args=[site.pk])
    form = dispatcher_client.get(where).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: "" if value is None else value for name, value in sent.items()}
    for halves, field in (
        ({"latitude": "42.5", "longitude": ""}, "longitude"),
        ({"latitude": "", "longitude": "-75"}, "latitude"),
        ({"latitude": "142", "longitude": "-75"}, "latitude"),
        ({"latitude": "42", "longitude": "181"}, "longitude"),
        ({"latitude": "north", "longitude": "-75"}, "latitude"),
    ):
        answer = dispatcher_client.post(where, {**sent, **halves})
        assert answer.status_code == 422
        assert list(answer.context["form"].errors) == [field]
    done = dispatcher_client.post(where, {**sent, "latitude": "42.5310", "longitude": "-75.5235"})
    assert done.status_code == 302
    site = Site.objects.get(pk=site.pk)
    assert (site.latitude, site.longitude) == (42.531, -75.5235)


# --- booking -------------------------------------------------------------------------------------


@pytest.fixture
def site():
    return make_train(site=make_site(street="3 Otter Lane", town="Marl")).site


def test_a_drive_that_does_not_fit_is_asked_about_once(owner_client, dispatcher_client, lead, site):
    keep(owner_client, "Marl", "Tarn", 25)
    far = make_train(site=make_site(street="8 Reed Row", town="Tarn")).site
    assert send(dispatcher_client, far, typed(lead, start="08:00")).status_code == 302
    asked = send(dispatcher_client, site, typed(lead, start="09:30")).content.decode()
    assert (
        "Tess Alder is at 8 Reed Row, Tarn from 08:00 to 09:15: 25 min of driving (table of "
        "towns), and 15 min are left for it." in asked
    )
    sure = re.search(r'name="sure" value="([^"]+)"', asked)[1]
    assert send(dispatcher_client, site, typed(lead, start="09:30", sure=sure)).status_code == 302


def test_a_drive_that_fits_to_the_minute_is_not_asked_about(
    owner_client, dispatcher_client, lead, site
):
    keep(owner_client, "Marl", "Tarn", 15)
    far = make_train(site=make_site(town="Tarn")).site
    send(dispatcher_client, far, typed(lead, start="08:00"))
    assert send(dispatcher_client, site, typed(lead, start="09:30")).status_code == 302


def test_the_drive_to_the_next_visit_and_of_a_helper_count_as_well(
    owner_client, dispatcher_client, lead, site
):
    keep(owner_client, "Marl", "Tarn", 40)
    other = make_staff("technician", first_name="Ivo", last_name="Sedge")
    far = make_train(site=make_site(street="8 Reed Row", town="Tarn")).site
    send(dispatcher_client, far, typed(lead, start="14:00", helper=other.pk))
    ahead = send(dispatcher_client, site, typed(other, start="12:30", minutes="60"))
    assert "Ivo Sedge is at 8 Reed Row, Tarn from 14:00 to 15:15" in ahead.content.decode()
    assert "and 30 min are left for it" in ahead.content.decode()
    assert Visit.objects.count() == 1


def test_a_visit_that_is_moved_is_no_neighbour_of_itself(dispatcher_client, lead, site):
    Company(pk=1, drive_in_town_min=30).save()
    send(dispatcher_client, site, typed(lead, start="08:00"))
    near = make_train(site=make_site(street="8 Reed Row", town="Marl")).site
    send(dispatcher_client, near, typed(lead, start="14:00"))
    visit = Visit.objects.order_by("starts_at").first()
    where = reverse("visit-move", args=[visit.pk])
    sent = {"lead": lead.pk, "day": TOMORROW, "minutes": 75, "version": visit.version}
    free = dispatcher_client.post(where, {**sent, "start": "09:15"})
    assert free.status_code == 302
    visit.refresh_from_db()
    asked = dispatcher_client.post(
        where, {**sent, "start": "12:30", "version": visit.version}
    ).content.decode()
    assert "Tess Alder is at 8 Reed Row, Marl from 14:00 to 15:15" in asked


def test_two_visits_at_one_house_need_no_drive(dispatcher_client, lead, site):
    send(dispatcher_client, site, typed(lead, start="08:00"))
    asked = send(dispatcher_client, site, typed(lead, start="09:15")).content.decode()
    assert "This house has a visit that day already" in asked
    assert "of driving" not in asked
    assert timedelta(0) == timedelta(minutes=Driving.load().between(*[Place.of(site)] * 2).minutes)
