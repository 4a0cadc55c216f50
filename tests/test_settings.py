"""The settings file: the defaults, what a person sets, and every mistake told at once."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.errors import BadSettings
from pipeline.settings import (
    Email,
    Laboratory,
    Recipient,
    Settings,
    email_account,
    load_settings,
    rules,
    settings_template,
)

Write = Callable[[str], Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def written(text: str) -> Path:
        path = tmp_path / "cinderlot.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return written


def mistakes(path: Path) -> list[str]:
    with pytest.raises(BadSettings) as raised:
        load_settings(path)
    return str(raised.value).splitlines()


def test_without_a_file_the_defaults_hold(tmp_path: Path) -> None:
    settings = load_settings(None, tmp_path / "cellar.duckdb")
    assert settings == Settings()
    # Design section 2, "Settings".
    assert settings.confidence == 0.95
    assert settings.growth_minimum == 0.05
    assert (settings.exposure_markers, settings.exposure_references) == (2, 20)
    assert settings.false_discovery_rate == 0.05


def test_the_file_beside_the_store_is_found(write: Write, tmp_path: Path) -> None:
    write("[decision]\nconfidence = 0.9")
    assert load_settings(store=tmp_path / "cellar.duckdb").confidence == 0.9


def test_a_named_file_that_is_missing_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(BadSettings, match="no such settings file"):
        load_settings(tmp_path / "mine.toml")


def test_the_template_changes_nothing(write: Write) -> None:
    assert load_settings(write(settings_template())) == Settings()


def test_the_templates_examples_are_right_when_taken_in(write: Write, tmp_path: Path) -> None:
    (tmp_path / "layouts").mkdir()
    (tmp_path / "vocabulary.toml").write_text("[analytes]")
    example = re.compile(r'^# (?=\[|\w+ = |"[^"]+" = \{)', re.MULTILINE)
    lines = [
        example.sub("", line)
        for line in settings_template().splitlines()
        if not line.startswith("# [analytes]")
    ]
    top = [line for line in lines if line.startswith(("layouts", "vocabulary", "inbox"))]
    settings = load_settings(write("\n".join(lines)))
    assert len(top) == 3
    assert settings.laboratories["North Laboratory"].limits == {
        "guaiacol": {"lod": 0.3, "loq": 1.0},
        "guaiacol/total": {"lod": 1.0, "loq": 3.0},
    }
    assert settings.email is not None
    assert settings.layouts == tmp_path / "layouts"


@pytest.mark.parametrize(
    ("table", "keys"),
    [(name, getattr(rules, name)) for name in dir(rules) if isinstance(getattr(rules, name), dict)
     and name.isupper()],
)  # fmt: skip
def test_the_template_names_every_key(table: str, keys: dict[str, object]) -> None:
    words = set(re.findall(r"\w+", settings_template()))
    assert {key for key in keys if key not in words} == set(), table


OWN = """
[[threshold]]
analyte = "guaiacol"
form = "free"
matrix = "red wine"
value = 0.02
unit = "mg/L"
source = "own panel"
"""


def test_a_threshold_replaces_the_shipped_one_and_only_that(write: Write) -> None:
    shipped = {(t.analyte, t.form, t.matrix): t for t in Settings().thresholds}
    own = {(t.analyte, t.form, t.matrix): t for t in load_settings(write(OWN)).thresholds}
    key = ("guaiacol", "free", "red wine")
    assert own.keys() == shipped.keys()
    assert {k: t for k, t in own.items() if k != key} == {
        k: t for k, t in shipped.items() if k != key
    }
    # 0.02 mg/L is 20 ug/L.
    assert (own[key].value, own[key].unit, own[key].source) == (20.0, "ug/L", "own panel")


@pytest.mark.parametrize(
    ("analyte", "matrix", "value", "unit", "stored", "kept"),
    [
        ("phenol", "white wine", 7, "µg/L", 7.0, "ug/L"),
        ("phenol", "grape", 0.5, "mg/kg", 500.0, "ug/kg"),
        ("syringol", "rose wine", 900, "ng/L", 0.9, "ug/L"),
    ],
)
def test_a_threshold_is_kept_in_the_stored_unit(
    write: Write, analyte: str, matrix: str, value: float, unit: str, stored: float, kept: str
) -> None:
    text = f'[[threshold]]\nanalyte = "{analyte}"\nform = "total"\nmatrix = "{matrix}"\n'
    line = load_settings(write(f'{text}value = {value}\nunit = "{unit}"')).thresholds[-1]
    assert line.value == pytest.approx(stored)
    assert (line.analyte, line.form, line.unit) == (analyte, "total", kept)


def test_an_odour_set_replaces_one_of_the_same_name_or_joins(write: Write) -> None:
    text = '[[odour_set]]\nname = "smoke phenols"\nmembers = ["guaiacol"]\n'
    text += '[[odour_set]]\nname = "mine"\nmatrix = "white wine"\nmembers = ["phenol"]\n'
    sets = {s.name: (s.matrix, s.members) for s in load_settings(write(text)).odour_sets}
    assert sets == {
        "smoke phenols": ("red wine", ("guaiacol",)),
        "mine": ("white wine", ("phenol",)),
    }


def test_what_is_known_of_a_laboratory(write: Write) -> None:
    text = """
    [laboratory."North Laboratory"]
    density = 0.99
    plus_minus = "U"
    coverage_factor = 2
    methods.guaiacol = 0.06
    methods."phenol/total" = { relative = 0.05, within = 0.02, absolute = 0.2e-3, unit = "mg/L" }
    controls.guaiacol = { value = 10, uncertainty = 0.2 }
    controls.phenol = [{ value = 5 }, { value = 50 }]
    limits = { "guaiacol/free" = { lod = 0.3, loq = 1 } }
    """
    assert load_settings(write(text)).laboratories == {
        "North Laboratory": Laboratory(
            name="North Laboratory",
            density=0.99,
            plus_minus="U",
            coverage_factor=2.0,
            methods={
                "guaiacol": 0.06,
                "phenol/total": {"relative": 0.05, "within": 0.02, "absolute": 0.2},
            },
            controls={
                "guaiacol": {"value": 10.0, "uncertainty": 0.2},
                "phenol": ({"value": 5.0}, {"value": 50.0}),
            },
            limits={"guaiacol/free": {"lod": 0.3, "loq": 1.0}},
        )
    }


def test_paths_are_relative_to_the_file(write: Write, tmp_path: Path) -> None:
    (tmp_path / "words.toml").write_text('[analytes]\n"gaiac" = "guaiacol"')
    settings = load_settings(write('vocabulary = "words.toml"\ninbox = "incoming"'))
    assert settings.vocabulary == tmp_path / "words.toml"
    assert settings.inbox == tmp_path / "incoming"


def test_mail_and_recipients(write: Write) -> None:
    text = 'recipients = ["a@example.org"]\n[email]\nserver = "mail.example.org"\n'
    settings = load_settings(write(text + 'sender = "b@example.org"\nencryption = "tls"'))
    assert settings.recipients == (Recipient("a@example.org"),)
    assert settings.email == Email("mail.example.org", "b@example.org", 587, "tls")


THRESHOLD = '[[threshold]]\nanalyte = "phenol"\nform = "free"\nmatrix = "red wine"\n'


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "[decision]\nconfidenc = 0.9",
            "unknown key [decision] confidenc; did you mean confidence?",
        ),
        ("[grwth]\nminimum = 0.1", "unknown key grwth; did you mean growth?"),
        (
            "[decision]\nconfidence = 0.4",
            "[decision] confidence is 0.4; expected a number from 0.5",
        ),
        ("[decision]\nconfidence = 1", "[decision] confidence is 1; expected a number from 0.5"),
        ("[decision]\nconfidence = '0.9'", "[decision] confidence is '0.9'; expected a number"),
        ("[decision]\nconfidence = true", "[decision] confidence is True; expected a number"),
        ("[decision]\nconfidence = nan", "[decision] confidence is nan; expected a number"),
        ("[growth]\nminimum = -0.1", "[growth] minimum is -0.1; expected a number from 0 to 1"),
        ("decision = 0.9", "decision is 0.9; expected a table"),
        ("threshold = [1]", "[[threshold]] 1: is 1; expected a table"),
        (THRESHOLD + "value = -1\nunit = 'ug/L'", "[[threshold]] 1: value is -1.*above 0"),
        (THRESHOLD + "value = 5\nunit = 'ug/kg'", "unit is 'ug/kg'; expected a unit such as ug/L"),
        (THRESHOLD + "value = 5\nunit = 'foot'", "unit is 'foot'; expected a unit such as ug/L"),
        (THRESHOLD + "value = 5", "[[threshold]] 1: unit is missing"),
        (THRESHOLD.replace("phenol", "phenl"), "no stored analyte; did you mean phenol?"),
        (THRESHOLD.replace("red wine", "beer"), "matrix is 'beer'; expected one of grape, must"),
        (THRESHOLD.replace("free", "loose"), "form is 'loose'; expected one of free, bound, total"),
        ("[[odour_set]]\nname = 'a'\nmembers = ['guaiacl']", "did you mean guaiacol?"),
        (
            "[laboratory.North]\nplus_minus = 'u'",
            "laboratory.\"North\"] plus_minus is 'u'.*of U, s",
        ),
        ("[laboratory.North]\ndensity = 990", "density is 990; expected a number in kg/L"),
        (
            "[laboratory.North]\nmethods = {guaiacol = 6}",
            "methods guaiacol is 6; expected a number",
        ),
        (
            "[laboratory.North]\nmethods = {guaiacol = {relative = 6}}",
            "methods guaiacol: relative is 6; expected a number",
        ),
        ("[laboratory.North]\nmethods = {'guaiacol/x' = 0.1}", "expected a form of free"),
        ("[laboratory.North]\nmethods = {guaiacoll = 0.1}", "did you mean guaiacol?"),
        ("[laboratory.North.controls]\nguaiacol = {uncertainty = 1}", "value is missing"),
        ("[laboratory.North.limits]\nguaiacol = {lodd = 1}", "lodd; did you mean lod?"),
        ("[laboratory.North.limits]\n'guaiacol/x' = {lod = 1}", "expected a form of free"),
        ("layouts = 'nowhere'", "layouts is 'nowhere'; expected a path that exists"),
        (
            "recipients = 'a@example.org'",
            "recipients is 'a@example.org'; expected a list of e-mail",
        ),
        ("[email]\nport = 25", "[email] server is missing"),
        ("confidence == 1", "not readable as TOML"),
    ],
)
def test_a_mistake_says_what_and_what_is_expected(write: Write, text: str, told: str) -> None:
    pattern = ".*".join(re.escape(part) for part in told.split(".*"))
    assert any(re.search(pattern, line) for line in mistakes(write(text)))


def test_all_mistakes_are_told_at_once_each_with_the_file(write: Write) -> None:
    lines = mistakes(write("foo = 1\n[decision]\nconfidence = 2\n[growth]\nminimun = 0.1\n"))
    assert len(lines) == 3
    assert all(line.startswith("cinderlot.toml: ") for line in lines)


def test_a_spelling_for_an_unknown_analyte_is_an_error(write: Write, tmp_path: Path) -> None:
    (tmp_path / "words.toml").write_text('[analytes]\n"gaiac" = "guajacol"')
    assert "no analyte is named guajacol" in mistakes(write('vocabulary = "words.toml"'))[0]


def test_a_recipient_may_be_limited(write: Write) -> None:
    settings = load_settings(
        write(
            'recipients = ["a@example.org", "b@example.org"]\n[[recipient]]\n'
            'address = "b@example.org"\nvineyards = ["East"]\nlots = ["26-SH-01"]'
        )
    )
    assert settings.recipients == (
        Recipient("a@example.org"),
        Recipient("b@example.org", ("East",), ("26-SH-01",)),
    )


def test_the_environment_goes_before_the_settings() -> None:
    given = Email("mail.example.org", "a@example.org", 587, "starttls", "me")
    told = {"CINDERLOT_EMAIL_SERVER": "other.example.org", "CINDERLOT_EMAIL_PORT": "25"}
    assert email_account(given, told) == Email(
        "other.example.org", "a@example.org", 25, "starttls", "me"
    )


@pytest.mark.parametrize(
    ("told", "said"),
    [
        ({}, "server is missing"),
        ({"CINDERLOT_EMAIL_SERVER": "a.org"}, "sender is missing"),
        ({"CINDERLOT_EMAIL_PORT": "many"}, "port is 'many'; expected a port number"),
    ],
)
def test_an_account_that_cannot_send_says_what_is_missing(told: dict[str, str], said: str) -> None:
    with pytest.raises(BadSettings, match=said):
        email_account(None, told)


def test_half_the_confidence_is_simple_acceptance(write: Write) -> None:
    assert load_settings(write("[decision]\nconfidence = 0.5")).confidence == 0.5


def test_own_background_replaces_the_shipped_one_of_the_variety_by_any_name(write: Write) -> None:
    told = (
        '[exposure]\nmarkers = 3\n[[background]]\nvariety = "syrah"\nmatrix = "red wine"\n'
        'analyte = "guaiacol"\nform = "free"\nvalue = 0.02\nunit = "mg/L"\n'
    )
    settings = load_settings(write(told))
    shipped = Settings().backgrounds
    found = [b for b in settings.backgrounds if b.value == 20]
    assert settings.exposure_markers == 3
    assert len(settings.backgrounds) == len(shipped)
    assert [(b.variety, b.unit, b.source) for b in found] == [("syrah", "ug/L", "settings file")]


def test_a_background_with_mistakes_is_told(write: Write) -> None:
    told = (
        '[exposure]\nmarker = 2\n[[background]]\nvariety = "Merlot"\nmatrix = "grape"\n'
        'analyte = "guaicol"\nform = "free"\nvalue = 2\nunit = "ug/L"\n'
    )
    found = mistakes(write(told))
    assert any("did you mean markers?" in line for line in found)
    assert any("did you mean guaiacol?" in line for line in found)
