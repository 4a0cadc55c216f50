"""Turn the bytes of a laboratory file into cells, as a person sees them."""

from pipeline.read.cells import CELLS_SCHEMA, Document
from pipeline.read.document import read_cells
from pipeline.read.spreadsheet import read_with_calamine, read_with_openpyxl

__all__ = ["CELLS_SCHEMA", "Document", "read_cells", "read_with_calamine", "read_with_openpyxl"]
