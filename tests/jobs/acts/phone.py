"""A phone as the server sees it: acts under their own names, told to the one door."""

from datetime import timedelta
from uuid import uuid4

from django.urls import reverse

from tests.conftest import NOW, signed_in

MINUTE = timedelta(minutes=1)
#: when the phone tells it
LATER = NOW + timedelta(hours=2)


def moment(at):
    return at.isoformat().replace("+00:00", "Z")


class Phone:
    """One phone of one person; `told` keeps each act as it was told."""

    def __init__(self, user, record=None, visit=None):
        self.user, self.client = user, signed_in(user)
        self.record, self.visit, self.told = record, visit, {}

    def act(self, kind, /, *, at=NOW, uuid=None, after="", needs="", about=None, **payload):
        """An act as JSON says it; nothing is sent."""
        name = str(uuid or uuid4())
        self.told[name] = {
            "uuid": name,
            "act": 1,
            "user": self.user.pk,
            "kind": kind,
            "record": str(self.record.uuid) if self.record else None,
            "visit": self.visit.pk if self.visit else None,
            "at": moment(at),
            "after": str(after),
            "needs": str(needs),
            "payload": payload,
            **(about or {}),
        }
        return self.told[name]

    def send(self, act):
        return self.client.post(reverse("field-acts"), act, content_type="application/json")

    def tell(self, kind, /, **words):
        """Typed and sent: what the server answers, with the name of the act."""
        act = self.act(kind, **words)
        answer = self.send(act)
        assert answer.status_code == 200, (answer.status_code, answer.content)
        return {**answer.json(), "uuid": act["uuid"]}

    def answer(self, line, text, *, version=0, stage=None, side="", unit="", **more):
        said = {"line": line, "text": text, "stage": stage, "side": side, "unit": unit}
        return self.tell("answer", version=version, **said, **more)


def kept(record, key="raw-iron"):
    return [(row.text, row.version) for row in record.answers.filter(line_key=key)]
