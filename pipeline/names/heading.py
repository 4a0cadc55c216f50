"""What a printed heading says."""

from __future__ import annotations

from dataclasses import dataclass

from pipeline.names.patterns import path_unit

# Fields that may stand in a column of their own beside the result they belong to.
ATTACHED_FIELDS = {"lod", "loq", "limit", "unit", "uncertainty", "deviation", "qualifier"}

NUMBERED_FIELDS = {"lod", "loq", "limit", "uncertainty", "deviation"}


@dataclass(frozen=True)
class Heading:
    """What a printed heading says; `None` where it says nothing of the kind."""

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
    """The unit that "LOD (mg/L)", "Uncertainty (%)" or "Path length (mm)" gives to bare numbers."""
    if heading.field == "path_length":
        return path_unit(heading.text)
    if heading.field in {"uncertainty", "deviation"} and "%" in heading.text:
        return "%"
    return heading.unit if heading.field in NUMBERED_FIELDS else None
