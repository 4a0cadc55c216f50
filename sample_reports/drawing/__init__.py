"""Draw the demo season: facts in TOML, chemistry, printing, four geometries, the register."""

import os

# openpyxl writes other bytes through lxml than through the standard library.
os.environ["OPENPYXL_LXML"] = "False"
