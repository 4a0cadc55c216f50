"""The weekly digest: one page and one workbook of flagged lots."""

from pipeline.digest.gather import gather
from pipeline.digest.model import Digest
from pipeline.digest.page import first_line, render_html
from pipeline.digest.views import Views, read_views
from pipeline.digest.workbook import write_workbook
from pipeline.digest.write import write_digest

__all__ = [
    "Digest",
    "Views",
    "first_line",
    "gather",
    "read_views",
    "render_html",
    "write_digest",
    "write_workbook",
]
