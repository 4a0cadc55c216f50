"""Follow one analyte over regions, growers, lots, laboratories, vintages or stages."""

from __future__ import annotations

from collections.abc import Callable
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Any

import polars as pl
import polars.selectors as cs

from pipeline.errors import WrongUse
from pipeline.statistics import SLOPES, add_estimates, add_slopes, leave_slopes_out
from schemas.vocabulary import FORMS, STAGES, Vocabulary, load_vocabulary, squash

if TYPE_CHECKING:
    from pipeline.store import Store

DIMENSIONS = (
    "region", "grower", "vineyard", "block", "variety", "lot", "lab", "vintage", "stage",
)  # fmt: skip
# What is never pooled: laboratories are not interchangeable (Molecules 27 (2022) 4892).
APART = ("lab", "method", "matrix", "unit", "form", "expressed_as")
_SAMPLE = ("sample_id", "sampled_on")
_DAYS_PER_YEAR = 365.25
_STAGE_ORDER = {stage: place for place, stage in enumerate(STAGES)}
_ENDS = (("minimum", "min"), ("median", "median"), ("maximum", "max"))


def resolve_analyte(printed: str, vocabulary: Vocabulary) -> str:
    """Turn a spelling such as "4-MG" into the stored name.

    Raises WrongUse for a name that could be several analytes, and for an unknown one with the
    nearest known name.
    """
    key = squash(printed)
    if printed in vocabulary.analytes:
        return printed
    if key in vocabulary.ambiguous:
        raise WrongUse(f'"{printed}": {vocabulary.ambiguous[key]}')
    if key in vocabulary.names:
        return vocabulary.names[key]
    near = get_close_matches(key, vocabulary.names, n=1, cutoff=0.6)
    hint = f"; did you mean {vocabulary.names[near[0]]}?" if near else ""
    raise WrongUse(f'no analyte is called "{printed}"{hint}')


def _check(name: str, value: str, allowed: tuple[str, ...]) -> None:
    if value not in allowed:
        near = get_close_matches(value, allowed, n=1, cutoff=0.6)
        hint = f"; did you mean {near[0]}?" if near else ""
        raise WrongUse(f'{name} "{value}" is none of {", ".join(allowed)}{hint}')


def _one_per_sample(results: pl.DataFrame, by: str) -> pl.DataFrame:
    """Take the latest analysis of each sample and average its replicates end by end."""
    keys = [*dict.fromkeys((by, *APART, *_SAMPLE))]
    return (
        results.with_columns(upper=pl.col("upper").fill_null(float("inf")))
        .group_by(*keys, "analysed_on")
        .agg(pl.col("lower", "upper").mean())
        .sort("analysed_on", nulls_last=False)
        .group_by(keys)
        .last()
    )


def _summary() -> list[pl.Expr]:
    censored = pl.col("lower") != pl.col("upper")
    ends = [
        getattr(pl.col(end), statistic)().alias(f"{name}_{end}")
        for name, statistic in _ENDS
        for end in ("lower", "upper")
    ]
    return [
        pl.len().cast(pl.Int64).alias("n"),
        censored.sum().cast(pl.Int64).alias("n_censored"),
        censored.mean().alias("share_censored"),
        *ends,
        pl.col("lower").alias("lowers"),
        pl.when(pl.col("upper").is_finite()).then(pl.col("upper")).alias("uppers"),
        (pl.col("sampled_on").cast(pl.Int32) / _DAYS_PER_YEAR).alias("times"),
        pl.col("sampled_on").min().alias("first_sampled_on"),
        pl.col("sampled_on").max().alias("last_sampled_on"),
    ]


def _with_slopes(summary: pl.DataFrame, by: str) -> pl.DataFrame:
    """Add the trend of each lot over its days, or of the vintages' medians over the vintages."""
    if by == "lot":
        return add_slopes(summary.with_columns(pl.when(pl.col("by").is_not_null()).then("times")))
    if by == "vintage":
        over = summary.group_by(APART).agg(
            times=pl.col("by").cast(pl.Float64), lowers="median_lower", uppers="median_upper"
        )
        return summary.join(
            add_slopes(over).select(*APART, *SLOPES), on=APART, how="left", nulls_equal=True
        )
    return leave_slopes_out(summary, "no order in time; ask by lot or vintage")


def mixes_laboratories(table: pl.DataFrame) -> bool:
    """Tell whether rows of several laboratories, or of an unknown one, stand in a trend.

    Their rows are not comparable with each other: Favell et al., Molecules 27 (2022) 4892.
    """
    return table["lab"].n_unique() > 1


def _ordered(table: pl.DataFrame, by: str) -> pl.DataFrame:
    if by != "stage":
        return table.sort("by", *APART, nulls_last=True)
    place = pl.col("by").replace_strict(_STAGE_ORDER, default=len(STAGES), return_dtype=pl.Int32)
    return table.sort(place, "by", *APART, nulls_last=True)


