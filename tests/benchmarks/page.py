"""Time the local page on a large made-up store, each answer beside its bare SQL query.

    python -m tests.benchmarks.page [--results 10000000] [--rounds 3] [--store FILE]

Prints medians of whole requests over HTTP to a server process of its own (started anew for each
round, and asked each page a second time), and their ratio to a bare query: the same numbers from
the documented views, in DuckDB alone, without counting, paging, trend, drawing or HTTP.
`--store` keeps the made-up store for another run.
"""

from __future__ import annotations

import argparse
import statistics
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import duckdb

from pipeline.store import Store
from tests.serving import Pages

SAMPLES, ANALYTES = 200, 25
NAMES = (
    "guaiacol", "4-methylguaiacol", "o-cresol", "m-cresol", "p-cresol", "phenol", "syringol",
    "4-methylsyringol", "eugenol", "vanillin", "4-ethylphenol", "4-ethylguaiacol", "4-vinylphenol",
)  # fmt: skip
STAGES = ("harvest", "must", "end of AF", "end of MLF", "ageing", "pre-bottling")

# Reports of 200 samples by 25 columns, of 8 laboratories, 5 vintages, 120 vineyards and 9 varieties;
# a third of the values below a limit.
DRAW = """
INSERT INTO base.report SELECT i, format('{:016x}', i), 'report-' || i || '.xlsx', format('{:064x}', i),
    'Laboratory ' || i % 8, 'R-' || i, NULL, NULL, 'samples_down', DATE '2021-09-01' + (i % 1500)::INT,
    TIMESTAMP '2026-01-01', $columns * $samples, '[]', 'laboratory ' || i % 8, 'r-' || i, [0], [], ''
FROM range(1, $reports + 1) t(i);
INSERT INTO base.sample SELECT i << 32 | s, i, 'S' || i || '-' || s, NULL, 'lot',
    'L' || (i * 7 + s) % 20000, 'Region ' || s % 6, 'Grower ' || s % 40,
    'Vineyard ' || lpad((s * 13 + i) % 120 || '', 3, '0'), 'Block ' || s % 9, 'Variety ' || s % 9,
    2021 + i % 5, CASE WHEN s % 6 = 0 THEN 'grape' WHEN s % 6 = 1 THEN 'must' ELSE 'red wine' END,
    list_value($stages)[s % 6 + 1], DATE '2021-09-01' + (i % 1500)::INT, NULL, NULL, NULL, NULL,
    NULL, NULL, NULL, false, 'l' || (i * 7 + s) % 20000, NULL, NULL
FROM range(1, $reports + 1) t(i), range($samples) u(s);
INSERT INTO base.measure (measure_key, load_no, method, analyte, form, expressed_as, unit, censoring,
    limit_kind, lod, loq, uncertainty_source, coverage_factor, path_length, illuminant, observer,
    qualifier, raw_analyte, raw_unit, sheet, outcome, qc_kind)
SELECT i << 32 | (c * 2 + g), i, 'GC-MS',
    list_value($names)[c % $n_names + 1], CASE WHEN c < $n_names THEN 'free' ELSE 'bound' END,
    list_value($names)[c % $n_names + 1], CASE WHEN g = 1 THEN 'ug/kg' ELSE 'ug/L' END, 'none',
    NULL, 0.3, 1.0, NULL, NULL, NULL, NULL, NULL, NULL, 'Column ' || c, 'ug/L', 'Results',
    'result', NULL
FROM range(1, $reports + 1) t(i), range($columns) u(c), range(2) w(g);
INSERT INTO base.result SELECT i << 32 | (s * $columns + c), i << 32 | s,
    i << 32 | (c * 2 + (s % 6 = 0)::INT), CASE WHEN x > 1 THEN x END, CASE WHEN x > 1 THEN x ELSE 0 END,
    greatest(x, 1), 0.05 * x, 0.1 * x, CASE WHEN x > 1 THEN round(x, 1)::VARCHAR ELSE '<1' END,
    chr((65 + c)::INT) || (s + 12)
FROM (SELECT i, s, c, (hash(i * 977 + s * 31 + c) % 30000) / 1000 * ((s % 5) / 4 + 0.3) AS x
    FROM range(1, $reports + 1) t(i), range($samples) u(s), range($columns) w(c));
"""


