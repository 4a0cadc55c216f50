"""Move about a sheet by A1 addresses."""

from openpyxl.utils import coordinate_to_tuple, get_column_letter


def moved(cell: str, rows: int, columns: int) -> str:
    """The address some rows down and some columns to the right."""
    row, column = coordinate_to_tuple(cell)
    return f"{get_column_letter(column + columns)}{row + rows}"
