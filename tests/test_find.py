"""Every table is found once; what is not read is named."""

import hashlib
import io
import zipfile
from email.message import EmailMessage
from pathlib import Path

import pytest

from pipeline.errors import FileRefused
from pipeline.find import find

TABLE = b"a,b\n1,2\n"


def zipped(**members: bytes) -> bytes:
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return buffer.getvalue()


def mail(**attachments: bytes) -> bytes:
    message = EmailMessage()
    message["Subject"] = "Report"
    message.set_content("Please find attached.")
    for name, content in attachments.items():
        message.add_attachment(content, maintype="application", subtype="x", filename=name)
    return bytes(message)


def cut_inside_mail() -> bytes:
    """A mail whose attachment lost its last characters on the way, though its own end is there."""
    start, encoded, end = mail(**{"a.csv": TABLE}).rpartition(b"YSxiCjEsMgo=")
    return start + encoded[:-3] + end


def test_a_folder_is_searched_to_the_bottom_in_order(tmp_path: Path) -> None:
    (tmp_path / "sub").mkdir()
    for name in ("b.csv", "a.XLSX", "sub/c.txt", ".hidden.csv", "~$a.xlsx", "b.expected.csv"):
        (tmp_path / name).write_bytes(TABLE)
    for name in ("read.md", "scan.pdf"):
        (tmp_path / name).write_bytes(b"x")
    found = find([tmp_path])
    assert [source.file for source in found.sources] == ["a.XLSX", "b.csv", "sub/c.txt"]
    assert found.passed_over == ["read.md", "scan.pdf"]
    assert found.refused == []


