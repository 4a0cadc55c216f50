"""Serve the pages on this machine until Ctrl-C."""

from __future__ import annotations

import contextlib
import errno
import socket
import threading
from collections.abc import Callable

import uvicorn

from pipeline.errors import CinderlotError
from pipeline.page.app import make_app
from pipeline.page.asked import read_view
from pipeline.page.comparing import compared
from pipeline.page.drawing import warm_up
from pipeline.page.site import PATIENCE, Site
from pipeline.store import Store

HOST = "127.0.0.1"


def listen(port: int) -> socket.socket:
    """Take a port of this machine; 0 takes a free one. Raise CinderlotError when it is not to be had."""
    taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        taken.bind((HOST, port))
        taken.listen(128)
    except OSError as error:
        taken.close()
        if error.errno == errno.EADDRINUSE:
            why = "is in use, perhaps by another cinderlot page"
        else:
            why = f"cannot be used ({error.strerror})"
        raise CinderlotError(
            f"port {port} {why}; name another with --port, or --port 0 for any free one"
        ) from None
    return taken


def serve(site: Site, port: int, tell: Callable[[str], object] = print) -> None:
    """Show a store's pages on loopback until Ctrl-C; `tell` is given the address once it answers.

    Raises CinderlotError when there is no store or the port is not to be had.
    """
    Store(site.store, read_only=True).close()
    with listen(port) as taken:
        address = f"http://{HOST}:{taken.getsockname()[1]}/"
        config = uvicorn.Config(
            make_app(site), log_level="critical", access_log=False, lifespan="off", ws="none",
            http="h11", loop="asyncio", server_header=False, proxy_headers=False,
            timeout_graceful_shutdown=2,
        )  # fmt: skip
        for work in (lambda: _prepare(site), warm_up):
            threading.Thread(target=work, daemon=True).start()
        tell(address)
        # Ctrl-C is how one stops it, and no fault.
        with contextlib.suppress(KeyboardInterrupt):
            try:
                uvicorn.Server(config).run(sockets=[taken])
            finally:
                site.break_off()


def _prepare(site: Site) -> None:
    """Work out what every page needs, and the first one, while the browser opens."""
    # Whatever is wrong is told to whoever asks for a page.
    with (
        contextlib.suppress(Exception),
        Store(site.store, read_only=True, wait=PATIENCE) as store,
        site.busy(store),
    ):
        compared(site, store, read_view(()))
