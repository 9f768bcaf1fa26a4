"""A notice that treatment held: held anew, at two houses of one well, lifted when that is free."""

from datetime import date

import pytest

from jobs.errors import DoNotUseOpen, WrongState
from jobs.models import DoNotUse, HeldByTreatment, Job, OutboxMail
from jobs.records.sheets import notice_sheet
from jobs.workflows.notices import lift_notice
from jobs.workflows.treated import Holding
from jobs.workflows.treated import hold as hold_by_treatment
from tests.acts import HOUR, booked, cleared, opened, sampled, spoken_to
from tests.conftest import NOW
from tests.factories import make_staff, make_train
from tests.jobs import test_held_by_treatment as while_held
from tests.jobs.mail.letters import words_of
from tests.jobs.test_held_by_treatment import DAY, HELD, TOLD, free, hold, raised_by, stays

pytestmark = pytest.mark.django_db
#: the house, its neighbour, its lamp, the office and its pages, as they stand there
by, house, neighbour = while_held.by, while_held.house, while_held.neighbour
lamp, office, held = while_held.lamp, while_held.office, while_held.held


def test_what_a_colleague_lifts_meanwhile_is_not_held(house, lamp, by):
    """Both have the notice open: one lifts it, the other holds it."""
    notice = stays(house)
    done = cleared(house)
    lift_notice(notice=notice, by=by, now=done)
    holding = Holding("sounds", date(2026, 6, 12), spoken_to("C. Prudhomme"))
    with pytest.raises(WrongState, match="that stands"):
        hold_by_treatment(notice=notice, site=house, holding=holding, by=by, now=done)


def test_where_e_coli_was_found_within_the_year_no_treatment_is_started_before_the_well_is_clean(
    house, office
):
    """Found 200 days ago and lifted since; now coliform stays in the same well."""
    lead = make_staff("technician")
    uv = make_train(site=house, stages=("uv",))
    sampled(house, outcome="ecoli", at=NOW - 200 * DAY)
    end = cleared(house, after=NOW - 198 * DAY, apart=8)
    lift_notice(notice=DoNotUse.objects.get(), by=make_staff("owner"), now=end)
    sampled(house, outcome="positive", at=NOW - 10 * DAY)
    sampled(house, outcome="positive", at=NOW - 3 * DAY)
    with pytest.raises(DoNotUseOpen):
        booked(opened(uv, Job.Kind.STARTUP), lead, at=NOW + DAY)


def test_it_is_held_anew_only_on_new_samples(held, house, office):
    later = HELD + 9 * DAY
    office.send(later, "held-again", held.pk, why="power", **TOLD)
    notice = held.notice
    page = office.read(later, "notice-hold", notice.pk)
    assert "Kitchen tap: 0 of 2" in page
    free(house, after=later)
    assert hold(office, notice, at=later + 9 * DAY).status_code == 302
    assert HeldByTreatment.objects.standing().count() == 1


def test_bacteria_behind_the_neighbours_lamp_raise_it_at_the_neighbours(
    house, neighbour, lamp, office
):
    """Two houses on one well, each with a lamp of its own."""
    well, since = house.wells.get(), date(2026, 1, 12)
    make_train(site=neighbour, well=well, stages=("sediment", "uv"), handed_over_on=since)
    notice = stays(house)
    for site in (house, neighbour):
        free(site, well=well)
        assert hold(office, notice, site=site).status_code == 302
    sampled(neighbour, "tap", "positive", at=HELD + 7 * DAY, well=well)
    standing = HeldByTreatment.objects.standing()
    assert [row.site for row in standing] == [house]


# --- the well is free again -----------------------------------------------------------------------

LATER = HELD + 30 * DAY


def free_again(*sites, after=HELD):
    """The raw tap, and the kitchen of each house, negative twice some days apart."""
    for days in (10, 20):
        at = after + days * DAY
        sampled(sites[0], at=at)
        for number, site in enumerate(sites):
            sampled(site, "tap", at=at + (number + 1) * HOUR)


