"""One bad file costs that file only, and its reader."""

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest

from pipeline.errors import FileRefused
from pipeline.read import read_cells
from pipeline.workers import Workers

settings: list[str] = []


class Panic(BaseException):
    """Like the panics of native readers: no Exception."""


def remember(word: str) -> None:
    settings.append(word)


def recall(_: str) -> list[str]:
    return settings


def act(item: str) -> str:
    match item:
        case "abort":
            os.abort()
        case "exit":
            os._exit(3)
        case "raise":
            raise ValueError("no\nsuch thing")
        case "refuse":
            raise FileRefused(item, "it is empty.")
        case "panic":
            raise Panic("index out of range")
        case "hog":
            return str(len(bytearray(8 * 2**30)))
        case "hang":
            time.sleep(60)
        case "unsendable":
            return threading.Lock()  # type: ignore[return-value]
    return item.upper()


@pytest.fixture(scope="module")
def workers() -> Iterator[Workers]:
    with Workers(2) as pool:
        yield pool


def test_results_come_in_the_order_of_the_items(workers: Workers) -> None:
    items = [f"item {number}" for number in range(40)]
    assert list(workers.map(act, items)) == [(item, item.upper()) for item in items]


@pytest.mark.parametrize(
    ("item", "message"),
    [
        ("abort", "made its reader stop"),
        ("exit", "made its reader stop"),
        ("raise", "ValueError: no such thing"),
        ("refuse", "it is empty."),
        ("panic", "Panic: index out of range"),
        ("hog", "3 GB of memory"),
        ("hang", "took more than 1 s"),
        ("unsendable", "TypeError"),
    ],
)
def test_a_bad_item_is_refused_and_the_others_go_on(
    workers: Workers, item: str, message: str
) -> None:
    before, bad, *after = workers.map(act, ["a", item, "b", "c", "d"], seconds=1)
    assert before == ("a", "A")
    assert after == [("b", "B"), ("c", "C"), ("d", "D")]
    assert isinstance(bad[1], FileRefused)
    assert bad[1].file == item
    assert message in bad[1].message


def test_the_time_may_depend_on_the_item(workers: Workers) -> None:
    results = workers.map(act, ["hang", "a"], seconds=lambda item: 1 if item == "hang" else 60)
    (_, bad), good = results
    assert isinstance(bad, FileRefused)
    assert "took more than 1 s" in bad.message
    assert good == ("a", "A")


def test_every_worker_may_die_at_once(workers: Workers) -> None:
    results = [result for _, result in workers.map(act, ["abort"] * 3 + ["a"])]
    assert all(isinstance(result, FileRefused) for result in results[:-1])
    assert results[-1] == "A"


def test_only_a_few_items_are_under_way(workers: Workers) -> None:
    taken = []

    def items() -> Iterator[str]:
        for number in range(30):
            taken.append(number)
            yield str(number)

    results = workers.map(act, items())
    next(results)
    assert len(taken) <= 4
    results.close()  # type: ignore[attr-defined]


def count_cells(path: Path) -> int:
    return read_cells(path.read_bytes(), path.name).cells.height


def count_threads(_: str) -> int:
    return pl.thread_pool_size()


def test_a_reader_keeps_to_one_thread(workers: Workers) -> None:
    before = os.environ.get("POLARS_MAX_THREADS")
    assert list(workers.map(count_threads, ["a"])) == [("a", 1)]
    assert os.environ.get("POLARS_MAX_THREADS") == before


def test_files_are_read_by_the_workers(workers: Workers, tmp_path: Path) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.xlsx"
    good.write_bytes(b"a,b\n1,2\n")
    bad.write_bytes(b"PK\x03\x04 cut off")
    (_, count), (_, refusal) = workers.map(count_cells, [good, bad])
    assert count == 4
    assert isinstance(refusal, FileRefused)
    assert refusal.message == "the file is cut off or damaged; fetch it again from where it came."


def test_settings_reach_each_worker_once() -> None:
    with Workers(1, initializer=remember, initargs=("word",)) as pool:
        assert list(pool.map(recall, ["a", "b"])) == [("a", ["word"]), ("b", ["word"])]


def test_an_interrupt_stops_all_without_a_word_from_the_workers(tmp_path: Path) -> None:
    script = tmp_path / "work.py"
    script.write_text(
        "import time\n"
        "from pipeline.workers import Workers\n"
        "if __name__ == '__main__':\n"
        "    with Workers(2) as pool:\n"
        "        try:\n"
        "            for item, result in pool.map(time.sleep, [0, 30, 30]):\n"
        "                print('first', flush=True)\n"
        "        except KeyboardInterrupt:\n"
        "            print('stopped', flush=True)\n"
        "            raise SystemExit(130)\n",
        encoding="utf-8",
    )
    root = Path(__file__).parents[1]
    process = subprocess.Popen(
        [sys.executable, str(script)],
        env={**os.environ, "PYTHONPATH": str(root)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "first\n"
    os.killpg(process.pid, signal.SIGINT)
    out, err = process.communicate(timeout=20)
    assert (out, err, process.returncode) == ("stopped\n", "", 130)
