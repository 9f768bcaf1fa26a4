"""A real mail server in this process, scripted: every answer at every step (RFC 5321, 2008)."""

import asyncio
import socket
import threading
import time
from contextlib import closing, contextmanager

import pytest
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult
from django.core.mail import EmailMessage

from jobs.mail.smtp import Postman, Verdict


class Script:
    """What the server says at each step; "" lets it through, "drop" cuts the connection."""

    def __init__(self, **says):
        self.says, self.taken = says, []

    def at(self, server, step):
        said = self.says.get(step, "")
        if said == "drop":
            server.transport.abort()
            return "421 gone"
        return said

    async def handle_EHLO(self, server, session, envelope, hostname, responses):  # noqa: N802
        session.host_name = hostname
        said = self.at(server, "ehlo")
        return [said] if said else responses

    async def handle_HELO(self, server, session, envelope, hostname):  # noqa: N802
        session.host_name = hostname
        return self.at(server, "ehlo") or "250 hello"

    async def handle_MAIL(self, server, session, envelope, address, options):  # noqa: N802
        if said := self.at(server, "mail"):
            return said
        envelope.mail_from = address
        return "250 OK"

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802
        if said := self.at(server, "rcpt"):
            return said
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        if (said := self.at(server, "dot")) and said != "421 gone":
            return said
        self.taken.append(envelope)
        return said or "250 taken"


class Scripted(SMTP):
    async def smtp_DATA(self, arg):  # noqa: N802
        if said := self.event_handler.at(self, "data"):
            await self.push(said)
            return
        await super().smtp_DATA(arg)

    async def smtp_QUIT(self, arg):  # noqa: N802
        if "quit" in self.event_handler.says:
            self.transport.abort()
            return
        await super().smtp_QUIT(arg)


class ScriptedController(Controller):
    def factory(self):
        return Scripted(self.handler)


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as found:
        return found.getsockname()[1]


@contextmanager
def server(settings, **says):
    script = Script(**says)
    controller = ScriptedController(script, hostname="127.0.0.1", port=free_port())
    controller.start()
    settings.EMAIL_BACKEND = "jobs.mail.smtp.SmtpMailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", controller.port
    settings.EMAIL_TIMEOUT = 3
    try:
        yield script
    finally:
        controller.stop()


def a_message(to="ada@example.com"):
    return EmailMessage("Visit", "We come.", "office@example.com", [to])


def deliver(message=None):
    with closing(Postman()) as postman:
        return postman.deliver(message or a_message())


#: the answer at each step, and what it means for the message
MATRIX = {
    "ehlo": {"421": "CHANNEL", "451": "CHANNEL", "550": "CHANNEL", "554": "CHANNEL"},
    "mail": {
        "421": "LATER",
        "450": "LATER",
        "451": "LATER",
        "452": "LATER",
        "530": "CHANNEL",
        "535": "CHANNEL",
        "550": "CHANNEL",
        "553": "CHANNEL",
    },
    "rcpt": {
        "421": "LATER",
        "450": "LATER",
        "451": "LATER",
        "452": "LATER",
        "530": "CHANNEL",
        "550": "REFUSED",
        "552": "REFUSED",
        "553": "REFUSED",
        "554": "REFUSED",
    },
    "data": {"421": "LATER", "451": "LATER", "530": "CHANNEL", "550": "REFUSED", "554": "REFUSED"},
    "dot": {
        "421": "LATER",
        "450": "LATER",
        "451": "LATER",
        "452": "LATER",
        "550": "REFUSED",
        "552": "REFUSED",
        "554": "REFUSED",
    },
}
CASES = [(step, code, want) for step, row in MATRIX.items() for code, want in row.items()]


@pytest.mark.parametrize(("step", "code", "verdict"), CASES, ids=lambda part: part)
def test_answer_by_step_and_number(settings, step, code, verdict):
    with server(settings, **{step: f"{code} said so"}) as script:
        answer = deliver()
    assert (answer.verdict.name, script.taken) == (verdict, [])
    if step != "ehlo":
        assert answer.code == code
        assert "said so" in answer.text


