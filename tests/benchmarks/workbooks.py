"""Draw the benchmark's workbooks: 200 samples by 25 analytes each, byte for byte the same each time."""

from __future__ import annotations

import random
from pathlib import Path

import openpyxl

PHENOLS = (
    "Guaiacol", "4-Methylguaiacol", "Phenol", "o-Cresol", "m-Cresol", "p-Cresol", "Syringol",
    "4-Methylsyringol", "4-Ethylphenol", "4-Ethylguaiacol", "Eugenol", "Vanillin",
)  # fmt: skip
LAST = "Guaiacol rutinoside (µg/L)"
LOD, LOQ, SAMPLES = 0.3, 1.0, 200


def draw_workbook(path: Path, number: int) -> None:
    """Write one laboratory workbook: samples down, two panels with merged titles, limit rows."""
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.title = "Results"
    for line in (("Laboratory", "Benchmark Laboratory"), ("Report number", f"B-{number:04d}")):
        sheet.append(line)
    sheet.append(("Date of issue", "2025-10-24"))
    sheet.append(())
    free, total = (
        "Free volatile phenols (µg/L)",
        "Total volatile phenols after acid hydrolysis (µg/L)",
    )
    sheet.append((None,) * 4 + (free,) + (None,) * 11 + (total,))
    sheet.merge_cells(start_row=5, end_row=5, start_column=5, end_column=16)
    sheet.merge_cells(start_row=5, end_row=5, start_column=17, end_column=28)
    sheet.append(("Sample", "Lot", "Matrix", "Sampled", *PHENOLS, *PHENOLS, LAST))
    for name, limit in (("LOD", LOD), ("LOQ", LOQ)):
        sheet.append((name, None, None, None, *[limit] * 25))
    chance = random.Random(number)
    for sample in range(SAMPLES):
        sheet.append(_line(number, sample, chance))
    book.save(path)


def _line(number: int, sample: int, chance: random.Random) -> tuple[str | float, ...]:
    free = [chance.lognormvariate(1.5, 1.2) for _ in PHENOLS]
    total = [x * chance.uniform(1.2, 4.0) for x in free]
    drawn = [*free, *total, chance.lognormvariate(2.0, 1.0)]
    printed = [f"<{LOD}" if x < 1.2 else round(x, 2) for x in drawn]
    lot, day = f"L{number:03d}-{sample // 4:02d}", f"2025-10-{1 + sample % 28:02d}"
    return (f"S{number:03d}-{sample:03d}", lot, "Red wine", day, *printed)
