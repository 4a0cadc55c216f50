"""The flows: one order of stages, plain or under Prefect, quiet and without the outside world."""

from __future__ import annotations

import json
import os
import signal
import sqlite3
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import openpyxl
import pytest
from processes import is_alone

from pipeline.cli import run
from pipeline.errors import CinderlotError
from pipeline.find import find
from pipeline.flows import Workplace, load, prepare
from pipeline.servers import Server, await_server, start_server
from pipeline.settings import Settings
from pipeline.store import Store
from pipeline.summaries import Loaded
from schemas.report import Report

ROOT = Path(__file__).parents[1]
REPORT = """Laboratory,Bench of the Test
Report number,TB-{number}
,
Sample,Lot,Matrix,Stage,Free guaiacol (ug/L),Free 4-methylguaiacol (ug/L)
S-{number},L-{number},Red wine,end of AF,12.3,<0.5
"""
# Runs in every Python process started from a test: writes down each address it turns to.
WATCHER = """
import os, sys
def watch(event, args):
    if event == "socket.connect":
        where = args[1][0] if isinstance(args[1], tuple) else "local"
    elif event in ("socket.getaddrinfo", "socket.gethostbyname", "socket.gethostbyaddr"):
        where = args[0]
    elif event == "socket.sendto":
        where = args[1][0] if isinstance(args[1], tuple) else "local"
    else:
        return
    where = where.decode() if isinstance(where, bytes) else where
    with open(os.environ["ADDRESSES"], "a") as log:
        log.write(f"{event} {where}\\n")
sys.addaudithook(watch)
"""
NEAR = {"127.0.0.1", "::1", "localhost", "local", "None", ""}


@dataclass(frozen=True)
class Run:
    """A finished run of the command in a process of its own."""

    code: int
    out: str
    err: str
    seconds: float


def write_reports(folder: Path, *numbers: int) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    for number in numbers:
        text = REPORT.format(number=number)
        (folder / f"report{number}.csv").write_text(text, encoding="utf-8")
    return folder


def begin(folder: Path, *arguments: str, **settings: str) -> subprocess.Popen[str]:
    (folder / "watcher").mkdir(exist_ok=True)
    (folder / "watcher" / "sitecustomize.py").write_text(WATCHER, encoding="utf-8")
    environ = {name: value for name, value in os.environ.items() if "PREFECT" not in name}
    environ["PYTHONPATH"] = f"{folder / 'watcher'}{os.pathsep}{ROOT}"
    environ["ADDRESSES"] = str(folder / "addresses.txt")
    environ |= settings
    return subprocess.Popen(
        [sys.executable, "-m", "pipeline.cli", *arguments],
        cwd=folder, env=environ, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        start_new_session=True,
    )  # fmt: skip


def finish(child: subprocess.Popen[str]) -> Run:
    begun = time.monotonic()
    with child:
        out, err = child.communicate(timeout=600)
    return Run(child.returncode, out, err, time.monotonic() - begun)


def recorded(folder: Path, query: str) -> list[tuple[object, ...]]:
    """Ask the history that Prefect's server kept of the runs."""
    with sqlite3.connect(folder / ".cinderlot" / "prefect" / "prefect.db") as history:
        rows = history.execute(query).fetchall()
    history.close()
    return rows


@dataclass(frozen=True)
class Season:
    """A folder in which weekly runs were made, one after the other and two at once."""

    folder: Path
    first: Run
    both: tuple[Run, Run]


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> Season:
    folder = tmp_path_factory.mktemp("season")
    write_reports(folder / "in", 1, 2)
    (folder / "in" / "page.xlsx").write_text("<html><body>log in</body></html>", encoding="utf-8")
    first = finish(begin(folder, "weekly", "in", "--out", "out"))
    write_reports(folder / "a", 3)
    write_reports(folder / "b", 4)
    children = [
        begin(folder, "weekly", name, "--out", f"out-{name}", *more)
        for name, more in (("a", ()), ("b", ("--json",)))
    ]
    return Season(folder, first, (finish(children[0]), finish(children[1])))


