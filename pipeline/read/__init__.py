"""Turn the bytes of a laboratory file into cells, as a person sees them."""

from pipeline.read.cells import Document
from pipeline.read.document import read_cells
from pipeline.read.spreadsheet import read_with_calamine, read_with_openpyxl

__all__ = ["Document", "read_cells", "read_with_calamine", "read_with_openpyxl"]
