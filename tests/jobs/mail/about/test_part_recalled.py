"""The letter about something that is called back."""

from jobs.models import OutboxMail, Recall
from jobs.workflows.recalls import open_recall, settle, write_letters
from tests.factories import make_customer, make_site, make_staff, make_stage, make_train
from tests.jobs.mail.letters import NOW, words_of

WORDS = {
    "title": "Seal in the valve head",
    "reason": "The seal of these lots may tear.",
    "source": "Letter of the supplier of 2 June",
    "caution": "Turn the bypass to BYPASS (untreated) if you hear water run.",
}


def part_recalled():
    train = make_train(site=make_site(customer=make_customer()))
    make_stage(train=train, kind="softener", lot="R-114")
    by = make_staff("owner")
    recall = Recall(what="kind:softener", first="R-114", **WORDS)
    open_recall(recall=recall, by=by, now=NOW)
    write_letters(recall=recall, by=by, now=NOW)
    return OutboxMail.objects.filter(template="part_recalled").latest("pk")


def test_it_says_what_why_and_what_to_do_and_not_who_told_us(db):
    said = words_of(part_recalled())
    assert "softener, lot R-114" in said
    assert WORDS["reason"] in said
    assert WORDS["caution"] in said
    assert WORDS["source"] not in said


def test_it_does_not_leave_once_nothing_there_is_called_back(db):
    mail = part_recalled()
    (piece,) = Recall.objects.get().pieces.all()
    settle(piece=piece, end="not_there", why="never fitted", by=make_staff("owner"), now=NOW)
    from jobs.mail.about import part_recalled as kind

    assert kind.KIND.objection(mail, NOW) == "Nothing at this house is called back any more."
