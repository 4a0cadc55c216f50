"""Lend the weekly flow a Prefect server of its own: loopback only, quiet, gone when we are gone.

Prefect keeps the history of runs behind a web interface and has no mode without one. Its built-in
temporary server writes to our terminal and is ended while its recorder still holds the last second
of task states (written down once a second), which both loses them and prints a traceback. So the
server is started here as a child with its output in a file, and ended only after the states have arrived.
Prefect itself is not imported in this module: its settings must stand before that import.
"""

from __future__ import annotations

import atexit
import base64
import contextlib
import fcntl
import json
import os
import secrets
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, MutableMapping
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from pipeline.errors import CinderlotError, StoreBusy

QUIET = {
    "DO_NOT_TRACK": "1",
    "PREFECT_SERVER_ANALYTICS_ENABLED": "false",
    "PREFECT_LOGGING_LEVEL": "CRITICAL",
    "PREFECT_LOGGING_INTERNAL_LEVEL": "CRITICAL",
    "PREFECT_LOGGING_TO_API_ENABLED": "false",
}
_UNUSED_SERVICES = (
    "CANCELLATION_CLEANUP", "CLEANUP_RECONCILER", "EVENT_PERSISTER", "FOREMAN", "LATE_RUNS",
    "PAUSE_EXPIRATIONS", "REPOSSESSOR", "SCHEDULER", "TRIGGERS",
)  # fmt: skip
OURS = {
    "PREFECT_SERVER_EPHEMERAL_ENABLED": "false",
    "PREFECT_SERVER_UI_ENABLED": "false",
    "PREFECT_SERVER_SERVICES_TASK_RUN_RECORDER_BATCH_SIZE": "500",
    # In whole seconds: the server drops what follows the point, and at 0 keeps a core busy.
    "PREFECT_SERVER_SERVICES_TASK_RUN_RECORDER_FLUSH_INTERVAL": "1",
    **{f"PREFECT_SERVER_SERVICES_{name}_ENABLED": "false" for name in _UNUSED_SERVICES},
}
# The child ends itself when our end of its standard input closes, however we ended. Of Prefect's two
# pages it shows the first: the second turns to a host outside, whatever the settings (3.9).
_CHILD = """
import os, signal, sys, threading

def follow():
    sys.stdin.buffer.read()
    os.kill(os.getpid(), signal.SIGTERM)

threading.Thread(target=follow, daemon=True).start()
sys.argv[0] = "prefect"
import prefect
prefect.__ui_v2_static_path__ = ""
from prefect.cli import app
app()
"""
_SETTLE_SECONDS = 10
_ENDED = ["COMPLETED", "FAILED", "CRASHED", "CANCELLED"]


@dataclass(frozen=True)
class Server:
    """A Prefect server: its address, the secret it asks for, and our child if it is ours."""

    url: str
    secret: str | None = None
    child: subprocess.Popen[bytes] | None = None
    log: Path | None = None


def start_server(
    home: Path, environ: MutableMapping[str, str] = os.environ, page: int | None = None
) -> Server:
    """Start the flow's server in the background, or name the one that PREFECT_API_URL gives.

    Sets the variables Prefect reads at import, so call it first; then `await_server`. The child is
    ended at exit of this process, after Prefect's own exit work. With `page`, a port or 0 for any
    free one, it shows Prefect's own page too, and asks there for a password that lasts. Raises
    StoreBusy when another run keeps the folder and CinderlotError when the folder cannot be written
    or the port is taken.
    """
    environ.update({name: environ.get(name, value) for name, value in QUIET.items()})
    if "PREFECT_API_URL" in environ:
        return Server(environ["PREFECT_API_URL"], environ.get("PREFECT_API_AUTH_STRING"))
    port = free_port(page or 0)
    lock = claim(home)
    secret = f"cinderlot:{secrets.token_hex(16) if page is None else _lasting_secret(home)}"
    url = f"http://127.0.0.1:{port}/api"
    environ.update(QUIET | OURS | {"PREFECT_HOME": str(home), "PREFECT_API_URL": url})
    environ.update(_shown(home) if page is not None else {})
    environ.update(PREFECT_API_AUTH_STRING=secret, PREFECT_SERVER_API_AUTH_STRING=secret)
    environ.pop("PREFECT_API_KEY", None)
    for name in ("NO_PROXY", "no_proxy"):
        environ[name] = ",".join(filter(None, [environ.get(name), "127.0.0.1"]))
    child = _spawn(home, port, environ, "--no-ui" if page is None else "--ui")
    server = Server(url, secret, child, home / "server.log")
    atexit.register(_stop, server, lock)
    return server


