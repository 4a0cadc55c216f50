"""The baseline by hand: a straightforward pandas and openpyxl script that does the same mapping.

Run in a process of its own: python -m tests.benchmarks.by_hand FOLDER STORE
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import duckdb
import pandas as pd

NAMES = {
    "Guaiacol": "guaiacol", "4-Methylguaiacol": "4-methylguaiacol", "Phenol": "phenol",
    "o-Cresol": "o-cresol", "m-Cresol": "m-cresol", "p-Cresol": "p-cresol", "Syringol": "syringol",
    "4-Methylsyringol": "4-methylsyringol", "4-Ethylphenol": "4-ethylphenol",
    "4-Ethylguaiacol": "4-ethylguaiacol", "Eugenol": "eugenol", "Vanillin": "vanillin",
    "Guaiacol rutinoside (µg/L)": "guaiacol rutinoside",
}  # fmt: skip


def read_report(path: Path) -> pd.DataFrame:
    """Read one benchmark workbook into a row per result, with forms, limits and intervals."""
    sheet = pd.read_excel(path, header=None, engine="openpyxl", dtype=object)
    panels = sheet.iloc[4].ffill()
    heads, lods, loqs = sheet.iloc[5], sheet.iloc[6], sheet.iloc[7]
    rows = []
    for line in range(8, len(sheet)):
        sample, lot, matrix, sampled = sheet.iloc[line, :4]
        for column in range(4, sheet.shape[1]):
            printed = str(sheet.iat[line, column])
            below = re.match(r"<\s*([\d.]+)", printed)
            value = None if below else float(printed)
            form = "free" if "Free" in str(panels[column]) else "total"
            rows.append({
                "lab": sheet.iat[0, 1], "report_no": sheet.iat[1, 1], "sample_id": sample,
                "lot": lot, "matrix": matrix.lower(), "sampled_on": pd.Timestamp(sampled),
                "analyte": NAMES[heads[column]],
                "form": "bound" if "rutinoside" in heads[column] else form, "unit": "ug/L",
                "value": value, "lower": 0.0 if below else value,
                "upper": float(below.group(1)) if below else value,
                "lod": float(lods[column]), "loq": float(loqs[column]),
                "raw_value": printed, "file": path.name, "sheet": "Results",
                "cell": f"R{line + 1}C{column + 1}",
            })  # fmt: skip
    return pd.DataFrame(rows)


def main(folder: Path, store: Path) -> None:
    """Load every workbook of the folder into one DuckDB table."""
    with duckdb.connect(str(store)) as con:
        for number, path in enumerate(sorted(folder.glob("*.xlsx"))):
            report = read_report(path)
            con.register("report", report)
            verb = "CREATE TABLE results AS" if number == 0 else "INSERT INTO results"
            con.execute(f"{verb} SELECT * FROM report")
            con.unregister("report")


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
