"""A mail server in this process, and one sending, for the tests of the outbox."""

from jobs.mail.smtp import Answer, Verdict
from jobs.workflows import outbox
from jobs.workflows.tick import never
from tests.jobs.mail.letters import NOW, again

ACCEPTED = Answer(Verdict.ACCEPTED, "250")


class Killed(BaseException):
    """Ends the sender where it stands, as SIGKILL does: nothing catches it."""


class Postbox:
    """A mail server in this process: remembers what it took, then answers as told."""

    def __init__(self, *answers, die=""):
        self.answers, self.die, self.taken = list(answers), die, []

    def deliver(self, message):
        if self.die == "before the message left":
            raise Killed
        answer = self.answers.pop(0) if self.answers else ACCEPTED
        if answer.verdict in (Verdict.ACCEPTED, Verdict.UNCERTAIN):
            self.taken.append((message.recipients(), message.message()["Message-ID"]))
        if self.die == "after the server took it":
            raise Killed
        return answer

    def close(self):
        pass


def send(mail, postbox, *, at=NOW):
    claimed = outbox.claim(now=at)
    assert claimed.pk == mail.pk
    outbox.send_one(claimed, postman=postbox, clock=lambda: at)
    return again(mail)


def a_pass(monkeypatch, postbox, *, at=NOW):
    monkeypatch.setattr(outbox, "Postman", lambda: postbox)
    return outbox.send_due(clock=lambda: at, asked_to_end=never)


def die_after(monkeypatch, name):
    real = getattr(outbox, name)

    def step(*args, **kwargs):
        real(*args, **kwargs)
        raise Killed

    monkeypatch.setattr(outbox, name, step)


def die_before(monkeypatch, name):
    def step(*args, **kwargs):
        raise Killed

    monkeypatch.setattr(outbox, name, step)
