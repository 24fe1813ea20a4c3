"""A real mail server that keeps what it takes."""

import ssl
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any, cast

from aiosmtpd.controller import Controller
from aiosmtpd.smtp import AuthResult, Envelope, LoginPassword, Session

from tests.server.notify.broker import free_port


class Mailbox:
    """`refuses`: the answer to every recipient; `password`: who logs in must have it. A mail with the word `spam` in it
    is refused for good."""

    def __init__(self, refuses: str = "", password: str = "", hangs: bool = False, spam: str = "") -> None:
        self.mails: list[EmailMessage] = []
        self.refuses, self.password, self.hangs, self.spam = refuses, password, hangs, spam
        self.encrypted: list[bool] = []
        self.over = threading.Event()

    async def handle_RCPT(self, server: Any, session: Session, envelope: Envelope, to: str, options: Any) -> str:  # noqa: N802
        if self.refuses:
            return self.refuses
        envelope.rcpt_tos.append(to)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Session, envelope: Envelope) -> str:  # noqa: N802
        content = cast(bytes, envelope.content)
        if self.spam and self.spam.encode() in content:
            return "554 5.7.1 looks like spam"
        self.mails.append(message_from_bytes(content, policy=policy.default))
        self.encrypted.append(server.transport.get_extra_info("sslcontext") is not None)
        return "250 OK"

    def log_in(self, server: Any, session: Any, envelope: Any, mechanism: str, data: object) -> AuthResult:
        right = isinstance(data, LoginPassword) and data.password == self.password.encode()
        return AuthResult(success=right, handled=False, message=None if right else f"535 not {data!r}")


@contextmanager
def mail_server(mailbox: Mailbox, context: ssl.SSLContext | None = None, starttls: bool = True) -> Iterator[int]:
    """The port of a running server; with a context it speaks TLS, from the start or after STARTTLS."""
    port = free_port()
    named: dict[str, Any] = {
        "tls_context": context if starttls else None,
        "require_starttls": context is not None and starttls,
    }
    if mailbox.password:
        named |= {"authenticator": mailbox.log_in, "auth_required": starttls, "auth_require_tls": starttls}
    controller = Controller(
        mailbox, hostname="127.0.0.1", port=port, ssl_context=None if starttls else context, ready_timeout=5.0, **named
    )
    controller.start()
    try:
        yield port
    finally:
        controller.stop()
