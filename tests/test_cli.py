"""The command line as a person meets it: exit codes, sentences, tables, and a quick start."""

from __future__ import annotations

import csv
import io
import json
import os
import pty
import re
import shutil
import subprocess
import sys
from pathlib import Path

import polars as pl
import pytest

from pipeline.cli import run
from pipeline.cli.faults import guarded
from pipeline.cli.tables import interval, number, table
from pipeline.preview import Sight, draw
from pipeline.store import Store

ROOT = Path(__file__).parents[1]
# Counted by hand: 4 crossings of sample and analyte; "abc" is no number, "NT" was not analysed.
REPORT = """Laboratory,Bench of the Test
Report number,TB-{number}
,
Sample,Lot,Matrix,Stage,Free guaiacol (ug/L),Free 4-methylguaiacol (ug/L)
S-1,L-1,Red wine,end of AF,12.3,<0.5
S-2,L-2,Red wine,end of AF,{last},{held}
"""
COMMANDS = (
    "demo", "init", "weekly", "load", "register", "preview", "serve", "held", "flags", "digest",
    "trend", "quality", "sql", "page",
)  # fmt: skip


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def write_report(folder: Path, number: int = 1, last: str = "30.1", held: str = "abc") -> Path:
    path = folder / f"report{number}.csv"
    path.write_text(REPORT.format(number=number, last=last, held=held), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a store of one report, made once; tests only ask it."""
    folder = tmp_path_factory.mktemp("filled")
    (folder / "empty").mkdir()
    write_report(folder)
    done = start("load", "report1.csv", cwd=folder)
    assert done.returncode == 0, done.stderr
    return folder


@pytest.fixture
def store(filled: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(filled)
    return filled


def start(*arguments: str, cwd: Path, source: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """Run the command in a process of its own, as a person does."""
    return subprocess.run(
        [sys.executable, "-m", "pipeline.cli", *arguments],
        cwd=cwd, env={**os.environ, "PYTHONPATH": str(source)}, capture_output=True, text=True,
        timeout=300, check=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("typed", "completed"),
    [
        ("cinderlot tr", ["trend"]),
        ("cinderlot digest --dr", ["--dry-run"]),
        ("cinderlot trend 4-methylg", ["4-methylguaiacol", *(f"4-methylguaiacol\\ {s}" for s in
                                       ("rutinoside", "gentiobioside", "glucoside",
                                        "pentosylglucoside"))]),
        ("cinderlot trend guaiacol --by lot --lab B", ["Bench\\ of\\ the\\ Test"]),
        ("cinderlot\ntrend\nguaiacol\n--lab\nBench\\ o", ["Bench\\ of\\ the\\ Test"]),
        ("cinderlot\ntrend\nguaiacol\n--lab\n\"Bench o", ["Bench of the Test"]),
        ("cinderlot\ntrend\nguaiacol\n--lab\n'Bench o", ["Bench of the Test"]),
        ("cinderlot\ntrend\nL", ["L\\*"]),
        ("cinderlot flags --lot ", ["L-1", "L-2"]),
        ("cinderlot flags --db nowhere.duckdb --lot L", []),
    ],
)  # fmt: skip
def test_the_tab_key_completes(
    store: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], typed: str,
    completed: list[str],
) -> None:  # fmt: skip
    monkeypatch.setenv("_CINDERLOT_COMPLETE", "complete_bash")
    monkeypatch.setenv("COMP_WORDS", typed)
    # Bash hands over its words on a line each.
    monkeypatch.setenv("COMP_CWORD", str(typed.count("\n") or typed.count(" ")))
    with pytest.raises(SystemExit):
        run([])
    assert [line for line in capsys.readouterr().out.split("\n") if line] == completed


def on_a_terminal(*arguments: str, cwd: Path, **environ: str) -> str:
    """Run the command on a pseudo-terminal of 60 columns and give all it shows."""
    ours, theirs = pty.openpty()
    settings = {"PYTHONPATH": str(ROOT), "TERM": "xterm-256color", "COLUMNS": "60", **environ}
    with subprocess.Popen(
        [sys.executable, "-m", "pipeline.cli", *arguments],
        cwd=cwd, env={**os.environ, **settings}, stdin=theirs, stdout=theirs, stderr=theirs,
    ) as child:  # fmt: skip
        os.close(theirs)
        shown = b""
        while True:
            try:
                part = os.read(ours, 4096)
            except OSError:
                break
            if not part:
                break
            shown += part
        child.wait(timeout=300)
    os.close(ours)
    return shown.decode()


def test_load_says_what_became_of_each_value(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place)
    assert run(["load", "report1.csv"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == (
        "report1.csv: Bench of the Test, report TB-1, samples_down: "
        "3 results, 0 qc, 1 held, 0 not analysed, 0 repeated, 0 out of scope"
    )
    assert lines[-1].startswith("1 new report: 3 results, 0 qc, 1 held")


def test_what_another_report_has_sent_already_counts_once_on_the_last_line_too(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_report(place)
    again = path.read_text(encoding="utf-8").replace("TB-1", "TB-8")
    (place / "again.csv").write_text(again, encoding="utf-8")
    assert run(["load", path.name, "again.csv"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[-1].startswith(
        "2 new reports: 3 results, 0 qc, 2 held, 0 not analysed, 3 repeated"
    )
    assert any(
        line.endswith("3 of its results were sent in another report too and count once: "
                      "0 results, 3 repeated") for line in lines
    )  # fmt: skip
    with Store(place / "cinderlot.duckdb", read_only=True) as store:
        counts = store.reports().select("n_results", "n_repeated").sum().row(0)
    assert counts == (3, 3)


def test_what_was_loaded_is_what_was_printed(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    query = "SELECT sample_id, lot, analyte, lower, upper, unit, cell FROM results ORDER BY cell"
    assert run(["sql", query, "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [tuple(row.values()) for row in found] == [
        ("S-1", "L-1", "guaiacol", 12.3, 12.3, "ug/L", "E5"),
        ("S-2", "L-2", "guaiacol", 30.1, 30.1, "ug/L", "E6"),
        ("S-1", "L-1", "4-methylguaiacol", 0.0, 0.5, "ug/L", "F5"),
    ]


def test_sums_are_numbers_in_json(store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    query = "SELECT sum(n_values) AS total, 1.5 AS half, 2.0 AS two FROM reports"
    assert run(["sql", query, "--json"]) == 0
    [row] = json.loads(capsys.readouterr().out)
    assert row == {"total": 4, "half": 1.5, "two": 2}


def test_loading_again_is_done_and_nothing_new(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["load", "report1.csv"]) == 0
    assert "stored already, nothing new" in capsys.readouterr().out


def test_a_laboratory_given_later_is_taken_and_the_stored_one_is_named(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_report(place, held="0.7")
    path.write_text(path.read_text().split("\n", 1)[1], encoding="utf-8")
    for options, said in (
        ([], "report1.csv: unknown laboratory, report TB-1, samples_down: 4 results"),
        (["--lab", "Fir Bench"], "report1.csv: Fir Bench, report TB-1 is stored already, judged"),
        ([], "report1.csv: Fir Bench, report TB-1 is stored already, nothing new"),
        (["--lab", "Elm Bench"], "report1.csv: Elm Bench, report TB-1 is stored already, judged"),
        (["--lab", "Fir Bench"], "report1.csv: Fir Bench, report TB-1 is stored already, judged"),
        ([], "report1.csv: Fir Bench, report TB-1 is stored already, nothing new"),
    ):
        assert run(["load", "report1.csv", *options]) == 0
        out = capsys.readouterr().out
        assert out.startswith(said)
        assert ("the laboratory was" in out) == ("Elm" in out)
    assert run(["sql", "SELECT DISTINCT lab FROM results", "--csv"]) == 0
    assert capsys.readouterr().out.split() == ["lab", "Fir", "Bench"]


def test_a_limit_in_the_settings_frees_what_was_held_for_want_of_it(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place, held="nd")
    assert run(["load", "report1.csv", "--strict"]) == 1
    limits = '[laboratory."Bench of the Test"]\nlimits = {"4-methylguaiacol" = {lod = 0.2}}\n'
    (place / "cinderlot.toml").write_text(limits, encoding="utf-8")
    capsys.readouterr()
    assert run(["load", "report1.csv", "--strict"]) == 0
    said = capsys.readouterr().out
    assert "is stored already, judged anew, samples_down: 4 results, 0 qc, 0 held" in said
    assert "0 new reports, 1 judged anew" in said


def test_changed_settings_reach_the_flags_without_a_load(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place)
    assert run(["load", "report1.csv"]) == 0
    limit = ["analyte='guaiacol'", "form='free'", "matrix='red wine'", "value=10", "unit='ug/L'"]
    other = place / "other.toml"
    other.write_text("\n".join(["[[threshold]]", *limit, "source='ours'"]), encoding="utf-8")
    found = []
    for options in ([], ["--settings", "other.toml"], []):
        capsys.readouterr()
        assert run(["flags", "--lot", "L-1", "--json", *options]) == 0
        rows = json.loads(capsys.readouterr().out)
        found.append([r["threshold"] for r in rows if r["kind"] == "over_threshold"])
    assert [10.0 in thresholds for thresholds in found] == [False, True, False]


def test_a_short_list_of_flags_is_told_whole_and_a_long_one_is_counted_whole(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    lots = [f"S-{n},L-{n},Red wine,end of AF,40,3,9" for n in range(1, 9)]
    head = REPORT.partition("S-1")[0].format(number=1).rstrip() + ",Free syringol (ug/L)\n"
    (place / "one.csv").write_text(head + lots[0] + "\n", encoding="utf-8")
    (place / "all.csv").write_text(head.replace("TB-1", "TB-2") + "\n".join(lots), encoding="utf-8")
    assert run(["load", "one.csv", "--db", "one.duckdb"]) == 0
    assert run(["load", "all.csv", "--db", "all.duckdb"]) == 0
    capsys.readouterr()
    for name, folded in (("one", False), ("all", True)):
        assert run(["flags", "--db", f"{name}.duckdb"]) == 0
        said = capsys.readouterr().out
        assert ("no threshold is set" in said) is not folded
        assert ("more, counted:" in said) is folded
        assert run(["flags", "--db", f"{name}.duckdb", "--json"]) == 0
        flags = len(json.loads(capsys.readouterr().out))
        if folded:
            lines = len(re.findall(r"^(?:above|undecided) +L-", said, re.M))
            assert lines >= 8, "guaiacol at 40 ug/L is above 23 in each lot"
            assert lines + int(re.search(r"and (\d+) more", said)[1]) == flags


@pytest.mark.parametrize("command", ["held", "flags", "trend guaiacol --by lot", "digest --out d"])
def test_a_wrong_setting_is_told_by_every_command(
    place: Path, capsys: pytest.CaptureFixture[str], command: str
) -> None:
    write_report(place)
    assert run(["load", "report1.csv"]) == 0
    (place / "cinderlot.toml").write_text("[decision]\nconfidense = 0.9\n", encoding="utf-8")
    assert run(command.split()) == 2
    assert "confidence" in capsys.readouterr().err


def test_a_digest_needs_a_store(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["digest", "--out", "out", "--db", "none.duckdb"]) == 3
    assert "there is no store yet" in capsys.readouterr().err
    assert not (place / "none.duckdb").exists()
    assert not (place / "out").exists()


def test_held_values_fail_only_when_strict(place: Path) -> None:
    write_report(place)
    assert run(["load", "report1.csv", "--strict"]) == 1


def test_no_held_values_is_done_even_when_strict(place: Path) -> None:
    write_report(place, held="0.7")
    assert run(["load", "report1.csv", "--strict"]) == 0


def test_a_bad_file_does_not_hinder_the_others(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (place / "in").mkdir()
    write_report(place / "in", 1)
    (place / "in" / "page.xlsx").write_text("<html><body>log in</body></html>", encoding="utf-8")
    assert run(["load", "in"]) == 1
    said = capsys.readouterr()
    assert said.err.startswith("page.xlsx: ")
    assert "Traceback" not in said.err
    assert "1 new report, 1 refused" in said.out


def test_an_amended_report_says_what_it_changed(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place, 1, last="30.1", held="0.7").rename(place / "a.csv")
    revised = REPORT.format(number=1, last="31.4", held="0.7").replace(
        "TB-1\n", "TB-1\nRevision,2\n"
    )
    (place / "b.csv").write_text(revised, encoding="utf-8")
    assert run(["load", "a.csv", "b.csv"]) == 0
    out = capsys.readouterr().out
    assert "report TB-1 revision 2 replaces an earlier one: 1 changed" in out
    assert "changed: S-2 guaiacol 30.1 -> 31.4" in out
    # ISO/IEC 17025:2017 7.8.8.3: an amended report refers to the original that it replaces.
    again = revised.replace("TB-1\nRevision,2\n", "TB-2\nReplaces,TB-1\n")
    (place / "c.csv").write_text(again, encoding="utf-8")
    assert run(["load", "c.csv"]) == 0
    assert (
        "report TB-2 replaces report TB-1 revision 2: no value differs" in capsys.readouterr().out
    )


def test_reports_that_nothing_orders_are_named_with_what_to_do(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place)
    text = REPORT.format(number=1, last="3.1", held="abc")
    # S-9 has no number at all: its lot is known from the held values alone.
    Path("other.csv").write_text(text + "S-9,L-9,Red wine,end of AF,abc,abc\n", encoding="utf-8")
    assert run(["load", "report1.csv", "other.csv"]) == 0
    said = capsys.readouterr().out
    assert (
        "Bench of the Test, report TB-1: 1 value differs between other.csv and report1.csv, and "
        "neither a revision nor a day of issue tells which is the newer"
    ) in said
    with Store("cinderlot.duckdb", read_only=True) as store:
        [raised] = store.flags().filter(kind="conflicting_reports").to_dicts()
        lots = store.held().join(store.held_lots(), on="held_id").select("raw_sample", "lot")
    assert "Reports TB-1 (other.csv) and TB-1 (report1.csv)" in raised["message"]
    assert sorted(lots.rows()) == [("S-2", "L-2"), ("S-2", "L-2"), ("S-9", "L-9"), ("S-9", "L-9")]
    revised = text.replace("TB-1\n", "TB-1\nRevision,2\n")
    Path("report1.csv").write_text(revised, encoding="utf-8")
    assert run(["load", "report1.csv"]) == 0
    assert "neither a revision" not in capsys.readouterr().out, "the revision replaces both"


def test_a_sample_without_lot_is_named(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = REPORT.format(number=1, last="30.1", held="0.7").replace("S-2,L-2", "S-2,")
    (place / "a.csv").write_text(text, encoding="utf-8")
    assert run(["load", "a.csv"]) == 0
    out = capsys.readouterr().out
    assert "1 sample without a lot" in out
    assert '"S-2" (Bench of the Test, 2 results' in out


@pytest.mark.parametrize(
    ("arguments", "code", "sentence"),
    [
        (["load", "empty"], 1, "empty"),
        (["load", "nowhere.csv"], 1, "nowhere.csv"),
        (["load"], 2, "Missing argument"),
        (["lood", "x"], 2, "No such command"),
        (["flags", "--since", "yesterday"], 2, "yesterday"),
        (["trend", "guaiakol", "--by", "lot"], 2, "did you mean guaiacol?"),
        (["trend", "guaiacol", "--by", "moon"], 2, "moon"),
        (["held", "--json", "--csv"], 2, "exclude each other"),
        (["sql", "DROP TABLE base.report"], 2, "cannot be run"),
        (["sql", "SELECT nothing FROM results"], 2, "nothing"),
        (["flags", "--db", "none.duckdb"], 3, "none.duckdb"),
        (["load", "report1.csv", "--db", "report1.csv"], 3, "report1.csv"),
        (["load", "report1.csv", "--db", "no/folder/here.duckdb"], 3, "no/folder"),
        (["register", "report1.csv"], 1, "not the register, for it has no filled sheet lots"),
        (["load", "report1.csv", "--settings", "none.toml"], 2, "none.toml"),
    ],
)
def test_what_goes_wrong_is_one_sentence_and_a_code(
    store: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], code: int, sentence: str
) -> None:
    assert run(arguments) == code
    said = capsys.readouterr().err
    assert sentence in said
    assert said.count("\n") == 1
    assert "Traceback" not in said


def test_an_unknown_setting_is_named(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_report(place)
    (place / "cinderlot.toml").write_text("[decision]\nconfidense = 0.9\n", encoding="utf-8")
    assert run(["load", "report1.csv"]) == 2
    assert "confidence" in capsys.readouterr().err


def test_a_fault_of_ours_is_a_sentence_with_its_details_in_a_file(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert guarded(lambda: int("nothing")) == 3
    said = capsys.readouterr().err
    assert said.startswith("cinderlot: an unexpected ValueError; ")
    found = re.search(r"details are in (\S+)\.$", said.strip())
    assert found, said
    details = Path(found[1])
    assert "Traceback" in details.read_text(encoding="utf-8")
    details.unlink()


def test_listings_agree_as_table_json_and_csv(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run(["held", "--json"])
    [as_json] = json.loads(capsys.readouterr().out)
    run(["held", "--csv"])
    [as_csv] = csv.DictReader(io.StringIO(capsys.readouterr().out))
    run(["held"])
    as_table = capsys.readouterr().out
    assert list(as_json) == list(as_csv)
    for column in ("held_id", "cell", "raw_value", "reason_code"):
        assert as_json[column] == as_csv[column]
        assert as_json[column] in as_table
    assert as_json["cell"] == "F6"


def test_flags_are_chosen_by_lot_and_day(store: Path, capsys: pytest.CaptureFixture[str]) -> None:

    def listed(*options: str) -> list[dict[str, str]]:
        assert run(["flags", "--json", *options]) == 0
        found: list[dict[str, str]] = json.loads(capsys.readouterr().out)
        return found

    assert {flag["lot"] for flag in listed()} == {"L-1", "L-2"}
    assert {flag["lot"] for flag in listed("--lot", "L-2")} == {"L-2"}
    assert listed("--since", "2999-01-01") == []
    assert {flag["decision"] for flag in listed()} <= {"above", "undecided"}
    assert len(listed("--all")) >= len(listed())


def test_trend_goes_to_a_file_by_its_ending(
    store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["trend", "guaiacol", "--by", "lot", "--out", str(tmp_path / "trend.csv")]) == 0
    # one laboratory only: nothing to warn of
    assert capsys.readouterr().err == ""
    found = pl.read_csv(tmp_path / "trend.csv")
    assert dict(found.select("by", "median_upper").iter_rows()) == {"L-1": 12.3, "L-2": 30.1}


def test_trend_in_the_terminal_says_samples_and_censored(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["trend", "guaiacol", "--by", "lot", "--form", "free"]) == 0
    heading, head, *rows = capsys.readouterr().out.splitlines()
    assert heading.startswith("free guaiacol, ")
    assert head.split() == ["by", "n", "censored", "median", "minimum", "maximum"]
    assert rows[0].split() == ["L-1", "1", "0", "(0", "%)", "12.3", "12.3", "12.3"]


def test_pooled_and_anonymous_trends_say_so_aloud(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["trend", "guaiacol", "--by", "lot", "--json"]
    assert run(asked) == 0
    lab = json.loads(capsys.readouterr().out)[0]["lab"]
    assert run([*asked, "--pool", "lab", "--anonymous", "--lab", lab]) == 0
    shown = capsys.readouterr()
    assert "POOLED over laboratories" in shown.err
    assert "Molecules 2022, 27, 4892" in shown.err
    assert "no guarantee" in shown.err
    rows = json.loads(shown.out)
    assert [row["by"] for row in rows] == ["lot 1", "lot 2"]
    assert {row["pooled"] for row in rows} == {"laboratories: laboratory 1"}
    assert lab not in shown.out


def test_init_writes_what_load_and_register_accept(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["init"]) == 0
    assert run(["register", "register.xlsx"]) == 0
    before = (place / "cinderlot.toml").read_bytes()
    assert run(["init"]) == 2
    assert (place / "cinderlot.toml").read_bytes() == before
    write_report(place)
    assert run(["load", "report1.csv"]) == 0


def test_digest_is_written(store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["digest", "--out", str(tmp_path / "out"), "--dry-run"]) == 0
    assert sorted(p.name for p in (tmp_path / "out").iterdir()) == ["digest.html", "digest.xlsx"]


def test_preview_tells_the_role_of_cells(place: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_report(place)
    assert run(["preview", "report1.csv"]) == 0
    out = capsys.readouterr().out
    assert "V 12.3" in out
    assert "S S-1" in out
    assert re.search(r"A Free guaiac", out)
    assert not (place / "cinderlot.duckdb").exists()


def test_preview_shows_what_would_be_refused(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (place / "list.csv").write_text("bread,2\nmilk,1\n", encoding="utf-8")
    assert run(["preview", "list.csv"]) == 1
    out = capsys.readouterr().out
    assert "bread" in out


def test_the_grid_goes_on_below_when_it_is_too_wide() -> None:
    cells = pl.DataFrame(
        [("Sheet", 1, col, f"name {col}", "analyte") for col in range(1, 21)],
        schema=["sheet", "row", "col", "text", "role"],
        orient="row",
    )
    lines = ["".join(p.text for p in line) for line in draw(Sight("a.xlsx", cells, "down"), 60)]
    assert max(map(len, lines)) <= 60
    assert all(any(f"name {col}" in line for line in lines) for col in range(1, 21))


def test_the_demo_outside_a_clone_says_so(tmp_path: Path) -> None:
    installed = tmp_path / "installed"
    for name in ("pipeline", "schemas"):
        shutil.copytree(ROOT / name, installed / name)
    done = start("demo", cwd=tmp_path, source=installed)
    assert done.returncode == 2
    assert done.stderr.startswith("cinderlot: the demo needs sample_reports/")


@pytest.mark.parametrize("arguments", [["--help"], ["--version"], ["load", "--help"]])
def test_help_imports_nothing_heavy(tmp_path: Path, arguments: list[str]) -> None:
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "pipeline.cli", *arguments],
        cwd=tmp_path, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        timeout=300, check=True,
    )  # fmt: skip
    imported = {line.split("|")[-1].strip().split(".")[0] for line in done.stderr.splitlines()}
    heavy = {"polars", "pandera", "prefect", "duckdb", "altair", "openpyxl", "jinja2", "rich",
              "rapidfuzz", "pyarrow", "numpy", "pandas"}  # fmt: skip
    assert "typer" in imported
    assert not imported & heavy


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_is_explained_with_an_example(
    capsys: pytest.CaptureFixture[str], command: str
) -> None:
    assert run([command, "--help"]) == 0
    out = capsys.readouterr().out
    assert f"Example: cinderlot {command}" in out


def test_the_help_lists_the_commands_whole(capsys: pytest.CaptureFixture[str]) -> None:
    run(["--help"])
    out = capsys.readouterr().out
    listed = out.split("Commands:\n")[1].split("\n\n")[0]
    assert [line.split()[0] for line in listed.splitlines()] == list(COMMANDS)
    assert "..." not in listed.replace("year ...", "")


@pytest.mark.parametrize("width", ["60", "100"])
@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_is_explained_within_the_width(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], command: str, width: str
) -> None:
    monkeypatch.setenv("COLUMNS", width)
    assert run([command, "--help"]) == 0
    out = capsys.readouterr().out
    assert max(map(len, out.splitlines())) <= int(width)
    for section in ("Arguments:", "Options:"):
        if section in out:
            lines = out.split(f"{section}\n")[1].split("\n\n")[0].splitlines()
            explained = [re.search(r"\S {2,}[A-Z]", line) for line in lines if line[2] != " "]
            assert all(explained), lines


def test_scripts_get_one_object_and_nothing_beside_it(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place)
    (place / "page.xlsx").write_text("<html><body>log in</body></html>", encoding="utf-8")
    assert run(["load", ".", "--json"]) == 1
    told = capsys.readouterr()
    found = json.loads(told.out)
    page, report = sorted(found["files"], key=lambda file: file["file"])
    assert (page["file"], page["outcome"]) == ("page.xlsx", "refused")
    assert "web page" in page["message"]
    assert (report["file"], report["outcome"], report["report_no"]) == (
        "report1.csv",
        "new",
        "TB-1",
    )
    assert (report["n_results"], report["n_held"]) == (3, 1)
    assert report["held_by_reason"] == {"not_a_number": 1}
    assert found["totals"]["new"] == found["totals"]["refused"] == 1
    assert found["totals"]["n_results"] == 3
    assert found["exit_code"] == 1
    assert "report1.csv: Bench of the Test" in told.err


def test_scripts_get_nothing_but_the_sentence_when_nothing_was_done(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["load", ".", "--json", "--settings", "none.toml"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "no such settings file" in told.err


def test_a_register_is_told_as_an_object_too(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["init"]) == 0
    capsys.readouterr()
    assert run(["register", "register.xlsx", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert [file["outcome"] for file in found["files"]] == ["register"]
    assert found["totals"]["register"] == 1


def test_a_closed_pipe_is_silent(filled: Path) -> None:
    query = "SELECT * FROM results, generate_series(1, 20000)"
    command = f"{sys.executable} -m pipeline.cli sql '{query}' --csv | head -1"
    done = subprocess.run(
        ["bash", "-c", f'{command}; exit "${{PIPESTATUS[0]}}"'],
        cwd=filled, env={**os.environ, "PYTHONPATH": str(ROOT)}, capture_output=True, text=True,
        timeout=300, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.count("\n") == 1


def test_many_files_fit_a_screen_on_a_terminal(tmp_path: Path) -> None:
    reports = tmp_path / "reports"
    reports.mkdir()
    for n in range(24):
        write_report(reports, n, held="abc" if n == 7 else "2.5")
    (reports / "page.csv").write_text("<html><table></table></html>", encoding="utf-8")
    shown = on_a_terminal("load", "reports", cwd=tmp_path, NO_COLOR="1")
    told = shown[shown.index("page.csv: this is a web page") :].splitlines()
    assert told[1] == "report7.csv: 1 held (1 not_a_number)"
    assert told[2] == "and 23 more loaded; a line for each file: --verbose"
    assert told[-1].startswith("24 new reports, 1 refused: ")
    assert len(told) < 24
    again = on_a_terminal("load", "reports", "--verbose", cwd=tmp_path, COLUMNS="200")
    assert again.count("is stored already, nothing new") == 24


def test_a_terminal_gets_colour_and_lines_that_fit(tmp_path: Path) -> None:
    (tmp_path / "page.xlsx").write_text("<html></html>", encoding="utf-8")
    write_report(tmp_path)
    shown = on_a_terminal("load", "report1.csv", "page.xlsx", cwd=tmp_path)
    assert "\x1b[31mpage.xlsx" in shown
    plain = on_a_terminal("load", "report1.csv", "page.xlsx", cwd=tmp_path, NO_COLOR="1")
    assert "\x1b[31m" not in plain
    listed = on_a_terminal("held", cwd=tmp_path)
    assert max(map(len, listed.splitlines())) <= 60
    assert "abc" in listed


def test_nothing_but_text_goes_to_a_pipe(tmp_path: Path) -> None:
    write_report(tmp_path)
    done = start("load", "report1.csv", cwd=tmp_path)
    assert "\x1b" not in done.stdout + done.stderr
    assert done.stderr == ""


def test_what_would_steer_a_terminal_is_not_printed(
    place: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    write_report(place, held="a\x1b[2Jb")
    run(["load", "report1.csv"])
    run(["held"])
    assert "\x1b" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("value", "text"),
    [(0.0, "0"), (12.3, "12.3"), (1234.56, "1235"), (0.000123456, "0.0001235"), (112.84, "112.8"),
     (2653.0, "2653"), (100000.0, "100000"), (-4.5, "-4.5")],
)  # fmt: skip
def test_numbers_have_four_digits_and_no_exponent(value: float, text: str) -> None:
    assert number(value) == text


@pytest.mark.parametrize(
    ("lower", "upper", "text"),
    [(1.5, 1.5, "1.5"), (0.0, 0.5, "[0, 0.5]"), (3.0, None, "[3, ...]"), (None, None, "")],
)
def test_intervals_are_shown_with_both_ends(
    lower: float | None, upper: float | None, text: str
) -> None:
    assert interval(lower, upper) == text


def test_tables_put_numbers_to_the_right_and_ends_together() -> None:
    frame = pl.DataFrame({"lot": ["A", "Long name"], "lower": [0.0, 10.0], "upper": [0.5, 10.0],
                          "n": [1, 20]})  # fmt: skip
    assert table(frame) == [
        "lot        [lower, upper]   n",
        "A                [0, 0.5]   1",
        "Long name              10  20",
    ]


def test_tables_fit_the_width_by_cutting_the_widest_column() -> None:
    frame = pl.DataFrame({"file": ["a-very-long-file-name.xlsx"], "cell": ["B2"]})
    assert table(frame, width=20)[1] == "a-very-long-f…  B2"


def test_tables_that_cannot_fit_put_columns_one_under_the_other() -> None:
    frame = pl.DataFrame({"lot": ["A"], "guaiacol": [123456.0], "syringol": [654321.0]})
    assert table(frame, width=20) == ["lot       A", "guaiacol  123456", "syringol  654321"]


def test_a_trend_by_nothing_is_told_in_one_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["trend", "guaiacol"]) == 2
    told = capsys.readouterr().err
    assert "--by is missing; name what to group by: region, grower" in told
    assert told.count("\n") == 1