def test_a_source_knows_its_bytes(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(TABLE)
    (source,) = find([tmp_path / "a.csv"]).sources
    assert (source.file, source.member, source.size) == ("a.csv", None, 8)
    assert source.sha256 == hashlib.sha256(TABLE).hexdigest()
    assert source.read_bytes() == TABLE


def test_a_file_named_outright_is_tried_whatever_its_ending(tmp_path: Path) -> None:
    (tmp_path / "report.dat").write_bytes(TABLE)
    assert [source.file for source in find([tmp_path / "report.dat"]).sources] == ["report.dat"]
    assert find([tmp_path]).passed_over == ["report.dat"]


def test_a_file_reached_twice_is_found_once(tmp_path: Path) -> None:
    (tmp_path / "a.csv").write_bytes(TABLE)
    found = find([tmp_path, tmp_path / "a.csv", tmp_path])
    assert len(found.sources) == 1
    assert found.refused == []


def test_tables_in_archives_and_mails_are_found(tmp_path: Path) -> None:
    inner = mail(**{"report.csv": TABLE, "logo.png": b"x"})
    members = {"one.csv": TABLE, "mail.eml": inner, "note.pdf": b"x", "__MACOSX/one.csv": b""}
    (tmp_path / "post.zip").write_bytes(zipped(**members))
    (tmp_path / "week.eml").write_bytes(mail(**{"all.zip": zipped(**{"deep.csv": TABLE})}))
    found = find([tmp_path])
    assert [source.file for source in found.sources] == [
        "post.zip!mail.eml!report.csv",
        "post.zip!one.csv",
        "week.eml!all.zip!deep.csv",
    ]
    assert [source.read_bytes() for source in found.sources] == [TABLE] * 3
    assert found.passed_over == ["post.zip!mail.eml!logo.png", "post.zip!note.pdf"]


@pytest.mark.parametrize("name", ["a!b.csv", "sub/../c.csv", "ünï.csv"])
def test_odd_member_names_lead_back_to_their_bytes(tmp_path: Path, name: str) -> None:
    (tmp_path / "post.zip").write_bytes(zipped(**{name: TABLE}))
    (source,) = find([tmp_path]).sources
    assert (source.member, source.read_bytes()) == (name, TABLE)


@pytest.mark.parametrize(
    ("name", "content", "message"),
    [
        ("cut.zip", zipped(a=TABLE)[:-30], "cut off or damaged"),
        ("notes.zip", zipped(**{"a.pdf": b"x"}), "no table inside"),
        ("bomb.zip", zipped(**{"a.csv": b"0" * 50_000_000}), "unpack to"),
        ("empty.eml", mail(), "no table inside"),
        ("cut.eml", mail(**{"a.csv": TABLE})[:-12], "cut off"),
        ("cut.eml", cut_inside_mail(), "cut off inside the e-mail"),
    ],
    ids=[
        "cut",
        "without a table",
        "bomb",
        "empty mail",
        "cut mail",
        "cut attachment",
    ],  # the bytes hold the time of the day
)
def test_holders_that_cannot_be_used_are_refused(
    tmp_path: Path, name: str, content: bytes, message: str
) -> None:
    (tmp_path / name).write_bytes(content)
    (tmp_path / "good.csv").write_bytes(TABLE)
    found = find([tmp_path])
    assert [source.file for source in found.sources] == ["good.csv"]
    (refusal,) = found.refused
    assert refusal.file in {name, f"{name}!a.csv"}
    assert message in refusal.message


def test_a_bomb_among_reports_is_refused_alone(tmp_path: Path) -> None:
    members = {
        "a.csv": b"0" * 50_000_000,
        "b.csv": TABLE,
        "in.zip": zipped(**{"c.csv": TABLE})[:-9],
    }
    (tmp_path / "post.zip").write_bytes(zipped(**members))
    found = find([tmp_path])
    assert [source.file for source in found.sources] == ["post.zip!b.csv"]
    assert [(r.file, "unpack to" in r.message) for r in found.refused] == [
        ("post.zip!a.csv", True), ("post.zip!in.zip", False),
    ]  # fmt: skip


def test_attachments_without_a_name_or_of_one_name_are_all_found(tmp_path: Path) -> None:
    post = EmailMessage()
    post.set_content("See the reports.")
    for content in (TABLE, TABLE + b"S9,9\n"):
        post.add_attachment(content, maintype="text", subtype="csv", filename="a.csv")
    post.add_attachment(TABLE, maintype="application", subtype="octet-stream")
    (tmp_path / "post.eml").write_bytes(post.as_bytes())
    found = find([tmp_path])
    names = [source.file for source in found.sources]
    assert names == ["post.eml!a.csv", "post.eml!a (2).csv", "post.eml!attachment 4"]
    assert [len(s.read_bytes()) for s in found.sources] == [len(TABLE), len(TABLE) + 5, len(TABLE)]


def test_an_archive_too_deep_is_named(tmp_path: Path) -> None:
    deep = zipped(**{"in.zip": zipped(**{"a.csv": TABLE})})
    (tmp_path / "post.zip").write_bytes(zipped(**{"out.zip": deep}))
    (refusal,) = find([tmp_path]).refused
    assert refusal.file == "post.zip!out.zip!in.zip"
    assert "unpack it first" in refusal.message


def test_the_store_is_no_report(tmp_path: Path) -> None:
    for name in ("lab.duckdb", "lab.duckdb.wal", "other.duckdb"):
        (tmp_path / name).write_bytes(b"x")
    own = {tmp_path / "lab.duckdb", tmp_path / "lab.duckdb.wal"}
    assert find([tmp_path], without={path.resolve() for path in own}).passed_over == [
        "other.duckdb"
    ]


def test_a_damaged_member_costs_only_itself(tmp_path: Path) -> None:
    content = bytearray(zipped(**{"a.csv": TABLE * 50, "b.csv": TABLE}))
    content[40] ^= 0xFF
    (tmp_path / "post.zip").write_bytes(bytes(content))
    found = find([tmp_path])
    assert [source.file for source in found.sources] == ["post.zip!b.csv"]
    assert [refusal.file for refusal in found.refused] == ["post.zip!a.csv"]


def test_missing_paths_and_empty_folders_are_refused(tmp_path: Path) -> None:
    (tmp_path / "empty").mkdir()
    found = find([tmp_path / "gone.csv", tmp_path / "empty"])
    assert [refusal.message for refusal in found.refused] == [
        "it does not exist; check the path.",
        "the folder holds no files; check the path.",
    ]


def test_a_source_that_changed_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(TABLE)
    (source,) = find([path]).sources
    path.write_bytes(b"other")
    with pytest.raises(FileRefused, match="changed"):
        source.read_bytes()
    path.unlink()
    with pytest.raises(FileRefused, match="cannot be read"):
        source.read_bytes()
