"""Send a message through a mail server: encrypted, tried again, and never in doubt unsaid."""

from __future__ import annotations

import smtplib
import ssl
import time
from collections.abc import Sequence
from email.message import EmailMessage
from typing import TYPE_CHECKING

from pipeline.errors import CinderlotError

if TYPE_CHECKING:
    from pipeline.settings import Email

PAUSES = (1.0, 4.0, 10.0)  # seconds before each further try
_PATIENCE = 30.0  # seconds to wait for a server's answer
_LOOPBACK = ("localhost", "127.0.0.1", "::1")


class NotSent(CinderlotError):
    """Say why a message was not sent; it has surely not arrived."""


class Unsure(CinderlotError):
    """Say that the connection broke while the message was handed over: it may have arrived."""


class _TryAgain(Exception):
    """A failure that may pass."""


def send(
    message: EmailMessage, account: Email, password: str | None, pauses: Sequence[float] = PAUSES
) -> None:
    """Hand a message to the account's server; what may pass is tried again after each pause.

    Raises NotSent when the server cannot be reached, refuses the login, the address or the message,
    or offers no encryption; Unsure when the connection broke before the server's last word.
    """
    _check_login(account, password)
    for pause in pauses:
        try:
            _send_once(message, account, password)
            return
        except _TryAgain:
            time.sleep(pause)
    try:
        _send_once(message, account, password)
    except _TryAgain as failure:
        tries = len(pauses) + 1
        raise NotSent(f"{_named(account)} {failure} (tried {tries} times)") from None


def _named(account: Email) -> str:
    return f"mail server {account.server}:{account.port}"


def _send_once(message: EmailMessage, account: Email, password: str | None) -> None:
    try:
        with _connect(account) as server:
            if account.user is not None and password is not None:
                server.login(account.user, password)
            _hand_over(server, message, account)
    except ssl.SSLError as error:
        reason = getattr(error, "verify_message", "") or error.reason or str(error)
        raise NotSent(
            f"{_named(account)}: the encrypted connection cannot be trusted ({reason}); check "
            "server, port and encryption in [email] of the settings"
        ) from None
    except (
        OSError,
        smtplib.SMTPException,
    ) as error:  # SMTPException is an OSError; named for readers
        raise _judge(error, account) from None


def _connect(account: Email) -> smtplib.SMTP:
    context = ssl.create_default_context()
    if account.encryption == "tls":
        return smtplib.SMTP_SSL(account.server, account.port, timeout=_PATIENCE, context=context)
    server = smtplib.SMTP(account.server, account.port, timeout=_PATIENCE)
    if account.encryption == "starttls":
        try:
            server.starttls(context=context)
        except BaseException:
            server.close()
            raise
    return server


def _check_login(account: Email, password: str | None) -> None:
    if account.user is None:
        return
    if password is None:
        raise NotSent(
            f"{_named(account)}: user {account.user} needs a password; set the environment "
            "variable CINDERLOT_EMAIL_PASSWORD"
        )
    if account.encryption == "none" and account.server not in _LOOPBACK:
        raise NotSent(
            f"{_named(account)}: a password is not sent without encryption; set encryption to "
            "starttls or tls in [email] of the settings"
        )


def _hand_over(server: smtplib.SMTP, message: EmailMessage, account: Email) -> None:
    server.ehlo_or_helo_if_needed()
    _expect(server.mail(account.sender))
    _expect(server.rcpt(str(message["To"])))
    try:
        _expect(server.data(message.as_bytes(policy=message.policy.clone(linesep="\r\n"))))
    except (smtplib.SMTPServerDisconnected, TimeoutError, ConnectionError):
        raise Unsure(
            f"{_named(account)} broke off before it confirmed the message; whether it arrived is "
            "not known: ask the recipient, then send it once more with --again"
        ) from None


def _expect(answer: tuple[int, bytes]) -> None:
    code, text = answer
    if code >= 400:
        raise smtplib.SMTPResponseException(code, text)


def _judge(error: Exception, account: Email) -> Exception:
    """Tell a failure that may pass from one that will not."""
    if isinstance(error, smtplib.SMTPAuthenticationError):
        return NotSent(
            f"{_named(account)} refuses the login of {account.user}; check user in [email] of the "
            "settings and the environment variable CINDERLOT_EMAIL_PASSWORD"
        )
    if isinstance(error, smtplib.SMTPResponseException):
        answer = f"answers {error.smtp_code} {_decoded(error.smtp_error)}"
        return (
            _TryAgain(answer) if error.smtp_code < 500 else NotSent(f"{_named(account)} {answer}")
        )
    if isinstance(error, smtplib.SMTPNotSupportedError):
        return NotSent(
            f"{_named(account)} does not offer what the settings ask for ({error}); check "
            "encryption and user in [email]"
        )
    return _TryAgain(f"does not answer ({getattr(error, 'strerror', None) or error})")


def _decoded(text: bytes | str) -> str:
    return text.decode(errors="replace") if isinstance(text, bytes) else text