def test_a_week_goes_from_files_to_the_digest(season: Season) -> None:
    assert season.first.code == 1, "page.xlsx is refused, the others are stored"
    lines = season.first.out.splitlines()
    assert lines[0].startswith("report1.csv: Bench of the Test, report TB-1")
    assert "2 new reports, 1 refused: 4 results" in lines[-2]
    assert lines[-1] == "Digest: out/digest.html, out/digest.xlsx"
    assert {p.name for p in (season.folder / "out").iterdir()} == {"digest.html", "digest.xlsx"}


def test_a_week_prints_nothing_that_is_not_ours(season: Season) -> None:
    assert season.first.err.startswith("page.xlsx: ")
    assert season.first.err.count("\n") == 1
    assert season.both[0].err == ""
    assert season.both[1].err.startswith("report4.csv: Bench of the Test, report TB-4")
    assert season.both[1].err.count("\n") == 1


def test_a_week_told_to_a_script_is_one_object(season: Season) -> None:
    told = json.loads(season.both[1].out)
    assert [(f["file"], f["outcome"], f["n_results"]) for f in told["files"]] == [
        ("report4.csv", "new", 2)
    ]
    assert told["digest"] == ["out-b/digest.html", "out-b/digest.xlsx"]
    assert told["letters"] == []
    assert told["exit_code"] == 0


def test_the_server_has_nothing_to_complain_of(season: Season) -> None:
    log = (season.folder / ".cinderlot" / "prefect" / "server.log").read_text(encoding="utf-8")
    assert "Traceback" not in log
    assert "ERROR" not in log


def test_two_weeks_at_once_both_end_right(season: Season) -> None:
    assert [run.code for run in season.both] == [0, 0]
    with Store(season.folder / "cinderlot.duckdb", read_only=True) as store:
        assert sorted(store.reports()["report_no"]) == ["TB-1", "TB-2", "TB-3", "TB-4"]
        assert store.results().height == 8


def test_each_report_is_one_task_of_one_flow_run(season: Season) -> None:
    flows = recorded(season.folder, "SELECT state_type FROM flow_run ORDER BY start_time")
    assert flows == [("COMPLETED",)] * 3
    tasks = recorded(
        season.folder,
        "SELECT name, state_type FROM task_run WHERE flow_run_id = "
        "(SELECT id FROM flow_run ORDER BY start_time LIMIT 1)",
    )
    assert sorted(tasks) == [
        ("derive and flag", "COMPLETED"),
        ("digest", "COMPLETED"),
        ("page.xlsx", "FAILED"),
        ("report1.csv", "COMPLETED"),
        ("report2.csv", "COMPLETED"),
        ("sum up", "COMPLETED"),
    ]


def test_the_load_stands_beside_the_flow_run(season: Season) -> None:
    [(rows,)] = recorded(
        season.folder,
        "SELECT data FROM artifact WHERE key = 'cinderlot-weekly-load' ORDER BY created LIMIT 1",
    )
    table = json.loads(json.loads(str(rows)))
    outcomes = {row["file"]: row["outcome"] for row in table}
    assert outcomes == {"page.xlsx": "refused", "report1.csv": "new", "report2.csv": "new"}
    # Counted by hand: one sample, two analytes, nothing held.
    [first] = [row for row in table if row["file"] == "report1.csv"]
    counts = ("report", "values", "results", "qc", "held", "held by reason")
    assert [first[name] for name in counts] == ["Bench of the Test TB-1", 2, 2, 0, 0, ""]
    assert list(first)[:4] == ["report", "values", "results", "held by reason"]
    assert table[0]["held by reason"] == "refused: see message"