def trend(
    source: Store | pl.DataFrame,
    analyte: str,
    by: str,
    form: str | None = None,
    *,
    sample_kind: str = "lot",
    vocabulary: Vocabulary | None = None,
) -> pl.DataFrame:
    """Summarise one analyte by one of `DIMENSIONS`: region, grower, vineyard, lot, stage, ...

    Columns: by, lab, method, matrix, unit, form, expressed_as (rows are never pooled over these),
    n (samples), n_censored, share_censored (0 to 1), minimum, median and maximum as pairs _lower
    and _upper in `unit`, first_sampled_on, last_sampled_on, analyte. A censored value counts as an
    interval: the lower end of the median is the median of lower ends, the upper end that of upper
    ends; a null upper end has no bound. Each sample counts once, by its latest analysis, replicates
    averaged. Only samples of the lots themselves unless `sample_kind` says otherwise. `form` null
    keeps all forms apart. Raises WrongUse for an unknown analyte, dimension or form.
    """
    words = vocabulary or load_vocabulary()
    name = resolve_analyte(analyte, words)
    _check("--by", by, DIMENSIONS)
    if form is not None:
        _check("--form", form, FORMS)
    results = source if isinstance(source, pl.DataFrame) else source.results()
    wanted = results.filter(
        pl.col("analyte") == name,
        pl.col("sample_kind") == sample_kind,
        pl.col("form") == form if form is not None else pl.lit(True),
        pl.col("lower").is_not_null(),
    )
    summary = (
        _one_per_sample(wanted, by)
        .with_columns(by=pl.col(by).cast(pl.String))
        .group_by("by", *APART)
        .agg(_summary())
    )
    ends = [f"{name}_upper" for name, _ in _ENDS]
    bounded = pl.when(pl.col(ends).is_finite()).then(pl.col(ends))
    return (
        summary.with_columns(bounded, analyte=pl.lit(name))
        .pipe(add_estimates)
        .pipe(_with_slopes, by)
        .drop("lowers", "uppers", "times")
        .pipe(_ordered, by)
    )


def _layer(mark: dict[str, Any], **channels: dict[str, Any]) -> dict[str, Any]:
    return {"mark": mark, "encoding": channels}


def _panel(group: pl.DataFrame) -> dict[str, Any]:
    """Draw the rows of one laboratory, method, matrix, form and unit; never beside another's."""
    first = group.row(0, named=True)
    unit = {"ug/L": "µg/L", "ug/kg": "µg/kg", "1": ""}.get(first["unit"], first["unit"] or "")
    what = " ".join(part for part in (first["form"], first["analyte"]) if part)
    other = first["expressed_as"] if first["expressed_as"] != first["analyte"] else None
    basis = f"expressed as {other}" if other else None
    parts = (what, basis, first["matrix"], first["lab"], first["method"])
    rows = group.select("by", "n", cs.starts_with("minimum", "median", "maximum")).with_columns(
        pl.col("by").fill_null("not given"),
        end=pl.coalesce("maximum_upper", "maximum_lower"),
        middle_end=pl.coalesce("median_upper", "maximum_lower"),
        point=pl.when(pl.col("median_lower") == pl.col("median_upper")).then("median_lower"),
        said=pl.format("n = {}", "n"),
    )
    y = {"field": "by", "type": "nominal", "sort": None, "title": None}
    x = {"type": "quantitative", "title": unit, "scale": {"zero": True}}
    box = {"type": "bar", "height": 9, "fill": "#333", "fillOpacity": 0.15, "stroke": "#333"}
    return {
        "title": {"text": ", ".join(p for p in parts if p), "anchor": "start", "frame": "group"},
        "width": 420,
        "height": {"step": 24},
        "data": {"values": rows.to_dicts()},
        "layer": [
            _layer({"type": "rule", "color": "#333"}, y=y, x=x | {"field": "minimum_lower"},
                   x2={"field": "end"}),
            _layer(box, y=y, x=x | {"field": "median_lower"}, x2={"field": "middle_end"}),
            _layer({"type": "point", "filled": True, "color": "#333", "size": 60, "opacity": 1},
                   y=y, x=x | {"field": "point"}),
            _layer({"type": "text", "align": "left", "dx": 6, "color": "#666"}, y=y,
                   x=x | {"field": "end"}, text={"field": "said"}),
        ],
    }  # fmt: skip


def draw_trend(table: pl.DataFrame) -> dict[str, Any]:
    """Draw a trend as a Vega-Lite chart: a panel for each group that is never pooled.

    A line spans lowest to highest; a median that is known is a point, a censored one an open box
    over its whole interval.
    """
    groups = table.partition_by(APART, maintain_order=True)
    return {"vconcat": [_panel(group) for group in groups], "background": "white"}


def _write_chart(table: pl.DataFrame, path: Path) -> None:
    import vl_convert

    if table.is_empty():
        raise WrongUse("there is nothing to draw: no result fits; ask for a table to see why")
    if path.suffix.lower() == ".png":
        path.write_bytes(vl_convert.vegalite_to_png(draw_trend(table), scale=2))
    else:
        path.write_text(vl_convert.vegalite_to_svg(draw_trend(table)), encoding="utf-8")


def _write_workbook(table: pl.DataFrame, path: Path) -> None:
    from pipeline.digest.workbook import write_table

    write_table(table, "trend", path)


WRITERS: dict[str, Callable[[pl.DataFrame, Path], object]] = {
    ".csv": lambda table, path: table.write_csv(path),
    ".parquet": lambda table, path: table.write_parquet(path),
    ".xlsx": _write_workbook,
    ".svg": _write_chart,
    ".png": _write_chart,
}


def write_trend(table: pl.DataFrame, path: Path) -> None:
    """Write a trend as a table (.csv, .parquet, .xlsx) or a chart (.svg, .png), by the ending.

    The file is written whole or not at all. Raises WrongUse for another ending, and for a chart
    of nothing.
    """
    writer = WRITERS.get(path.suffix.lower())
    if writer is None:
        known = ", ".join(WRITERS)
        raise WrongUse(
            f"{path.name}: a trend is written as {known}; give the file one of these endings"
        )
    half = path.with_name(f".{path.stem}.part{path.suffix}")
    try:
        writer(table, half)
        half.replace(path)
    finally:
        half.unlink(missing_ok=True)
