"""Stand before every page: only this machine asks, only to read, and nothing comes from elsewhere."""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from starlette.types import ASGIApp, Message, Receive, Scope, Send

# A page elsewhere may let its own name lead to this machine; the Host header then gives it away.
OURS = ("127.0.0.1", "localhost")
HEADERS = {
    "content-security-policy": "default-src 'none'; style-src 'self'; script-src 'self'; "
    "img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cache-control": "no-store",
}
Refuse = Callable[[int, str, str], ASGIApp]


class Guard:
    """Refuse foreign hosts and methods, and put the same headers on every answer.

    `refuse` draws the page that says so: status, what is wrong, what to do next.
    """

    def __init__(self, app: ASGIApp, refuse: Refuse) -> None:
        self.app = app
        self.refuse = refuse

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            return
        await self._choose(scope)(scope, receive, _with_headers(send))

    def _choose(self, scope: Scope) -> ASGIApp:
        host = next((v for n, v in scope["headers"] if n == b"host"), b"").decode("latin-1")
        if host.rsplit(":", 1)[0] not in OURS:
            return self.refuse(
                400, "This page answers only to its own address on this machine.",
                "Use the address that cinderlot page prints.",
            )  # fmt: skip
        if scope["method"] not in ("GET", "HEAD"):
            return self.refuse(
                405, "This page can only be read.",
                "Change what is stored with the commands, such as cinderlot load.",
            )  # fmt: skip
        return self.app


def _with_headers(send: Send) -> Callable[[Message], Awaitable[None]]:
    added = [(name.encode(), value.encode()) for name, value in HEADERS.items()]

    async def send_with(message: Message) -> None:
        if message["type"] == "http.response.start":
            own = {name for name, _ in message.get("headers", [])}
            message["headers"] = [
                *message.get("headers", []),
                *((name, value) for name, value in added if name not in own),
            ]
        await send(message)

    return send_with
