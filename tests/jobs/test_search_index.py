"""The words of the search stay in step with the rows they come from."""

from collections import Counter
from datetime import date, timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import transaction

from equipment.models import Site, Stage
from jobs.errors import EditedMeanwhile
from jobs.models import Customer, SearchPiece, SearchWord, SiteTenure
from jobs.search.find import near_customers, near_sites, search
from jobs.search.index import keep, rebuild
from jobs.search.spelling import (
    code_words,
    name_words,
    one_slip,
    phone_words,
    pieces,
)
from jobs.workflows import sites as workflow
from jobs.workflows.edits import save_edited
from jobs.workflows.trains import replace_stage
from tests import factories as make
from tests.bench import households
from tests.conftest import NOW

TODAY = date(2026, 6, 10)
pytestmark = pytest.mark.django_db


def found(text):
    return [hit.site for hit in search(text, Site.objects.all(), today=TODAY)]


def words():
    return Counter(SearchWord.objects.values_list("text", "kind", "place", "source"))


def dictionary():
    return set(SearchPiece.objects.values_list("piece", "word"))


def assert_in_step():
    """What was kept word by word equals what a rebuilding makes; old spellings may stay."""
    kept, spelled = words(), dictionary()
    rebuild()
    assert kept == words()
    assert spelled >= dictionary()


@pytest.fixture
def house(dispatcher):
    site = Site(street="12 Heron Lane", town="Larkmoor", parcel="LOT-88")
    holder = Customer(name="Ingeborg Halloran", phone="+15185550140", email="i@example.com")
    return workflow.create_site(
        site=site, holder=holder, from_on=date(2019, 4, 1), by=dispatcher, now=NOW
    )


def test_a_new_house_and_its_holder_are_found_at_once(house):
    assert found("halloran heron") == found("518 555 0140") == found("lot 88") == [house]
    assert_in_step()


def test_an_edited_name_number_and_street_replace_the_old_ones(house, dispatcher):
    holder = Customer.objects.get()
    holder.name, holder.phone = "Ingeborg Quillfeather", "+15185550177"
    save_edited(row=holder, version=1, by=dispatcher, now=NOW)
    house.street = "12 Saddle Court"
    save_edited(row=house, version=1, by=dispatcher, now=NOW)
    assert found("quillfeather") == found("5550177") == found("saddle ct") == [house]
    assert found("halloran") == found("518 555 0140") == found("heron") == []
    assert_in_step()


def test_an_edit_refused_or_taken_back_changes_no_word(house, dispatcher):
    before = words()
    holder = Customer.objects.get()
    holder.name = "Somebody Else"
    with pytest.raises(EditedMeanwhile):
        save_edited(row=holder, version=7, by=dispatcher, now=NOW)
    with transaction.atomic():
        save_edited(row=holder, version=1, by=dispatcher, now=NOW)
        assert words() != before
        transaction.set_rollback(True)
    assert words() == before


def test_after_a_sale_both_are_found_and_the_buyer_holds_the_house(house, dispatcher):
    buyer = make.make_customer(name="Peregrine Ashdown")
    assert SearchWord.objects.get(text="ashdown").place == -buyer.pk
    workflow.change_hands(
        site=house, customer=buyer, on=TODAY - timedelta(days=1), by=dispatcher, now=NOW
    )
    assert found("halloran") == found("ashdown") == [house]
    [hit] = search("halloran", Site.objects.all(), today=TODAY)
    assert hit.customer == buyer
    assert hit.why_text == "name of Ingeborg Halloran, former owner until 2026"
    assert_in_step()


def test_a_second_house_is_found_by_the_same_holder(house, dispatcher):
    other = make.make_site(customer=Customer.objects.get(), street="3 Reed Farm")
    assert set(found("halloran")) == {house, other}
    SiteTenure.objects.get(site=other).delete()
    assert found("halloran") == [house]
    assert_in_step()


