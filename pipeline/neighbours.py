"""Let a run beside `serve` show on the page of its Prefect server, through a file in its folder."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, MutableMapping
from contextlib import contextmanager, suppress
from pathlib import Path

from pipeline.servers import QUIET, Server, ask_server, start_server


def serving_home(store: Path) -> Path:
    """Name the folder that a `serve` of a store keeps for itself."""
    return store.resolve().parent / ".cinderlot" / "serve" / store.name


def _told(home: Path) -> Path:
    return home / "server.json"


@contextmanager
def made_known(home: Path, server: Server) -> Iterator[None]:
    """Tell other runs of this user where a server answers, for as long as the `with` lasts."""
    told = _told(home)
    told.unlink(missing_ok=True)
    told.touch(mode=0o600)
    told.write_text(json.dumps({"url": server.url, "secret": server.secret}), encoding="utf-8")
    try:
        yield
    finally:
        told.unlink(missing_ok=True)


def find_server(store: Path, environ: MutableMapping[str, str] = os.environ) -> Server:
    """Give the server of a `serve` of this store if it answers, else start one beside the store.

    What PREFECT_API_URL gives goes before both. A file that was left behind by a `serve` that was
    killed leads nowhere, or to a server that does not take its secret, and is passed over.
    """
    home = serving_home(store)
    if "PREFECT_API_URL" not in environ:
        with suppress(OSError, ValueError, KeyError):
            told = json.loads(_told(home).read_text(encoding="utf-8"))
            server = Server(told["url"], told["secret"])
            ask_server(server, "flow_runs/count", {})
            _follow(server, home, environ)
    return start_server(store.resolve().parent / ".cinderlot" / "prefect", environ)


def _follow(server: Server, home: Path, environ: MutableMapping[str, str]) -> None:
    environ.update(QUIET | {"PREFECT_HOME": str(home), "PREFECT_API_URL": server.url})
    environ.update({"PREFECT_API_AUTH_STRING": server.secret} if server.secret else {})
    for name in ("NO_PROXY", "no_proxy"):
        environ[name] = ",".join(filter(None, [environ.get(name), "127.0.0.1"]))
