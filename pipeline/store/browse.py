"""Answer small questions from a large store: filtered, aggregated and cut into pages by the engine.

Everything asked here is brief, so that a load waits no longer than one answer takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import Any

import duckdb
import polars as pl

from pipeline.store.bins import in_bins_of_days, in_bins_of_values
from pipeline.store.describe import documented_columns
from pipeline.store.kept import Kept, take_frame, work_out
from pipeline.store.select import (
    KNOWN_LOTS,
    MATRIX,
    MEASURE,
    ORDERS,
    SAMPLE,
    WEIGHED,
    Selection,
    chosen_tables,
)  # fmt: skip

# The columns a trend is taken from, beside the one it runs over: of samples, and of what is measured.
_TREND = ("sample_kind", "matrix", "sample_id", "sampled_on", "analysed_on", "replicate")
_TREND_MEASURES = (
    "m.measure_key, m.method, m.analyte, m.form, m.expressed_as, m.unit, r.lab "
    "FROM m JOIN r ON r.load_no = m.load_no"
)
# For an order by analyte or laboratory alone, since it has to be looked up for every value.
_BESIDE = "JOIN m ON m.measure_key = v.measure_key JOIN r ON r.load_no = v.load_no"
_OF_LOT = ("flags", "fractions", "interventions", "tastings", "decisions", "lots")


class Browser:
    """Answers of one open store; `kept` is what an earlier one worked out of the same state."""

    def __init__(self, con: duckdb.DuckDBPyConnection, kept: Kept | None = None) -> None:
        self._con = con
        self.kept = kept or work_out(con)
        con.register("kept_sample", self.kept.samples)
        con.register("kept_repeat", self.kept.repeats)
        con.register("kept_correction", self.kept.corrections)
        con.register("kept_replaced", self.kept.replaced)

    def _take(self, sql: str, *values: Any) -> pl.DataFrame:
        return take_frame(self._con, sql, *values)

    def facets(self, columns: Sequence[str]) -> dict[str, list[str | None]]:
        """Give the values that each of some filters can take, sorted; null where some have none."""
        reports = self._take("SELECT load_no, lab FROM base.standing WHERE is_current")
        wanted = [c for c in columns if c in SAMPLE]
        samples = self.kept.samples.select("load_no", *wanted).join(reports, "load_no", how="semi")
        measured = ", ".join(f"list(DISTINCT {c}::VARCHAR) FILTER ({c} IS NOT NULL), "
                             f"bool_or({c} IS NULL)" for c in MEASURE)  # fmt: skip
        row = self._take(
            f"SELECT {measured} FROM base.measure SEMI JOIN (SELECT load_no FROM base.standing "
            "WHERE is_current) USING (load_no) WHERE outcome IN ('result', 'corrected')"
        ).row(0)
        told = {c: _distinct(samples[c]) for c in wanted}
        told |= {"lab": _distinct(reports["lab"])}
        for place, column in enumerate(MEASURE):
            values = sorted(row[2 * place] or ())
            told[column] = [*values, None] if row[2 * place + 1] else values
        return {column: told[column] for column in columns}

    def count(self, selection: Selection) -> tuple[int, int]:
        """Give how many results are chosen, and how many of them are no plain number."""
        values: list[str] = []
        chosen = chosen_tables(selection, values)
        rows = self._take(
            f"{chosen} SELECT count(*), count(*) FILTER (lower IS DISTINCT FROM upper) FROM v",
            *values,
        )
        n, censored = rows.row(0)
        return int(n), int(censored)

    def spread(self, selection: Selection, unit: str, bins: int) -> dict[str, pl.DataFrame]:
        """Count the chosen results of a unit in bins of their values and of their days.

        `values`: place (0 to bins - 1, equal steps of the square root from 0 to `top`, by the upper
        end, else the lower), n_known, n_spans, top. `days`: place, n_known, n_spans, first, last.
        """
        values: list[str] = []
        chosen = chosen_tables({**selection, "unit": (unit,)}, values)
        queries = {"values": in_bins_of_values(bins), "days": in_bins_of_days(bins)}
        return {n: self._take(f"{chosen} {query}", *values) for n, query in queries.items()}

    def units(self, selection: Selection) -> list[str]:
        """Give the units of the chosen results, the most frequent first."""
        values: list[str] = []
        chosen = chosen_tables(selection, values)
        units = """SELECT unit, count(*) AS n FROM v JOIN m USING (measure_key)
WHERE unit IS NOT NULL GROUP BY unit ORDER BY n DESC, unit"""
        rows = self._take(f"{chosen} {units}", *values)
        return rows["unit"].to_list()

    def page(self, selection: Selection, order: str, start: int, size: int) -> pl.DataFrame:
        """Give some of the chosen results with all their columns, in one of `ORDERS`.

        The order leaves no tie, so that pages neither overlap nor leave a gap.
        """
        values: list[str] = []
        columns = ", ".join(documented_columns()["results"])
        by = f"{ORDERS[order]}, value_key"
        beside = _BESIDE if order.partition("-")[0] in ("what", "lab") else ""
        return self._take(
            f"""{chosen_tables(selection, values)},
few AS MATERIALIZED (
    SELECT v.* FROM v JOIN s USING (sample_key) {beside} ORDER BY {by} LIMIT {int(size)}
    OFFSET {int(start)})