def test_a_replaced_serial_number_and_the_one_before_are_both_found(house, dispatcher):
    train = make.make_train(site=house)
    old = make.make_stage(train=train, kind=Stage.Kind.FEEDER, serial="FD-60417-A")
    new = Stage(kind=Stage.Kind.FEEDER, serial="FD-99120-Z", fitted_on=TODAY)
    replace_stage(old=old, new=new, by=dispatcher, now=NOW)
    assert found("fd 60417") == found("fd99120z") == [house]
    [hit] = search("60417", Site.objects.all(), today=TODAY)
    assert hit.why_text == "serial FD-60417-A, taken out 2026"
    assert_in_step()


def test_a_corrected_well_tag_replaces_the_old_one(house):
    well = make.make_well(site=house, tag="LK-20417")
    well.tag = "LK-30999"
    well.save()
    assert found("lk30999") == [house]
    assert found("20417") == []
    well.delete()
    assert found("lk30999") == []
    assert_in_step()


def test_rows_written_in_bulk_are_found_after_a_rebuilding(house):
    Site.objects.bulk_create(
        [Site(street="9 Gander Mill", town="X", address_key="9 gander mill x")]
    )
    assert found("gander") == []
    call_command("rebuild_search", missing=True, stdout=StringIO())
    assert found("gander") == []
    out = StringIO()
    call_command("rebuild_search", stdout=out)
    assert [str(site) for site in found("gander")] == ["9 Gander Mill, X"]
    assert out.getvalue() == f"search: {SearchWord.objects.count()} words\n"


def test_an_installation_that_has_no_words_yet_gets_them(house):
    SearchWord.objects.all().delete()
    SearchPiece.objects.all().delete()
    call_command("rebuild_search", missing=True, stdout=StringIO())
    assert found("halloran") == [house]


def test_saving_again_what_did_not_change_writes_nothing(house, django_assert_num_queries):
    holder = Customer.objects.get()
    with django_assert_num_queries(1):
        keep(house)
    with django_assert_num_queries(2):
        keep(holder)


def test_the_same_word_twice_in_the_dictionary_is_no_harm(house):
    SearchPiece.objects.bulk_create(
        [SearchPiece(piece=row.piece, word=row.word) for row in SearchPiece.objects.all()]
    )
    assert found("haloran") == found("halloran") == [house]
    assert len(found("12 herron")) == 1


def test_near_duplicates_are_found_among_many(house):
    households.settle(range(400))
    told = households.household(123)
    number, rest = told["street"].split(" ", 1)
    assert [str(row) for row in near_sites(f"{number} {rest[:-1]}", told["town"])] == [
        f"{told['street']}, {told['town']}"
    ]
    assert near_sites("12 Herron Ln", "Larkmoor") == [house]
    first, last = told["name"].split()
    assert told["name"] in [row.name for row in near_customers(f"{last}, {first}", [], "")]
    assert [row.name for row in near_customers("X", [f"+{told['phone']}"], "")] == [told["name"]]
    assert near_customers("Ingeborg Haloran", [], "")[0].name == "Ingeborg Halloran"
    assert near_customers("X", [], "I@example.com")[0].name == "Ingeborg Halloran"


def test_a_farm_without_a_number_is_near_itself():
    farm = make.make_site(street="Beacon Farm", town="Fenn Hollow")
    assert near_sites("Becon Farm", "Fenn Hollow") == [farm]


def test_words_as_they_are_spelled():
    assert name_words("Ana de la Cruz-O'Hara") >= {"ana", "delacruz", "cruz", "ohara", "hara"}
    assert code_words("LK-20417") == {"lk20417", "lk", "20417", "0417"}
    assert phone_words("15185550124") == {"5185550124", "5550124", "0124"}
    assert {"abdc", "abc", "abcde", "xbcd"} <= one_slip("abcd")
    assert pieces("philip") == pieces("fillip") == {"^^f", "^fi", "fil", "ili", "lip", "ip$"}
    assert pieces("4417") == set()