def await_server(
    server: Server, seconds: float = 120, stopped: Callable[[], bool] = lambda: False
) -> None:
    """Wait until the server answers; raise CinderlotError naming its log when it does not.

    Returns before that when `stopped`.
    """
    deadline = time.monotonic() + (seconds if server.child else min(seconds, 10))
    while not stopped() and not _healthy(server):
        if has_ended(server) or time.monotonic() > deadline:
            see = f"; see {server.log}" if server.log else "; check PREFECT_API_URL"
            raise CinderlotError(f"The Prefect server at {server.url} does not answer{see}.")
        time.sleep(0.05)


def has_ended(server: Server) -> bool:
    """Tell whether a server that we started has ended by itself."""
    return server.child is not None and server.child.poll() is not None


def is_gone(server: Server, seconds: float = 5) -> bool:
    """Tell whether a server answers no more; one that is only slow for some seconds does."""
    deadline = time.monotonic() + seconds
    while not has_ended(server) and time.monotonic() < deadline:
        if _healthy(server):
            return False
        time.sleep(0.5)
    return True


def settle(server: Server, flow_run_id: str, tasks: int) -> None:
    """Wait until the server has recorded the end of that many task runs of a flow run."""
    wanted = {
        "flow_runs": {"id": {"any_": [flow_run_id]}},
        "task_runs": {"state": {"type": {"any_": _ENDED}}},
    }
    deadline = time.monotonic() + _SETTLE_SECONDS
    with contextlib.suppress(OSError, ValueError):
        while ask_server(server, "task_runs/count", wanted) < tasks and time.monotonic() < deadline:
            time.sleep(0.05)


def claim(
    home: Path,
    name: str = "lock",
    seconds: float = 900,
    busy: str = "another weekly run has kept this store busy",
) -> IO[bytes]:
    """Lock a folder, made if need be, while the file that is given stays open.

    Raises StoreBusy with the words `busy` when it stays locked, CinderlotError when it cannot be
    written.
    """
    try:
        home.mkdir(parents=True, exist_ok=True)
        lock = (home / name).open("wb")
    except OSError as error:
        raise CinderlotError(f"{home}: cannot be written ({error.strerror}).") from error
    deadline = time.monotonic() + seconds
    while True:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return lock
        except BlockingIOError:
            if time.monotonic() > deadline:
                lock.close()
                raise StoreBusy(f"{home}: {busy}.") from None
            time.sleep(0.2)


def free_port(wanted: int = 0) -> int:
    """Give this port of loopback, or any when it is 0; raise CinderlotError when it is taken."""
    with socket.socket() as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind(("127.0.0.1", wanted))
        except OSError as error:
            raise CinderlotError(
                f"port {wanted} cannot be used ({error.strerror}); name another with --port, or "
                "--port 0 for any free one"
            ) from None
        return int(probe.getsockname()[1])


def _lasting_secret(home: Path) -> str:
    """Keep the page's password in a file for the owner alone, so that it need not be typed again."""
    file = home / "password"
    if not file.exists():
        file.touch(mode=0o600)
        file.write_text(secrets.token_hex(8), encoding="ascii")
    return file.read_text(encoding="ascii")


def _shown(home: Path) -> dict[str, str]:
    """Let the server show its page, out of a folder that can be written, without advertisements."""
    return {
        "PREFECT_SERVER_UI_ENABLED": "true",
        "PREFECT_SERVER_UI_V2_ENABLED": "false",
        "PREFECT_SERVER_UI_SHOW_PROMOTIONAL_CONTENT": "false",
        "PREFECT_UI_STATIC_DIRECTORY": str(home / "page"),
    }


def _spawn(
    home: Path, port: int, environ: MutableMapping[str, str], page: str
) -> subprocess.Popen[bytes]:
    with (home / "server.log").open("wb") as log:
        return subprocess.Popen(
            [sys.executable, "-c", _CHILD, "server", "start", page,
             "--host", "127.0.0.1", "--port", str(port)],
            stdin=subprocess.PIPE, stdout=log, stderr=log, env=dict(environ),
            start_new_session=True,
        )  # fmt: skip


def _stop(server: Server, lock: IO[bytes]) -> None:
    child = server.child
    if child is not None and child.stdin is not None:
        child.stdin.close()
        try:
            child.wait(timeout=5)
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()
    lock.close()


def _healthy(server: Server) -> bool:
    try:
        with urllib.request.urlopen(f"{server.url}/health", timeout=2) as answer:
            return bool(answer.status == 200)
    except OSError:
        return False


def ask_server(server: Server, path: str, question: dict[str, Any]) -> int:
    """Ask a server for a count; raise OSError or ValueError when it does not give one."""
    headers = {"Content-Type": "application/json"}
    if server.secret:
        headers["Authorization"] = "Basic " + base64.b64encode(server.secret.encode()).decode()
    body = json.dumps(question).encode()
    request = urllib.request.Request(f"{server.url}/{path}", body, headers)
    with urllib.request.urlopen(request, timeout=5) as answer:
        return int(json.load(answer))