def test_a_week_turns_to_this_machine_only(season: Season) -> None:
    turned_to = [
        line.split(" ", 1)
        for line in (season.folder / "addresses.txt").read_text(encoding="utf-8").splitlines()
    ]
    assert ["socket.connect", "127.0.0.1"] in turned_to, "the watcher saw nothing"
    assert {where for _, where in turned_to} <= NEAR


def test_no_server_outlives_its_run(season: Season) -> None:
    home = str(season.folder / ".cinderlot")
    living = [process for process in Path("/proc").glob("[0-9]*/environ") if home in _read(process)]
    assert living == []


def _read(process: Path) -> str:
    try:
        return process.read_bytes().decode(errors="replace")
    except OSError:
        return ""


def _imports_polars(child: subprocess.Popen[str], folder: Path) -> bool:
    return "polars" in _read(Path(f"/proc/{child.pid}/maps"))


def _has_a_server(child: subprocess.Popen[str], folder: Path) -> bool:
    return (folder / ".cinderlot" / "prefect" / "server.log").exists()


@pytest.fixture(params=[_imports_polars, _has_a_server], ids=["at the start", "under way"])
def interrupted(request: pytest.FixtureRequest, tmp_path: Path) -> tuple[Path, Run]:
    write_reports(tmp_path / "in", 1)
    child = begin(tmp_path, "weekly", "in", "--out", "out")
    while not request.param(child, tmp_path):
        assert child.poll() is None
        time.sleep(0.01)
    child.send_signal(signal.SIGINT)
    return tmp_path, finish(child)


def test_an_interrupted_week_ends_with_a_sentence(interrupted: tuple[Path, Run]) -> None:
    folder, ended = interrupted
    stopped = "cinderlot: stopped; every report is stored whole or not at all.\n"
    assert (ended.code, ended.err) == (130, stopped)
    assert is_alone(folder)


