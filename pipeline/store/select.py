"""Write the conditions and tables of a selection of results; values never stand in the SQL."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from schemas.vocabulary import STAGES

Selection = Mapping[str, Sequence[str | None]]

# Where each column that can be filtered is kept: sample, column of a report, or report.
SAMPLE = (
    "sample_kind", "region", "grower", "vineyard", "block", "variety", "lot", "vintage", "stage",
    "sample_id",
)  # fmt: skip
# What a resolved sample repeats of its report; here it is asked of the report.
OF_REPORT = "report_id, lab, report_no, revision, file, is_current"
MEASURE = ("analyte", "form", "unit", "method", "expressed_as")
# Ends of a range of days of sampling, and of values: what may lie within, by its interval.
RANGES = {
    "from": "sampled_on >= CAST(? AS DATE)", "to": "sampled_on <= CAST(? AS DATE)",
    "low": "coalesce(n.upper, 'inf'::DOUBLE) >= CAST(? AS DOUBLE)",
    "high": "n.lower <= CAST(? AS DOUBLE)",
}  # fmt: skip
DAYS, VALUES = ("from", "to"), ("low", "high")
FILTERS = (*SAMPLE, *MEASURE, "lab", "matrix", *RANGES)
# Single results, each named by its source cell, such as `ea1b0e3b4d806eda Results!C7`.
MARK = "concat(r.report_id, ' ', m.sheet, '!', n.cell)"
# A number per mass whose matrix is only assumed is no wine's, as in the view `results`.
MATRIX = "CASE WHEN s.matrix_stated OR m.unit IS DISTINCT FROM 'ug/kg' THEN s.matrix END"
_LIFE = f"list_position({list(STAGES)}, stage)"
_VALUE = "coalesce(upper, 'inf'::DOUBLE)"
ORDERS = {
    "newest": "sampled_on DESC NULLS LAST",
    "oldest": "sampled_on NULLS LAST",
    "highest": f"{_VALUE} DESC, lower DESC",
    "lowest": f"lower NULLS LAST, {_VALUE}",
    "lot": "lot NULLS LAST, sampled_on NULLS LAST",
    "lot-down": "lot DESC NULLS LAST, sampled_on NULLS LAST",
    "what": "analyte, form NULLS LAST, sampled_on NULLS LAST",
    "what-down": "analyte DESC, form DESC NULLS LAST, sampled_on NULLS LAST",
    "stage": f"{_LIFE} NULLS LAST, sampled_on NULLS LAST",
    "stage-down": f"{_LIFE} DESC NULLS LAST, sampled_on NULLS LAST",
    "lab": "lab NULLS LAST, sampled_on NULLS LAST",
    "lab-down": "lab DESC NULLS LAST, sampled_on NULLS LAST",
}

# Lots of the register or of samples, by the words of their name and what is flagged of them.
KNOWN_LOTS = """
WITH r AS (SELECT load_no FROM base.standing WHERE is_current),
sampled AS (
    SELECT lot, min(vineyard) AS vineyard, min(variety) AS variety, min(vintage) AS vintage,
        count(DISTINCT sample_id) AS n_samples, max(sampled_on) AS last_sampled_on
    FROM kept_sample SEMI JOIN r USING (load_no) WHERE lot IS NOT NULL GROUP BY lot),
flagged AS (
    SELECT lot, count(*) FILTER (decision = 'above' AND kind <> 'above_background') AS n_above,
        count(*) FILTER (decision = 'undecided' AND severity <> 'note') AS n_undecided,
        count(*) FILTER (decision = 'above' AND kind = 'above_background') AS n_exposed
    FROM base.flag WHERE status = 'current' GROUP BY lot),
known AS (
    SELECT coalesce(l.lot, s.lot) AS lot, coalesce(l.vineyard, s.vineyard) AS vineyard,
        coalesce(l.variety, s.variety) AS variety, coalesce(l.vintage, s.vintage) AS vintage,
        coalesce(n_samples, 0) AS n_samples, last_sampled_on
    FROM lots l FULL JOIN sampled s ON l.lot = s.lot),
found AS MATERIALIZED (
    SELECT * FROM known
    WHERE contains(lower(concat_ws(' ', lot, vineyard, variety, vintage)), lower(?)))
SELECT found.*, coalesce(n_above, 0) AS n_above, coalesce(n_undecided, 0) AS n_undecided,
    coalesce(n_exposed, 0) AS n_exposed, (SELECT count(*) FROM found) AS n_found
