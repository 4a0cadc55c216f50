"""What else to know beside a decision: other sources, high limits, assumed uncertainties."""

from __future__ import annotations

from datetime import timedelta

import polars as pl

from pipeline.flag.evidence import Evidence
from pipeline.flag.wording import capitalised, number
from pipeline.uncertainty import ASSUMED_FACTOR, REPLICATES, UNEXPLAINED, is_assumed
from schemas.judgement import OtherSource, load_judgement

_PLACE = ["lot", "day"]


def _sentence(text: pl.Expr) -> pl.Expr:
    return capitalised(text) + "."


def join_sentences(*sentences: pl.Expr) -> pl.Expr:
    """Put sentences behind each other, leaving out those that are null; null when all are."""
    joined = pl.concat_str(*sentences, separator=" ", ignore_nulls=True)
    return pl.when(joined.str.len_chars() > 0).then(joined)


def _last_event(rows: pl.DataFrame, evidence: Evidence, rule: OtherSource) -> pl.DataFrame:
    event = pl.format("{} on {}", pl.coalesce("agent", "kind"), "done_on")
    events = evidence.interventions.filter(pl.col("kind") == rule.intervention).select(
        "lot", on="done_on", event=event
    )
    reach = timedelta(days=rule.within_days or 36500)
    return (
        rows.select(_PLACE)
        .unique()
        .join(events, on="lot")
        .filter(pl.col("on") <= pl.col("day"), pl.col("on") >= pl.col("day") - reach)
        .sort("on", "event")
        .group_by(_PLACE)
        .agg(pl.col("event").last())
    )


def _holds(rule: OtherSource, analyte: str) -> pl.Expr:
    conditions = [pl.col(analyte).is_in(list(rule.analytes))]
    if rule.variety:
        known = [name.lower() for name in rule.variety]
        conditions.append(pl.col("variety").str.to_lowercase().is_in(known))
    if rule.matrix:
        conditions.append(pl.col("matrix").is_in(list(rule.matrix)))
    return pl.all_horizontal(conditions).fill_null(False)


def with_other_sources(
    rows: pl.DataFrame, evidence: Evidence, analyte: str = "analyte"
) -> pl.DataFrame:
    """Add `other_source`: what else than smoke may explain the analyte, in a sentence, else null.

    `rows` has lot, day, variety, matrix. The rules, each with its source, are those of
    schemas/judgement.toml: wood contact, yeast, variety. They decide nothing.
    """
    texts = []
    for place, rule in enumerate(load_judgement().other_sources):
        holds, said_of = _holds(rule, analyte), f"{rule.words} ({rule.source})"
        words = pl.lit(said_of)
        if rule.intervention:
            name = f"_event_{place}"
            found = _last_event(rows, evidence, rule).rename({"event": name})
            rows = rows.join(found, on=_PLACE, how="left", maintain_order="left")
            words = pl.format(said_of.replace("{event}", "{}"), pl.col(name))
            holds = holds & pl.col(name).is_not_null()
        texts.append(pl.when(holds).then(words))
    said = pl.concat_str(texts, separator="; ", ignore_nulls=True)
    text = pl.format("possible other source of {}: {}", analyte, said)
    return rows.with_columns(
        other_source=pl.when(said.str.len_chars() > 0).then(_sentence(text))
    ).drop(pl.selectors.starts_with("_event_"))


def high_limit() -> pl.Expr:
    """Say that the limit of quantification is high beside the threshold, else null.

    Limit above 0.3 of the threshold: a note on the quality of the method, Directive 2009/90/EC,
    Art. 4; it decides nothing.
    """
    judged = load_judgement()
    share = (pl.col("loq") / pl.col("threshold")).round(9)
    high = (share > judged.limit_share).fill_null(False)
    text = pl.format(
        "the laboratory's limit of quantification, {} {}, is more than {} of the threshold ({})",
        number(pl.col("loq")), "unit", pl.lit(f"{judged.limit_share:g}"),
        pl.lit(judged.limit_share_source),
    )  # fmt: skip
    return pl.when(high).then(_sentence(text))


def limit_driven() -> pl.Expr:
    """Say that a sum rests on limits and unresolved isomers more than on numbers, else null.

    (upper - lower) / upper above 20 %: Commission Regulation (EU) 2017/644, Annex III, 6.1.
    """
    judged = load_judgement()
    share = (pl.col("upper") - pl.col("lower")) / pl.col("upper")
    text = pl.format(
        "the sum rests on limits or on sums of isomers: its bounds lie {} % apart, more than {} %"
        " ({})",
        (100 * share).round(0).cast(pl.Int64), pl.lit(f"{100 * judged.limit_driven:g}"),
        pl.lit(judged.limit_driven_source),
    )  # fmt: skip
    return pl.when((share.round(9) > judged.limit_driven).fill_null(False)).then(_sentence(text))


def assumed_uncertainty() -> pl.Expr:
    """Say that the uncertainty is the default one, and whether a printed ± was left aside."""
    text = pl.format(
        "no uncertainty of {} is known: the usual scatter between laboratories is assumed"
        " (Horwitz-Thompson)",
        pl.col("lab").fill_null("the laboratory"),
    )
    unused = pl.col("uncertainty_source").str.contains(UNEXPLAINED, literal=True)
    aside = pl.when(unused).then(
        pl.lit("; the ± in the report is not used, as nobody says what it stands for")
    )
    return pl.when(is_assumed()).then(_sentence(text + aside.otherwise(pl.lit(""))))


def assumed_factor() -> pl.Expr:
    """Say that an expanded uncertainty was printed without its coverage factor, else null."""
    text = pl.format(
        "{} prints an expanded uncertainty without its coverage factor: k = 2 is taken",
        pl.col("lab").fill_null("the report"),
    )
    unsaid = pl.col("uncertainty_source").str.contains(ASSUMED_FACTOR, literal=True)
    return pl.when(unsaid.fill_null(False)).then(_sentence(text))


def scatter_alone() -> pl.Expr:
    """Say that the uncertainty is that of the replicates' mean, else null: it knows of no bias.

    u_Rw and u_bias stand side by side in Nordtest TR 537; few replicates show the first only.
    """
    text = pl.lit(
        "the uncertainty is the scatter of a few replicates alone, and a bias of the laboratory is"
        " not in it"
    )
    alone = pl.col("uncertainty_source").str.contains(REPLICATES, literal=True)
    return pl.when(alone.fill_null(False)).then(_sentence(text))