SELECT {columns} FROM ({WEIGHED.format(values="few", matrix=MATRIX)}) ORDER BY {by}""",
            *values,
        )

    def for_trend(self, selection: Selection, by: str) -> pl.DataFrame:
        """Give the chosen results with the columns that a trend over `by` is taken from."""
        values: list[str] = []
        chosen = chosen_tables(selection, values)
        found = self._take(
            f"{chosen} SELECT v.sample_key, v.measure_key, v.lower, v.upper, "
            "pow(10.0, -u.power) AS suspected_factor FROM v "
            "LEFT JOIN base.suspect u ON u.value_key = v.value_key",
            *values,
        )
        # Joined here, the texts of samples and columns are not copied value by value.
        own = [name for name in dict.fromkeys((*_TREND, by)) if name in self.kept.samples.columns]
        is_stated = pl.col("matrix_stated") | pl.col("unit").ne_missing(pl.lit("ug/kg"))
        return (
            found.join(self._take(f"{chosen} SELECT {_TREND_MEASURES}", *values), "measure_key")
            .join(self.kept.samples.select("sample_key", "matrix_stated", *own), "sample_key")
            .with_columns(matrix=pl.when(is_stated).then("matrix"))
            .drop("sample_key", "measure_key", "matrix_stated")
        )

    def known_lots(self, words: str, start: int, size: int) -> pl.DataFrame:
        """Give some of the lots whose name, vineyard, variety or vintage holds `words`.

        Columns: lot, vineyard, variety, vintage, n_samples, last_sampled_on, n_above, n_undecided
        (current flags, notes and exposure aside), n_exposed (markers above their background),
        n_found (all that hold the words). Flagged lots come first.
        """
        return self._take(KNOWN_LOTS, words, size, start)

    def of_lot(self, lot: str) -> dict[str, pl.DataFrame]:
        """Give what the views say of one lot: flags, fractions, its register lines, its movements.

        Keyed by the view; empty frames where a view says nothing.
        """
        found = {
            view: self._take(f"SELECT * FROM {view} WHERE lot = ? ORDER BY ALL", lot)
            for view in _OF_LOT
        }
        moves = "SELECT * FROM movements WHERE from_lot = ? OR to_lot = ? ORDER BY ALL"
        smoke = (
            "SELECT e.* FROM exposures e SEMI JOIN "
            "(SELECT block FROM lots WHERE lot = ?) l USING (block) ORDER BY ALL"
        )
        return found | {
            "movements": self._take(moves, lot, lot),
            "exposures": self._take(smoke, lot),
        }

    def loaded(self) -> tuple[int, datetime | None]:
        """Count the reports that were loaded, and say when the last one came in (UTC)."""
        count, last = self._take("SELECT count(*), max(loaded_at) FROM base.report").row(0)
        return int(count), last

    def reports_of_file(self, file: str) -> list[str]:
        """Give the reports that came from a file of this name, the one to trust first."""
        rows = self._take(
            "SELECT report_id FROM base.standing WHERE file = ? "
            "ORDER BY is_current DESC, loaded_at DESC, report_id",
            file,
        )
        return rows["report_id"].to_list()

    def report(self, report_id: str) -> dict[str, Any] | None:
        """Give a report's heading, null when there is none of this name."""
        rows = self._take("SELECT * FROM base.standing WHERE report_id = ?", report_id)
        return rows.row(0, named=True) if rows.height else None

    def in_cell(self, load_no: int, sheet: str, cell: str) -> dict[str, pl.DataFrame]:
        """Give what was read from one cell of a report: its values, held values and unused cells.

        Values of superseded reports too; each with all that is known of it, and is_replaced: a
        correction stands in its place. Corrections that were taken back are left out.
        """
        first, last = load_no << 32, (load_no + 1) << 32
        return {
            "values": self._take(
                f"WITH r AS (SELECT * FROM base.standing WHERE load_no = ?), "
                f"m AS (SELECT * FROM base.measure WHERE load_no = ?), s AS (FROM kept_sample), "
                f"v AS (SELECT *, value_key >> 32 AS load_no FROM base.result "
                f"WHERE value_key >= ? AND value_key < ?) "
                f"SELECT *, value_key IN (FROM kept_replaced) AS is_replaced "
                f"FROM ({WEIGHED.format(values='v', matrix=MATRIX)}) WHERE sheet = ? AND cell = ? "
                f"AND value_key NOT IN (SELECT value_key FROM base.set_aside) ORDER BY value_key",
                load_no, load_no, first, last, sheet, cell,
            ),
            "held": self._take(
                "SELECT * FROM base.held WHERE load_no = ? AND sheet = ? AND cell = ? ORDER BY ALL",
                load_no, sheet, cell,
            ),
            "unused": self._take(
                "SELECT * FROM base.unused WHERE load_no = ? AND sheet = ? AND cell = ? "
                "ORDER BY ALL",
                load_no, sheet, cell,
            ),
        }  # fmt: skip

    def printed(self, load_no: int, sheet: str) -> pl.DataFrame:
        """Give the value cells of a sheet as they were printed: cell, text."""
        return self._take(
            """SELECT v.cell, v.raw_value AS text FROM base.result v
JOIN base.measure m USING (measure_key)
WHERE value_key >= ? AND value_key < ? AND m.sheet = ?
UNION SELECT cell, raw_value FROM base.held WHERE load_no = ? AND sheet = ?
UNION SELECT cell, raw_value FROM base.unused WHERE load_no = ? AND sheet = ?
ORDER BY ALL""",
            load_no << 32, (load_no + 1) << 32, sheet, load_no, sheet, load_no, sheet,
        )  # fmt: skip


def _distinct(column: pl.Series) -> list[str | None]:
    return column.unique().cast(pl.String).sort(nulls_last=True).to_list()
