"""The two documents beside the code: what they name exists, and what exists is named."""

from __future__ import annotations

import ast
import doctest
import re
import shlex
import tomllib
from collections.abc import Iterator
from pathlib import Path

import pytest

from pipeline.cli import faults, run
from pipeline.cli.program import ALL
from pipeline.find import HOLDERS, TABLES
from pipeline.flag import kinds
from pipeline.flows import Workplace, load
from pipeline.settings import Settings, rules
from pipeline.store import VIEWS, Store
from pipeline.store.describe import meanings
from schemas.vocabulary import load_vocabulary

ROOT = Path(__file__).parents[1]
DOCUMENTS = ("README.md", "DEVELOPERS.md")
README = (ROOT / "README.md").read_text(encoding="utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
COMMANDS = {command.work.__name__: command for command in ALL}
RUN = "python3 -m venv .venv && .venv/bin/pip install -q -c constraints.txt . && .venv/bin/cinderlot demo"
LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
FILE = re.compile(r"`(\w[\w./*-]*\.(?:py|toml|sql|md|txt|css|j2|png|xlsx|csv)|\w[\w./-]*/)`")
# Where DEVELOPERS.md may leave the folder out because its heading names it.
FOLDERS = ("", "pipeline", "schemas", "tests", "sample_reports")


def cell(text: str) -> str:
    """Write a text into a cell of a table."""
    return text.replace("|", r"\|")


def views_table() -> str:
    """Write the table of views that the README must hold."""
    views, _, columns = meanings()
    lines = ["| view | one line is | columns |", "|---|---|---|"]
    lines += [
        f"| `{name}` | {cell(text)} | {', '.join(f'`{c}`' for c in columns[name])} |"
        for name, text in views.items()
    ]
    return "\n".join(lines)


def columns_table() -> str:
    """Write the table of columns: one meaning each, and where a view sharpens it."""
    _, common, columns = meanings()
    rows = {(name, ""): text for name, text in common.items()}
    for view, described in columns.items():
        rows |= {
            (name, f" in `{view}`"): text
            for name, text in described.items()
            if text != common.get(name)
        }
    order = {name: place for place, name in enumerate(dict.fromkeys(name for name, _ in rows))}
    sorted_rows = sorted(rows.items(), key=lambda row: order[row[0][0]])
    lines = ["| column | meaning |", "|---|---|"]
    lines += [f"| `{name}`{view} | {cell(text)} |" for (name, view), text in sorted_rows]
    return "\n".join(lines)


def reasons_table() -> str:
    """Write the table of reason codes that the README must hold."""
    lines = ["| reason code | what it means | what to do next |", "|---|---|---|"]
    lines += [
        f"| `{code}` | {cell(means)} | {cell(step)} |"
        for code, (means, step) in load_vocabulary().reasons.items()
    ]
    return "\n".join(lines)


def thresholds_table() -> str:
    """Write the table of shipped thresholds that the README must hold."""
    lines = ["| analyte | form | matrix | threshold | source |", "|---|---|---|---|---|"]
    lines += [
        f"| {t.analyte} | {t.form} | {t.matrix} | {t.value:g} {t.unit} | {t.source} |"
        for t in load_vocabulary().thresholds
    ]
    return "\n".join(lines)


def typed() -> Iterator[list[str]]:
    """Give the words of every command the README shows as typed."""
    for line in README.splitlines():
        if line.startswith("$ cinderlot"):
            yield shlex.split(line)[2:]


def blocks(document: str, language: str) -> list[str]:
    """Give the fenced blocks of a language."""
    return re.findall(rf"^```{language}\n(.*?)^```$", document, re.MULTILINE | re.DOTALL)


def anchors(document: str) -> set[str]:
    """Give the names under which the headings of a document are linked."""
    headings = re.findall(r"^#+ (.+)$", document, re.MULTILINE)
    return {re.sub(r"[^\w -]", "", h.lower()).strip().replace(" ", "-") for h in headings}


def test_readme_gives_two_commands_and_the_second_is_what_is_run_on_every_change() -> None:
    commands = [line for line in README.splitlines() if line.startswith("python3 -m venv")]
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8").splitlines()
    tests = [line for line in script if "pytest" in line]
    assert commands == [RUN, *tests]
    assert len(tests) == 1
    assert script[-1] in DEVELOPERS


@pytest.mark.parametrize("name", COMMANDS)
def test_command_is_in_the_readme_and_explains_itself(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert f"`cinderlot {name}" in README
    assert run([name, "--help"]) == 0
    shown = capsys.readouterr().out
    assert f"Example: {COMMANDS[name].example}" in " ".join(shown.split())
    assert COMMANDS[name].does.endswith((".", "..."))


def test_readme_types_only_commands_and_options_that_exist(
    capsys: pytest.CaptureFixture[str],
) -> None:
    shown = list(typed())
    assert len(shown) >= 8
    for name, *words in shown:
        if name.startswith("--"):
            continue
        assert name in COMMANDS
        run([name, "--help"])
        known = set(re.findall(r"--[\w-]+", capsys.readouterr().out))
        assert {word for word in words if word.startswith("--")} <= known, name


def test_queries_of_the_readme_can_be_run(tmp_path: Path) -> None:
    queries = [words[1] for words in typed() if words[0] == "sql"]
    assert queries
    with Store(tmp_path / "empty.duckdb") as store:
        for query in queries:
            store.frame(query)


def test_notebook_lines_of_the_readme_give_what_is_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (lines,) = blocks(README, "pycon")
    samples = [p for p in (ROOT / "sample_reports").iterdir() if p.suffix in (".xlsx", ".csv")]
    reports = [path for path in samples if not path.name.endswith(".expected.csv")]
    monkeypatch.chdir(tmp_path)
    load(reports, Workplace(tmp_path / "cinderlot.duckdb", Settings()), lambda *_: None)
    test = doctest.DocTestParser().get_doctest(lines, {}, "README", "README.md", 0)
    told: list[str] = []
    tried = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(
        test, out=told.append
    )
    assert tried.attempted >= 3
    assert not tried.failed, "".join(told)


@pytest.mark.parametrize(
    "table", [views_table, columns_table, reasons_table, thresholds_table], ids=lambda t: t.__name__
)
def test_table_in_the_readme_says_what_the_program_says(table: object) -> None:
    assert callable(table)
    missing = [line for line in table().splitlines() if line not in README]
    assert not missing, "the README needs: \n" + "\n".join(missing)
    assert table() in README, "the README has lines that do not belong into this table"


def test_every_view_is_described() -> None:
    assert set(meanings()[2]) == set(VIEWS)


@pytest.mark.parametrize(
    "word",
    [
        *rules.TOP, *rules.DECISION, *rules.GROWTH, *rules.SERVE, *rules.EMAIL,
        *rules.LABORATORY, *rules.LIMITS, *kinds(), *sorted(TABLES | HOLDERS),
    ],
)  # fmt: skip
def test_readme_names_every_setting_flag_and_ending(word: str) -> None:
    quoted = re.findall(r"`([^`\n]+)`", re.sub(r"^```.*?^```$", "", README, flags=re.M | re.S))
    assert any(re.search(rf"(?<!\w){re.escape(word)}(?!\w)", text) for text in quoted)


def test_exit_codes_are_the_programs() -> None:
    codes = [int(code) for code in re.findall(r"^\| (\d+) \|", README, re.MULTILINE)]
    assert codes == [
        faults.DONE, faults.REFUSED, faults.WRONG_USE, faults.NOTHING_DONE, faults.INTERRUPTED,
    ]  # fmt: skip


@pytest.mark.parametrize("name", DOCUMENTS)
def test_links_lead_somewhere(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    targets = LINK.findall(text)
    assert targets
    for target in targets:
        path, _, anchor = target.partition("#")
        assert (ROOT / path).exists(), target
        linked = (ROOT / (path or name)).read_text(encoding="utf-8") if anchor else ""
        assert not anchor or anchor in anchors(linked), target


def test_picture_is_a_small_png() -> None:
    (picture,) = re.findall(r"!\[[^\]]+\]\(([^)]+)\)", README)
    content = (ROOT / picture).read_bytes()
    assert content.startswith(b"\x89PNG\r\n")
    assert len(content) < 300_000
    assert 1100 <= int.from_bytes(content[16:20], "big") <= 1400


@pytest.mark.parametrize("name", DOCUMENTS)
def test_document_speaks_of_the_project_alone(name: str) -> None:
    text = (ROOT / name).read_text(encoding="utf-8")
    assert not re.findall(r"\w+://\S+", text)
    hosts = re.findall(r"\b[a-z0-9-]+\.(?:com|org|net|io|dev)\b", text)
    assert set(hosts) <= {"example.org"}
    assert not re.findall(r"(?<![\w.~])/(?:home|root|usr|var|opt|mnt|srv|Users)\b\S*", text)
    made = r"\b(?:written|made|generated|built|created) (?:by|with|using)\b.*"
    assert not re.findall(made, text, re.IGNORECASE)


def test_files_named_for_developers_exist() -> None:
    named = set(FILE.findall(DEVELOPERS))
    assert len(named) > 30
    missing = [
        path for path in named
        if not any(list(ROOT.glob(f"{folder}/{path}".strip("/"))) for folder in FOLDERS)
    ]  # fmt: skip
    assert not missing


def test_every_module_has_its_line_for_developers() -> None:
    paths = [*(ROOT / "pipeline").iterdir(), *(ROOT / "schemas").iterdir()]
    modules = {
        path.name + ("/" if path.is_dir() else "")
        for path in paths
        if not path.name.startswith("_")
    }
    told = set(re.findall(r"^\| `([\w./]+)`", DEVELOPERS, re.MULTILINE))
    assert {name for name in modules if name not in told} == set()


def test_examples_for_developers_are_well_formed() -> None:
    assert [tomllib.loads(block) for block in blocks(DEVELOPERS, "toml")]
    (example,) = [
        node
        for block in blocks(DEVELOPERS, "python")
        for node in ast.parse(block).body
        if isinstance(node, ast.FunctionDef)
    ]
    assert ast.get_docstring(example)
    assert example.name not in kinds(), "the example is a kind of its own by now; take another"


def test_changes_come_newest_first_and_begin_with_this_version() -> None:
    entries = re.findall(r"^### (\d+\.\d+\.\d+) \((\d{4}-\d\d-\d\d)\)$", DEVELOPERS, re.MULTILINE)
    assert entries[0][0] == PROJECT["version"]
    assert [day for _, day in entries] == sorted((day for _, day in entries), reverse=True)
    assert DEVELOPERS.rindex("\n## ") == DEVELOPERS.index("\n## Changes")
