"""Two phones of one person and an office that may end at any moment, as random schedules.

The queue follows the rules of the sender in the browser: an act waits until it is answered, is sent
again with the same name and body, rests on the act before it in its box, and goes first what the
office asks for.
"""

from collections import Counter
from dataclasses import dataclass, field
from datetime import timedelta
from uuid import uuid4

from django.db import transaction
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from jobs.models import Act, ActAnswer

from .phone import MINUTE, Phone

BOXES = ("raw-iron", "raw-manganese", "tap-flow")
#: the second is refused, the others are kept
TEXTS = st.sampled_from(["1", "abc", "2", "3"])


class OfficeEnds(Exception):
    """The server is gone before it has written anything for good."""


@dataclass
class Kept:
    """One act on a phone."""

    act: dict
    box: str
    state: str = "waiting"
    answer: dict = field(default_factory=dict)


class Queue:
    """One phone: what it keeps, and which version its page shows of each box."""

    def __init__(self, phone):
        self.phone, self.rows, self.shown = phone, [], Counter()

    def type(self, box, text, at):
        last = next((row for row in reversed(self.rows) if row.box == box), None)
        after = last.act["uuid"] if last and last.state == "waiting" else ""
        act = self.phone.act(
            "answer",
            at=at,
            uuid=uuid4(),
            after=after,
            **{"line": box, "stage": None, "side": "", "text": text, "unit": ""},
            version=self.shown[box],
        )
        self.rows.append(Kept(act, box))

    def waiting(self):
        return [row for row in self.rows if row.state == "waiting"]

    def named(self, uuid):
        return next(row for row in self.rows if row.act["uuid"] == uuid)

    def hear(self, row, answer):
        if answer.status_code == 409:
            return self.send(self.named(answer.json()["uuid"]))
        assert answer.status_code == 200, answer.content
        if row.state == "waiting":
            row.answer = answer.json()
            row.state = row.answer["state"]
            self.shown[row.box] = row.answer["version"]
        if row.answer.get("standing"):
            self.shown[row.box] = row.answer["standing"]  # both values were shown
        return row

    def send(self, row):
        return self.hear(row, self.phone.send(row.act))


class Schedules(RuleBasedStateMachine):
    """Subclasses say which house: `house` gives record, visit and lead."""

    house = None

    def __init__(self):
        super().__init__()
        self.savepoint = transaction.atomic()
        self.savepoint.__enter__()
        record, visit, lead = self.house
        self.record = record
        self.queues = [Queue(Phone(lead, record, visit)) for _ in range(2)]
        self.minute = 0

    def teardown(self):
        for queue in self.queues:
            while queue.waiting():
                queue.send(queue.waiting()[0])
        self.everything_is_judged_once()
        transaction.set_rollback(True)
        self.savepoint.__exit__(None, None, None)

    def now(self):
        self.minute += 1
        return self.house[1].starts_at + self.minute * timedelta(seconds=1) + MINUTE

    # --- what happens ---------------------------------------------------------------------------

    @rule(which=st.integers(0, 1), box=st.sampled_from(BOXES), text=TEXTS)
    def types(self, which, box, text):
        self.queues[which].type(box, text, self.now())

    @rule(which=st.integers(0, 1))
    def sends_the_first(self, which):
        for row in self.queues[which].waiting()[:1]:
            self.queues[which].send(row)

    @rule(which=st.integers(0, 1), data=st.data())
    def a_tab_overtakes(self, which, data):
        queue = self.queues[which]
        if queue.waiting():
            queue.send(data.draw(st.sampled_from(queue.waiting())))

    @rule(which=st.integers(0, 1))
    def the_answer_is_lost(self, which):
        for row in self.queues[which].waiting()[:1]:
            self.queues[which].phone.send(row.act)

    @rule(which=st.integers(0, 1))
    def the_office_ends_before_it_has_written(self, which):
        for row in self.queues[which].waiting()[:1]:
            try:
                with transaction.atomic():
                    self.queues[which].phone.send(row.act)
                    raise OfficeEnds
            except OfficeEnds:
                pass

    @precondition(lambda self: any(len(q.waiting()) < len(q.rows) for q in self.queues))
    @rule(data=st.data())
    def a_stale_tab_sends_again(self, data):
        judged = [(q, row) for q in self.queues for row in q.rows if row.state != "waiting"]
        queue, row = data.draw(st.sampled_from(judged))
        before = (row.state, row.answer["version"])
        again = queue.phone.send(row.act).json()
        assert again["again"]
        assert (again["state"], again["version"]) == before

    # --- what holds -----------------------------------------------------------------------------

    @invariant()
    def everything_is_judged_once(self):
        names = [row.act["uuid"] for queue in self.queues for row in queue.rows]
        answers = ActAnswer.objects.filter(act__uuid__in=names).values_list("act__uuid", "state")
        held = {str(name): state for name, state in answers}
        assert len(held) == len(answers) == Act.objects.filter(uuid__in=names).count()
        for queue in self.queues:
            for row in queue.rows:
                if row.state != "waiting":
                    assert held[row.act["uuid"]] == row.state

    @invariant()
    def what_stands_was_kept_and_nothing_kept_is_missing(self):
        """Each kept act made one version of its box; a refused one made none."""
        made = Counter(
            body["payload"]["line"]
            for body in Act.objects.filter(answer__state="kept").values_list("body", flat=True)
            if body["payload"]["text"] != "abc"
        )
        for key, version in self.record.answers.filter(line_key__in=BOXES).values_list(
            "line_key", "version"
        ):
            assert version <= made[key]

    @invariant()
    def nobody_is_in_conflict_with_himself(self):
        """With one phone that typed in a box, none of its acts has to be looked at."""
        for box in BOXES:
            typed = [any(row.box == box for row in queue.rows) for queue in self.queues]
            if sum(typed) == 1:
                rows = self.queues[typed.index(True)].rows
                assert not [row for row in rows if row.box == box and row.state == "look"]

    @invariant()
    def acts_of_a_box_come_in_order(self):
        for queue in self.queues:
            for box in BOXES:
                versions = [
                    row.answer["version"]
                    for row in queue.rows
                    if row.box == box and row.state == "kept"
                ]
                assert versions == sorted(versions)
