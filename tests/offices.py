"""A mail server on loopback for the time of a test: with a box, encryption and a login."""

from __future__ import annotations

import email
import email.policy
import socket
import ssl
from dataclasses import dataclass, field
from email.message import EmailMessage
from pathlib import Path
from typing import Any

import trustme
from aiosmtpd.controller import Controller
from aiosmtpd.smtp import SMTP, AuthResult, LoginPassword


@dataclass
class Box:
    """What the server takes; `answers` are given before a message is accepted."""

    answers: list[str] = field(default_factory=list)
    letters: list[EmailMessage] = field(default_factory=list)
    envelopes: list[tuple[str, list[str]]] = field(default_factory=list)

    async def handle_DATA(self, server: SMTP, session: Any, envelope: Any) -> str:
        if self.answers:
            answer = self.answers.pop(0)
            if answer == "break off":
                server.transport.abort()
                return ""
            return answer
        message = email.message_from_bytes(envelope.content, policy=email.policy.default)
        assert isinstance(message, EmailMessage)
        self.letters.append(message)
        self.envelopes.append((envelope.mail_from, envelope.rcpt_tos))
        return "250 taken"

    async def handle_RCPT(
        self, server: SMTP, session: Any, envelope: Any, address: str, options: list[str]
    ) -> str:
        if address.startswith("nobody"):
            return "550 no such reader"
        envelope.rcpt_tos.append(address)
        return "250 known"


@dataclass
class Office:
    """A mail server on loopback with a box, and the certificate that vouches for it."""

    port: int
    box: Box
    trust: Path


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def is_login(server: SMTP, session: Any, envelope: Any, mechanism: str, given: Any) -> AuthResult:
    right = isinstance(given, LoginPassword) and given == LoginPassword(b"cellar", b"oak and ash")
    return AuthResult(success=right, handled=right)


def open_office(folder: Path, kind: str) -> tuple[Controller, Office]:
    authority = trustme.CA()
    trust = folder / "authority.pem"
    authority.cert_pem.write_to_path(trust)
    context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
    authority.issue_cert("localhost", "127.0.0.1").configure_cert(context)
    box, port = Box(), free_port()
    shared: dict[str, Any] = {"hostname": "127.0.0.1", "port": port}
    if kind == "none":
        office = Controller(box, **shared)
    elif kind == "starttls":
        office = Controller(
            box, **shared, tls_context=context, require_starttls=True, authenticator=is_login,
            auth_required=True,
        )  # fmt: skip
    else:
        office = Controller(box, **shared, ssl_context=context)
    office.start()
    return office, Office(port, box, trust)