FROM found LEFT JOIN flagged USING (lot)
ORDER BY n_above DESC, n_undecided DESC, n_exposed DESC, found.lot LIMIT ? OFFSET ?
"""


def within(selection: Selection, names: Sequence[str], values: list[str]) -> str:
    """Write the conditions of ranges; one end alone leaves the other open."""
    given = [name for name in names if selection.get(name)]
    values += [str(selection[name][-1]) for name in given]
    return " AND ".join(RANGES[name] for name in given) or "true"


def where(selection: Selection, columns: Sequence[str], values: list[str]) -> str:
    """Write the conditions on some columns; a null among the wanted values means "not given"."""
    conditions = [condition(c, selection[c], values) for c in columns if selection.get(c)]
    return " AND ".join(conditions) or "true"


def condition(said: str, wanted: Sequence[str | None], values: list[str]) -> str:
    """Write the condition that something is one of the wanted values; null is "not given"."""
    named = [value for value in wanted if value is not None]
    values += named
    either = [f"{said} IS NULL"] if len(named) < len(wanted) else []
    if named:
        either.append(f"({said})::VARCHAR IN ({', '.join('?' for _ in named)})")
    return f"({' OR '.join(either)})"


def chosen_tables(selection: Selection, values: list[str]) -> str:
    """Write the tables a query joins: `r` reports, `s` samples, `m` columns, `v` their values.

    The three small ones are filtered before the large one is read. Where a column is chosen, its
    values are taken out first: the engine, which cannot know how many they are, would look up the
    sample of every value of the store.
    """
    marked = selection.get("mark") or ()
    lab = where(selection, ("lab",), values)
    if marked:
        reports = sorted({str(mark).partition(" ")[0] for mark in marked})
        lab = f"{lab} AND {condition('report_id', reports, values)}"
    sample = where(selection, SAMPLE, values)
    days = within(selection, DAYS, values)
    measure = where(selection, MEASURE, values)
    matrix = selection.get("matrix")
    few = bool(marked) or any(selection.get(column) for column in MEASURE)
    source = "n" if few else "base.result"
    return f"""WITH r AS MATERIALIZED (
    SELECT * FROM base.standing WHERE is_current AND {lab}),
s AS NOT MATERIALIZED (
    SELECT * FROM kept_sample SEMI JOIN r USING (load_no) WHERE {sample} AND {days}),
m AS MATERIALIZED (
    SELECT * FROM base.measure SEMI JOIN r USING (load_no)
    WHERE (outcome = 'result' OR outcome = 'corrected' AND qc_kind IS NULL) AND {measure}),
n AS {"" if few else "NOT "}MATERIALIZED (
    SELECT value_key, sample_key, measure_key, lower, upper{", cell" if marked else ""} FROM base.result
    SEMI JOIN m USING (measure_key)),
v AS (
    SELECT n.value_key, n.sample_key, n.measure_key, s.load_no, n.lower, n.upper FROM {source} n
    JOIN s USING (sample_key) JOIN m USING (measure_key)
    {"JOIN r ON r.load_no = m.load_no" if marked else ""}
    ANTI JOIN kept_repeat p ON p.value_key = n.value_key
    WHERE (m.outcome <> 'corrected' OR n.value_key IN (FROM kept_correction))
    AND {condition(MATRIX, matrix, values) if matrix else "true"}
    AND {within(selection, VALUES, values)}
    AND {condition(MARK, marked, values) if marked else "true"})
"""


# All that is known of some values, uncertainties as reported: those of the view `results`.
FULL = """
    SELECT r.report_id, r.lab, r.report_no, r.revision, r.file, m.* EXCLUDE (load_no, measure_key, qualifier),
        s.* EXCLUDE (load_no, sample_key, matrix, matrix_stated, matrix_assumed, still_assumed),
        n.* EXCLUDE (sample_key, measure_key),
        {matrix} AS matrix, t.held_id, base.doubted(m.qualifier, u.power) AS qualifier,
        pow(10.0, -u.power) AS suspected_factor
    FROM {values} v JOIN base.result n USING (value_key)
    JOIN s ON s.sample_key = v.sample_key JOIN m ON m.measure_key = v.measure_key
    JOIN r ON r.load_no = v.load_no LEFT JOIN base.settled t ON t.value_key = v.value_key
    LEFT JOIN base.suspect u ON u.value_key = v.value_key"""
# The same with the best uncertainty known of each, as in the view `base.weighed`.
WEIGHED = f"""
    SELECT v.* REPLACE (base.best_uncertainty(v, r, c) AS standard_uncertainty,
        base.best_source(v, r, c) AS uncertainty_source)
    FROM ({FULL}) v
    LEFT JOIN base.recorded r ON r.lab = v.lab AND r.analyte = v.analyte
        AND r.form IS NOT DISTINCT FROM v.form
    LEFT JOIN base.charted c ON c.lab = v.lab AND c.analyte = v.analyte
        AND c.form IS NOT DISTINCT FROM v.form AND c.method IS NOT DISTINCT FROM v.method
        AND c.unit = v.unit"""
