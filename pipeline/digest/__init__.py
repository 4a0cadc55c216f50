"""The weekly digest: one page, one workbook and letters about flagged lots."""

from pipeline.digest.gather import gather
from pipeline.digest.letter import Letter
from pipeline.digest.model import Digest
from pipeline.digest.page import first_line, render_html
from pipeline.digest.views import Views, read_views
from pipeline.digest.workbook import write_workbook
from pipeline.digest.write import write_digest, write_letters

__all__ = [
    "Digest",
    "Letter",
    "Views",
    "first_line",
    "gather",
    "read_views",
    "render_html",
    "write_digest",
    "write_letters",
    "write_workbook",
]
