"""A small made-up season in a store, and `cinderlot page` over it as a process of its own.

All names and numbers are invented; they test the mechanics of the pages only.
"""

from __future__ import annotations

import http.client
import signal
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Self
from urllib.parse import urlsplit

import openpyxl

from pipeline.flows import Workplace, load
from pipeline.settings import Settings

COMMAND = "import sys; from pipeline.cli import main; sys.exit(main())"
# Names as a hostile or careless hand may write them; they must come out as text and nothing else.
WILD = "<script>alert(1)</script>"
QUOTED = "L\"'&#39;=1+1"

REPORTS = {
    "bench/one.csv": """Laboratory,Bench One
Report number,B1-7
,
Sample,Lot,Matrix,Stage,Sampled,Vineyard,Variety,Vintage,Free guaiacol (ug/L),Free phenol (ug/L),Total guaiacol (ug/L)
S-1,L-1,Red wine,end of AF,2025-10-02,Upper Hollow,Shiraz,2025,24.5,<1,60.2
S-2,L-2,Red wine,end of AF,2025-10-03,Upper Hollow,Shiraz,2025,<0.5,<1,4.1
S-3,L-3,Red wine,end of AF,2025-10-04,Lower Hollow,Merlot,2024,8.25,2.2,19.4
S-4,L-1,Red wine,ageing,2026-01-12,Upper Hollow,Shiraz,2025,25.1,<1,58.8
""",  # noqa: E501
    "two.csv": """Laboratory,Bench Two
Report number,B2-1
,
Sample,Lot,Matrix,Stage,Sampled,Vineyard,Variety,Vintage,Free guaiacol (ug/L),Free phenol (ug/L)
T-1,L-1,Red wine,ageing,2026-01-14,Upper Hollow,Shiraz,2025,19.9,14.0
T-2,"<script>alert(1)</script>",Red wine,ageing,2026-01-15,"<b>Bold & Row</b>",Merlot,2024,3.3,1.0
T-3,"L""'&#39;=1+1",Red wine,ageing,2026-01-16,Lower Hollow,Merlot,2024,4.4,n.q.w.x
""",
}  # fmt: skip
REGISTER: dict[str, list[list[Any]]] = {
    "lots": [["lot", "vineyard", "variety", "colour", "vintage", "volume_l", "block"],
             ["L-1", "Upper Hollow", "Shiraz", "red", 2025, 1200, "B7"],
             ["L-9", "Upper Hollow", "Shiraz", "red", 2025, 300, "B8"]],
    "samples": [["sample_id", "lab", "lot"], ["S-1", "Bench One", "L-1"]],
    "interventions": [["lot", "kind", "agent", "dose", "dose_unit", "done_on"],
                      ["L-1", "fining", "activated carbon", 40, "g/hL", "2025-12-01"]],
    "movements": [["from_lot", "to_lot", "kind", "volume_l", "moved_on"],
                  ["L-1", "L-9", "blend", 150, "2026-02-01"]],
    "tastings": [["lot", "attribute", "score", "scale_max", "panel_size", "tasted_on"],
                 ["L-1", "ash aftertaste", 3.4, 9, 8, "2026-01-20"]],
    "decisions": [["lot", "decision", "decided_on", "who", "note", "retest_due_on"],
                  ["L-1", "hold", "2026-01-25", "winemaker", "wait for the panel", "2026-03-01"]],
    "exposures": [["block", "from", "to", "growth_stage", "index", "source"],
                  ["B7", "2025-08-03", "2025-08-09", "veraison", 0.9, "diary"]],
}  # fmt: skip


def write_season(folder: Path) -> Path:
    """Write the reports and the register into a folder."""
    for name, text in REPORTS.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    book = openpyxl.Workbook()
    book.remove(book.worksheets[0])
    for name, lines in REGISTER.items():
        sheet = book.create_sheet(name)
        for line in lines:
            sheet.append(line)
    book.save(folder / "register.xlsx")
    return folder


def load_season(folder: Path) -> Path:
    """Write the season and load it; give the store."""
    store = folder / "season.duckdb"
    reports = write_season(folder / "reports")
    summary = load([reports], Workplace(store, Settings()), lambda *_: None)
    assert summary.count("refused") == 0
    return store


@dataclass(frozen=True)
class Got:
    """An answer: status, headings by lower-case name, and content."""

    status: int
    headers: dict[str, str]
    content: bytes

    @property
    def text(self) -> str:
        """Give the content as text."""
        return self.content.decode()


class Pages:
    """`cinderlot page` as a process of its own, for the time of a `with` block."""

    def __init__(self, store: Path, *words: str) -> None:
        command = [sys.executable, "-c", COMMAND, "page", "--port", "0", "--db", str(store), *words]
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        assert self.process.stdout is not None
        self.said = self.process.stdout.readline()
        self.address = self.said.split()[0] if self.said else ""
        self.port = urlsplit(self.address).port or 0

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()

    def stop(self) -> tuple[int, str]:
        """Press Ctrl-C; give the exit code and what was said on standard error."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
        _, complaints = self.process.communicate(timeout=300)
        return self.process.returncode, complaints

    def get(self, path: str, method: str = "GET", host: str | None = None) -> Got:
        """Ask for a path, as a browser on this machine does."""
        asking = http.client.HTTPConnection("127.0.0.1", self.port, timeout=300)
        try:
            asking.request(method, path, headers={"Host": host or f"127.0.0.1:{self.port}"})
            answer = asking.getresponse()
            headers = {name.lower(): value for name, value in answer.getheaders()}
            return Got(answer.status, headers, answer.read())
        finally:
            asking.close()
