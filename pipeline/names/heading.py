"""What a printed heading says."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.names.patterns import CONFIDENCE, K_FACTOR, path_unit
from schemas.vocabulary import squash
from schemas.wordings import words_of

_ASKED = {squash(word) for key in ("censored", "detected") for word in words_of("asked", key)}

# Fields that may stand in a column of their own beside the result they belong to.
ATTACHED_FIELDS = {"lod", "loq", "limit", "unit", "uncertainty", "deviation", "qualifier"}

NUMBERED_FIELDS = {"lod", "loq", "limit", "uncertainty", "deviation"}


@dataclass(frozen=True)
class Heading:
    """What a printed heading says; `None` where it says nothing of the kind.

    `sum_or_form` is "total cresols": the sum of the isomers, or the total form.
    `read_as` is the heading less a mark that only its sheet explains: a replicate's, or the `state`
    ("before fining") that tells two samples apart.
    """

    text: str
    analyte: str | None = None
    form: str | None = None
    unit: str | None = None
    lod: str | None = None
    loq: str | None = None
    limit: str | None = None
    field: str | None = None
    expressed_as: str | None = None
    coverage_factor: str | None = None
    spread: str | None = None
    path_length: str | None = None
    replicate: str | None = None
    version: str | None = None
    out_of_scope: bool = False
    spelled: str | None = None
    hint: str | None = None
    sum_or_form: bool = False
    read_as: str | None = None
    state: str | None = None

    @property
    def is_measurand(self) -> bool:
        """Tell whether the heading names something measured, in scope or not."""
        return self.analyte is not None or self.out_of_scope

    @property
    def is_form_only(self) -> bool:
        """Tell whether the heading gives a form and names nothing else."""
        return (
            self.form is not None
            and not self.is_measurand
            and self.field is None
            and self.spelled is None
        )

    @property
    def is_version_only(self) -> bool:
        """Tell whether the heading is nothing but a word such as "Corrected"."""
        return self.version is not None and not (self.is_measurand or self.field or self.spelled)

    @property
    def is_unit_only(self) -> bool:
        """Tell whether the heading is nothing but a unit."""
        return self.unit is not None and not (
            self.is_measurand or self.field or self.form or self.spelled
        )


def label_unit(heading: Heading) -> str | None:
    """The unit that "LOD (mg/L)", "Uncertainty (%)" or "Path length (mm)" gives to bare numbers.

    The coverage factor of "U (k=3)" goes with it. Of a column of remarks that asks a question
    ("Censored", "Detected"), the question.
    """
    if heading.field == "qualifier" and squash(heading.text) in _ASKED:
        return f"({heading.text.strip()})"
    if heading.field == "path_length":
        return path_unit(heading.text)
    unit = heading.unit if heading.field in NUMBERED_FIELDS else None
    if heading.field in {"uncertainty", "deviation"} and "%" in CONFIDENCE.sub("", heading.text):
        unit = "%"
    factor = K_FACTOR.search(heading.text) if heading.field == "uncertainty" else None
    return f"{unit or ''} (k={factor.group(1)})".strip() if factor else unit


def stated_unit(heading: Heading) -> str:
    """The text of a unit; of "Result (ug/L)" what is in its brackets."""
    return heading.unit if heading.field == "result" and heading.unit else heading.text


def heading_says(heading: Heading) -> dict[str, str]:
    """Tabulate what a heading states besides its name; a limit keeps the heading's unit."""
    keys = ("form", "unit", "lod", "loq", "limit", "expressed_as", "coverage_factor", "spread",
            "path_length", "replicate", "version")  # fmt: skip
    said = {key: value for key in keys if (value := getattr(heading, key))}
    for key in ("lod", "loq", "limit"):
        if key in said and heading.unit:
            said[key] = f"{said[key]} {heading.unit}"
    return said