@pytest.fixture
def lifted(held, house, neighbour, office):
    """The office lifts the notice of the well, on samples of its raw tap and both kitchens."""
    assert "Not lifted" in office.send(LATER, "notice-lift", held.notice_id).content.decode()
    free_again(house, neighbour)
    page = office.read(LATER, "notice-lift", held.notice_id)
    assert "Lift it under my name" in page
    assert "Held by treatment at 14 Larchfenn Road" in page
    assert office.send(LATER, "notice-lift", held.notice_id).status_code == 302
    return DoNotUse.objects.get()


def test_a_held_notice_that_is_lifted_stands_nowhere_any_more(
    lifted, house, neighbour, lamp, office, by
):
    assert (lifted.lifted_at, lifted.lifted_by) == (LATER, by)
    for site in (house, neighbour):
        page = office.read(LATER, "site-detail", site.pk)
        assert "Do not drink the water" not in page
        assert "held by treatment since" not in page.lower()
    page = office.read(LATER, "worklist")
    assert "Held by treatment</h2>" not in page
    assert "Do not use or drink" not in page
    visit = booked(
        opened(lamp.train, at=LATER), make_staff("technician"), at=LATER + 30 * HOUR, now=LATER
    )
    letter = words_of(OutboxMail.objects.get(visit=visit))
    assert "held by treatment" not in letter.lower()
    assert "drink" not in letter.lower()
    assert not any(
        "treatment" in each["title"] for each in notice_sheet(house, now=LATER)["sections"]
    )
    softener = make_train(site=neighbour, well=house.wells.get(), stages=("softener",))
    booked(
        opened(softener, Job.Kind.STARTUP, at=LATER),
        make_staff("technician"),
        at=LATER + DAY,
        now=LATER,
    )


@pytest.mark.parametrize("name", ["held-again", "held-told"])
def test_what_was_lifted_is_not_raised_by_a_page_left_open(lifted, held, office, name):
    """A power cut at a house whose well is free brings no notice back, and asks for no call."""
    page = office.read(LATER + DAY, name, held.pk)
    assert "was lifted on 18 July 2026" in page
    assert "The notice holds again</button>" not in page
    sent = office.send(LATER + DAY, name, held.pk, why="power", **TOLD)
    assert sent.status_code == 422
    held.refresh_from_db()
    assert held.raised_at is None
    assert "do not drink again" not in office.read(LATER + DAY, "worklist")


@pytest.mark.parametrize("what", ["the system was bypassed", "taken out whole"])
def test_what_the_program_sees_later_raises_nothing(lifted, held, house, lamp, by, office, what):
    raised_by(what, house, lamp, by, LATER + 5 * DAY)
    held.refresh_from_db()
    assert held.raised_at is None
    assert "do not drink again" not in office.read(LATER + 6 * DAY, "worklist")


def test_nobody_is_called_for_a_notice_that_came_back_and_was_lifted_since(
    held, house, lamp, by, office
):
    raised_by("the system was bypassed", house, lamp, by, HELD + DAY)
    assert "do not drink again" in office.read(HELD + 2 * DAY, "worklist")
    free_again(house, after=HELD + 2 * DAY)
    assert office.send(LATER, "notice-lift", held.notice_id).status_code == 302
    assert "do not drink again" not in office.read(LATER, "worklist")
    assert "was lifted" in office.read(LATER, "held-told", held.pk)


def test_bacteria_found_after_that_are_a_notice_of_their_own(lifted, held, house, office):
    """Held then says nothing of now: the treatment is judged again, on samples of its own."""
    sampled(house, outcome="positive", at=LATER + 10 * DAY)
    at = LATER + 13 * DAY
    assert "Do not drink the water" in office.read(at, "site-detail", house.pk)
    notice = DoNotUse.objects.standing().get()
    assert notice.held_at(house.pk) is None
    assert hold(office, notice, at=at).status_code == 422