def test_the_plain_load_never_imports_prefect(tmp_path: Path) -> None:
    write_reports(tmp_path / "in", 1)
    script = (
        "import sys; from pipeline.cli import run; code = run(['load', 'in']); "
        "sys.exit(code or 'prefect' in sys.modules)"
    )
    done = subprocess.run(
        [sys.executable, "-c", script],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        timeout=300, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr


def test_loading_tells_of_each_file_in_order(tmp_path: Path) -> None:
    write_reports(tmp_path / "in", 3, 1, 2)
    told: list[tuple[str, int, int]] = []

    def tell(loaded: Loaded, done: int, total: int) -> None:
        told.append((loaded.file, done, total))

    load([tmp_path / "in"], Workplace(tmp_path / "store.duckdb", Settings()), tell)
    assert told == [("report1.csv", 1, 3), ("report2.csv", 2, 3), ("report3.csv", 3, 3)]


def test_what_is_derived_is_fresh_after_a_load(tmp_path: Path) -> None:
    write_reports(tmp_path / "in", 1)
    workplace = Workplace(tmp_path / "store.duckdb", Settings())
    load([tmp_path / "in"], workplace, lambda *_: None)
    with Store(workplace.store, read_only=True) as store:
        assert set(store.flags()["lot"]) == {"L-1"}


def test_every_order_of_loading_gives_the_same_state(tmp_path: Path) -> None:
    write_reports(tmp_path / "in", 1, 2)
    states = set()
    for name, order in (("there", [1, 2]), ("back", [2, 1])):
        workplace = Workplace(tmp_path / f"{name}.duckdb", Settings())
        for number in order:
            load([tmp_path / "in" / f"report{number}.csv"], workplace, lambda *_: None)
        with Store(workplace.store, read_only=True) as store:
            states.add(store.fingerprint())
    assert len(states) == 1


@pytest.mark.parametrize(("named", "lab"), [(True, "Bench of the Test"), (False, "Other Bench")])
def test_a_laboratory_is_assumed_only_where_none_is_named(
    tmp_path: Path, named: bool, lab: str
) -> None:
    text = REPORT.format(number=1)
    path = tmp_path / "report.csv"
    path.write_text(text if named else text.split("\n", 1)[1], encoding="utf-8")
    [source] = find([path]).sources
    place = Workplace(tmp_path / "s.duckdb", Settings(), lab="Other Bench")
    (prepared,) = prepare([source], place)
    assert isinstance(prepared, Report)
    assert prepared.lab == lab
    assert set(prepared.stored["lab"]) == {lab}


def register_with(path: Path, *beside: list[object]) -> Path:
    """Write a register of one lot with one more sheet, "Phenols", of these rows."""
    book = openpyxl.Workbook()
    sheets = {
        "lots": (["lot", "vineyard"], ["L-1", "East"]),
        "samples": (["sample_id", "lot"], ["S-1", "L-1"]),
        "Phenols": beside,
    }
    book.remove(book.worksheets[0])
    for name, rows in sheets.items():
        sheet = book.create_sheet(name)
        for row in rows:
            sheet.append(row)
    book.save(path)
    return path


@pytest.mark.parametrize("command", ["load", "register"])
def test_results_beside_a_register_are_not_lost_in_silence(
    tmp_path: Path, command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    results = (["Sample", "Free guaiacol (ug/L)"], ["S-1", 12.3])
    path = register_with(tmp_path / "all.xlsx", *results)
    assert run([command, str(path), "--db", str(tmp_path / "s.duckdb")]) == 1
    told = capsys.readouterr()
    assert "results too (header at Phenols!B1)" in told.out + told.err
    assert "two workbooks" in told.out + told.err


def test_another_sheet_of_a_register_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = register_with(tmp_path / "register.xlsx", ["telephone", "of the cellar"])
    assert run(["load", str(path), "--db", str(tmp_path / "s.duckdb")]) == 0
    assert "a register has no such sheet: Phenols" in capsys.readouterr().out


def test_a_server_that_is_named_is_used_and_not_started(tmp_path: Path) -> None:
    environ = {"PREFECT_API_URL": "http://127.0.0.1:9/api"}
    server = start_server(tmp_path / "home", environ)
    assert server == Server("http://127.0.0.1:9/api")
    assert not (tmp_path / "home").exists()
    assert environ["DO_NOT_TRACK"] == "1"


def test_a_week_goes_on_when_its_server_ends(tmp_path: Path) -> None:
    write_reports(tmp_path / "reports", *range(1, 7))
    own = dict(os.environ)
    server = start_server(tmp_path / "server", own)
    await_server(server)
    told = {n: own[n] for n in ("PREFECT_API_URL", "PREFECT_API_AUTH_STRING", "PREFECT_HOME")}
    child = begin(tmp_path, "weekly", "reports", "--out", "digest", **told)
    assert child.stdout is not None
    first = child.stdout.readline()
    assert server.child is not None
    server.child.kill()
    run = finish(child)
    assert (run.code, first[:12]) == (0, "report1.csv:")
    assert run.err.count("\n") == 1
    assert "ended during the run, which was done to its end without it" in run.err
    assert (tmp_path / "digest" / "digest.html").exists()
    with Store(tmp_path / "cinderlot.duckdb", read_only=True) as store:
        assert store.reports().height == 6
        assert store.flags().height > 0


def test_a_server_that_does_not_answer_is_named() -> None:
    with pytest.raises(CinderlotError, match=r"127\.0\.0\.1:9.*PREFECT_API_URL"):
        await_server(Server("http://127.0.0.1:9/api"), seconds=0.2)


def test_a_folder_that_cannot_be_written_is_a_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("PREFECT_API_URL", raising=False)
    write_reports(tmp_path / "in", 1)
    (tmp_path / ".cinderlot").write_text("in the way", encoding="utf-8")
    assert run(["weekly", "in", "--out", "out"]) == 3
    assert ".cinderlot" in capsys.readouterr().err
