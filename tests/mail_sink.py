"""A real SMTP server for tests, that keeps what it takes or answers as it is told."""

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes
from email.policy import default

from aiosmtpd.controller import Controller

from tests.servers import free_port

SMTP = "django.core.mail.backends.smtp.EmailBackend"


class Sink:
    """The mails taken, as (recipients, message); ``answers`` are given to the first recipients, one each.

    With ``pause_s`` it takes its time over each mail, and one whose sender is gone by then is not taken.
    """

    def __init__(self, port: int) -> None:
        self.port = port
        self.mails: list[tuple[list[str], object]] = []
        self.answers: list[str] = []
        self.offered, self.pause_s = 0, 0.0

    async def handle_RCPT(self, server, session, envelope, address, options):  # noqa: N802
        if self.answers:
            return self.answers.pop(0)
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):  # noqa: N802
        self.offered += 1
        await asyncio.sleep(self.pause_s)
        if server.transport is None or server.transport.is_closing():
            return "451 nobody is there"
        self.mails.append((envelope.rcpt_tos, message_from_bytes(envelope.content, policy=default)))
        return "250 taken"


@contextmanager
def mail_sink() -> Iterator[Sink]:
    """Run a server on a loopback port for the length of the block."""
    sink = Sink(free_port())
    server = Controller(sink, hostname="127.0.0.1", port=sink.port)
    server.start()
    try:
        yield sink
    finally:
        server.stop()


def mail_through(settings: object, sink: Sink) -> None:
    """Let a test's settings send through the sink."""
    settings.EMAIL_BACKEND, settings.EMAIL_HOST, settings.EMAIL_PORT = SMTP, "127.0.0.1", sink.port
    settings.EMAIL_HOST_USER = settings.EMAIL_HOST_PASSWORD = ""
    settings.HOLDAIR_MAILS, settings.HOLDAIR_ADDRESS = True, "https://holdair.tarnhollow.invalid"