def draw_store(path: Path, results: int) -> None:
    """Fill a store with made-up results, straight into its tables."""
    Store(path).close()
    reports = -(-results // (SAMPLES * ANALYTES))
    quoted = {"stages": STAGES, "names": NAMES}
    words = {name: ", ".join(f"'{n}'" for n in names) for name, names in quoted.items()}
    words |= {"reports": str(reports), "samples": str(SAMPLES), "columns": str(ANALYTES),
              "n_names": str(len(NAMES))}  # fmt: skip
    sql = DRAW
    for name in sorted(words, key=len, reverse=True):
        sql = sql.replace(f"${name}", words[name])
    with duckdb.connect(str(path)) as con:
        con.execute(sql)


FREE = "analyte = 'guaiacol' AND form = 'free' AND sample_kind = 'lot'"
# What is timed: its name, its address, and the bare query that reads the same numbers.
CASES = (
    (
        "compare vineyards", "/?analyte=guaiacol&form=free",
        "SELECT vineyard, lab, method, matrix, unit, count(*), median(lower), median(upper) "
        f"FROM results WHERE {FREE} GROUP BY ALL",
    ),
    (
        "results of one analyte", "/results?analyte=guaiacol&form=free",
        f"SELECT * FROM results WHERE {FREE} ORDER BY sampled_on DESC LIMIT 25",
    ),
    (
        "results of one vineyard", "/results?analyte=guaiacol&form=free&vineyard=Vineyard+003",
        f"SELECT * FROM results WHERE {FREE} AND vineyard = 'Vineyard 003' "
        "ORDER BY sampled_on DESC LIMIT 25",
    ),
    (
        "all results, highest first", "/results?order=highest",
        "SELECT * FROM results WHERE sample_kind = 'lot' ORDER BY upper DESC LIMIT 25",
    ),
    ("one lot", "/lot?lot=L77", "SELECT * FROM results WHERE lot = 'L77'"),
    (
        "one cell", "/cell?report=0000000000000007&sheet=Results&cell=C20",
        "SELECT * FROM results WHERE report_id = '0000000000000007' AND sheet = 'Results' "
        "AND cell = 'C20'",
    ),
)  # fmt: skip


def seconds(work: Callable[[], object]) -> float:
    """Time one piece of work."""
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


def bare(path: Path, query: str) -> None:
    """Ask the store in DuckDB alone."""
    with duckdb.connect(str(path), read_only=True) as con:
        con.execute(query).fetchall()


def fetch(pages: Pages, address: str) -> None:
    """Ask for a page and fail when it is not given."""
    got = pages.get(address)
    if got.status != 200:
        raise SystemExit(f"{address}: {got.status} {got.text}")


def time_round(path: Path) -> dict[str, tuple[float, float, float]]:
    """Time every case once: at first, asked again, and its bare query."""
    with Pages(path) as pages:
        fetch(pages, "/static/page.css")
        asked = {
            name: (seconds(lambda: fetch(pages, address)), seconds(lambda: fetch(pages, address)))  # noqa: B023
            for name, address, _ in CASES
        }
    return {name: (*asked[name], seconds(lambda: bare(path, query))) for name, _, query in CASES}  # noqa: B023


def main() -> None:
    """Draw the store where it is not there yet, time all cases, print medians and ratios."""
    words = argparse.ArgumentParser(description=__doc__)
    words.add_argument("--results", type=int, default=10_000_000)
    words.add_argument("--rounds", type=int, default=3)
    words.add_argument("--store", type=Path)
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        path = asked.store or Path(scratch) / "large.duckdb"
        if not path.exists():
            draw_store(path, asked.results)
        rounds = [time_round(path) for _ in range(asked.rounds)]
    for name, _, _ in CASES:
        first, again, query = (statistics.median(r[name][i] for r in rounds) for i in range(3))
        print(
            f"{name}: page {first:.2f} s, asked again {again:.2f} s / bare query {query:.2f} s "
            f"= {first / query:.1f}, {again / query:.1f}"
        )


if __name__ == "__main__":
    main()
