"""Draw the demo season: every file of this folder but the facts and the drawing itself.

    python sample_reports/season.py [--out DIR]

An invented valley, the Kessowen Valley, in a smoke year (vintage 2025): 24 lots from eight
vineyards of two sub-regions, four laboratories with four geometries, six weekly deliveries
from the grapes of September to the wines before bottling in March.

| delivery | what |
|---|---|
| 2025-W37 | grapes at harvest, µg/kg |
| 2025-W39 | must |
| 2025-W43 | end of alcoholic fermentation |
| 2025-W49 | end of malolactic fermentation, with colour |
| 2026-W06 | ageing, a bench trial, and the amended report of December |
| 2026-W11 | before bottling |

Beside each report stands `<name>.expected.csv`: what its author knows each value cell to
mean, worked out from the facts and never from the sheet. The facts are declared in
`season.toml` (lots, laboratories, chemistry, and the stories the digest must tell),
`deliveries.toml` (reports and where each is odd) and `register.toml`. Nothing is random and
nothing depends on the day or the machine: two runs write the same bytes.

In expected.csv a blank cell inside a grid is `not_analysed`; rows of means, limits and
uncertainties are no value cells; a held or out-of-scope cell has no normalised numbers; a
number between LOD and LOQ is `estimated` with lower and upper equal to it; `trace` and
`<LOQ` are [LOD, LOQ]. Absorbances print no unit and are AU in 1 cm; total phenolics stay in mg/L.
"""

import argparse
from collections.abc import Callable
from pathlib import Path

from drawing import analytes_down, one_result_per_row, samples_down, stacked_panels
from drawing.facts import Facts, Report, load_season
from drawing.ledger import Ledger
from drawing.register import draw_register

HERE = Path(__file__).resolve().parent
DRAWN: dict[str, Callable[[Facts, Report], tuple[bytes, Ledger]]] = {
    "samples_down": samples_down.draw,
    "analytes_down": analytes_down.draw,
    "one_result_per_row": one_result_per_row.draw,
    "stacked_panels": stacked_panels.draw,
}


def draw_season() -> dict[str, bytes]:
    """Draw every report, its expected.csv and the register; file name to bytes."""
    season = load_season(HERE)
    files = {"lot_register.xlsx": draw_register(season)}
    for report in season.reports:
        content, ledger = DRAWN[report.lab["geometry"]](season.facts, report)
        files[report.file] = content
        files[f"{Path(report.file).stem}.expected.csv"] = ledger.to_csv()
    return files


def main() -> None:
    """Write the season into a folder."""
    parser = argparse.ArgumentParser(description="Draw the demo season.")
    parser.add_argument("--out", type=Path, default=HERE, help="folder to write into")
    out: Path = parser.parse_args().out
    out.mkdir(parents=True, exist_ok=True)
    files = draw_season()
    for name, content in files.items():
        (out / name).write_bytes(content)
    print(f"{len(files)} files written.")


if __name__ == "__main__":
    main()