def test_taken_once(settings):
    with server(settings) as script:
        assert deliver().verdict == Verdict.ACCEPTED
    (envelope,) = script.taken
    assert envelope.rcpt_tos == ["ada@example.com"]


@pytest.mark.parametrize("step", ["ehlo", "mail", "rcpt", "data"])
def test_cut_before_the_end_of_the_message_is_tried_again(settings, step):
    with server(settings, **{step: "drop"}) as script:
        assert deliver().verdict == Verdict.LATER
    assert script.taken == []


def test_cut_after_the_end_of_the_message_is_a_doubt(settings):
    """RFC 1047 (1988): the receiver may have it."""
    with server(settings, dot="drop") as script:
        assert deliver().verdict == Verdict.UNCERTAIN
    assert len(script.taken) == 1


def test_a_fault_after_the_message_was_taken_changes_nothing(settings):
    with server(settings, quit="drop") as script:
        assert deliver().verdict == Verdict.ACCEPTED
    assert len(script.taken) == 1


def test_nobody_listens(settings):
    settings.EMAIL_BACKEND = "jobs.mail.smtp.SmtpMailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", free_port()
    answer = deliver()
    assert (answer.verdict, answer.code) == (Verdict.CHANNEL, "")


def test_a_silent_server_costs_one_time_out(settings):
    with socket.create_server(("127.0.0.1", 0)) as silent:
        settings.EMAIL_BACKEND = "jobs.mail.smtp.SmtpMailBackend"
        settings.EMAIL_HOST, settings.EMAIL_PORT = silent.getsockname()[:2]
        settings.EMAIL_TIMEOUT = 1
        begun = time.monotonic()
        assert deliver().verdict == Verdict.CHANNEL
    assert time.monotonic() - begun < 2


def test_silence_after_the_message_is_a_doubt(settings):
    gate = threading.Event()

    class Silent(Script):
        async def handle_DATA(self, server, session, envelope):  # noqa: N802
            self.taken.append(envelope)
            await asyncio.to_thread(gate.wait, 10)
            return "250 late"

    controller = ScriptedController(Silent(), hostname="127.0.0.1", port=free_port())
    controller.start()
    settings.EMAIL_BACKEND = "jobs.mail.smtp.SmtpMailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", controller.port
    settings.EMAIL_TIMEOUT = 1
    try:
        assert deliver().verdict == Verdict.UNCERTAIN
    finally:
        gate.set()
        controller.stop()


def test_one_connection_serves_a_pass_and_a_fault_opens_another(settings):
    with server(settings) as script, closing(Postman()) as postman:
        assert postman.deliver(a_message()).verdict == Verdict.ACCEPTED
        first = postman.connection.connection
        assert postman.deliver(a_message()).verdict == Verdict.ACCEPTED
        assert postman.connection.connection is first
        script.says["rcpt"] = "451 later"
        assert postman.deliver(a_message()).verdict == Verdict.LATER
        script.says.clear()
        assert postman.deliver(a_message()).verdict == Verdict.ACCEPTED
        assert postman.connection.connection is not first
    assert len(script.taken) == 3


def test_wrong_password_turns_the_channel_away(settings):
    class Locked(ScriptedController):
        def factory(self):
            return Scripted(
                self.handler,
                authenticator=lambda *args: AuthResult(success=False, handled=False),
                auth_require_tls=False,
            )

    controller = Locked(Script(), hostname="127.0.0.1", port=free_port())
    controller.start()
    settings.EMAIL_BACKEND = "jobs.mail.smtp.SmtpMailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", controller.port
    settings.EMAIL_HOST_USER, settings.EMAIL_HOST_PASSWORD = "office", "wrong"
    try:
        answer = deliver()
    finally:
        controller.stop()
    assert (answer.verdict, answer.code) == (Verdict.CHANNEL, "535")


def test_an_address_with_a_line_break_is_refused_not_repeated(settings):
    with server(settings) as script:
        assert deliver(a_message("ada@example.com\nBcc: bo@example.com")).verdict == Verdict.REFUSED
    assert script.taken == []
