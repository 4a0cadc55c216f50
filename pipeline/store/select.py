"""Write the conditions and tables of a selection of results; values never stand in the SQL."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

Selection = Mapping[str, Sequence[str | None]]

# Where each column that can be filtered is kept: sample, column of a report, or report.
SAMPLE = (
    "sample_kind", "region", "grower", "vineyard", "block", "variety", "lot", "vintage", "stage",
    "sample_id",
)  # fmt: skip
# What a resolved sample repeats of its report; here it is asked of the report.
OF_REPORT = "report_id, lab, report_no, revision, file, is_current"
MEASURE = ("analyte", "form", "unit", "method", "expressed_as")
FILTERS = (*SAMPLE, *MEASURE, "lab", "matrix")
# A number per mass whose matrix is only assumed is no wine's, as in the view `results`.
MATRIX = "CASE WHEN s.matrix_stated OR m.unit IS DISTINCT FROM 'ug/kg' THEN s.matrix END"
ORDERS = {
    "newest": "sampled_on DESC NULLS LAST",
    "oldest": "sampled_on NULLS LAST",
    "highest": "coalesce(upper, 'inf'::DOUBLE) DESC, lower DESC",
    "lowest": "lower NULLS LAST, coalesce(upper, 'inf'::DOUBLE)",
    "lot": "lot NULLS LAST, sampled_on NULLS LAST",
}


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

    The three small ones are filtered before the large one is read.
    """
    lab, sample, measure = (where(selection, c, values) for c in (("lab",), SAMPLE, MEASURE))
    matrix = selection.get("matrix")
    return f"""WITH r AS MATERIALIZED (
    SELECT * FROM base.standing WHERE is_current AND {lab}),
s AS NOT MATERIALIZED (
    SELECT * FROM kept_sample SEMI JOIN r USING (load_no) WHERE {sample}),
m AS MATERIALIZED (
    SELECT * FROM base.measure SEMI JOIN r USING (load_no)
    WHERE (outcome = 'result' OR outcome = 'corrected' AND qc_kind IS NULL) AND {measure}),
v AS (
    SELECT n.value_key, n.sample_key, n.measure_key, s.load_no, n.lower, n.upper FROM base.result n
    JOIN s USING (sample_key) JOIN m USING (measure_key)
    ANTI JOIN kept_repeat p ON p.value_key = n.value_key
    WHERE (m.outcome <> 'corrected' OR n.value_key IN (FROM kept_correction))
    AND {condition(MATRIX, matrix, values) if matrix else "true"})
"""


# All that is known of some values, uncertainties as reported: those of the view `results`.
FULL = """
    SELECT r.report_id, r.lab, r.report_no, r.revision, r.file, m.* EXCLUDE (load_no, measure_key),
        s.* EXCLUDE (load_no, sample_key, matrix, matrix_stated, matrix_assumed, still_assumed),
        n.* EXCLUDE (sample_key, measure_key),
        {matrix} AS matrix, t.held_id
    FROM {values} v JOIN base.result n USING (value_key)
    JOIN s ON s.sample_key = v.sample_key JOIN m ON m.measure_key = v.measure_key
    JOIN r ON r.load_no = v.load_no LEFT JOIN base.settled t ON t.value_key = v.value_key"""
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
