"""Remember which digest went to whom."""

from __future__ import annotations

from typing import Literal

import duckdb

from pipeline.store.append import insert_line, now
from pipeline.store.connect import first_row

Claim = Literal["claimed", "sent", "unsure"]
_OPEN = "WHERE address = ? AND state = ? AND sent_at IS NULL"
_LAST = """SELECT state FROM base.sending WHERE address = ? AND sent_at IS NOT NULL
ORDER BY sent_at DESC LIMIT 1"""


def claim(con: duckdb.DuckDBPyConnection, address: str, state: str, *, again: bool) -> Claim:
    """Claim a sending in the caller's transaction, unless it is done or its end is not known.

    It is done when this state was the last one to be sent to the address.
    """
    if not again:
        if first_row(con, _LAST, [address]) == (state,):
            return "sent"
        if first_row(con, f"SELECT state FROM base.sending {_OPEN}", [address, state]):
            return "unsure"
    con.execute(f"DELETE FROM base.sending {_OPEN}", [address, state])
    insert_line(con, "sending", {"address": address, "state": state, "claimed_at": now()})
    return "claimed"


def close(con: duckdb.DuckDBPyConnection, address: str, state: str, *, sent: bool) -> None:
    """Say that a claimed message was taken by the server, or take the claim back."""
    if sent:
        con.execute(f"UPDATE base.sending SET sent_at = ? {_OPEN}", [now(), address, state])
    else:
        con.execute(f"DELETE FROM base.sending {_OPEN}", [address, state])
