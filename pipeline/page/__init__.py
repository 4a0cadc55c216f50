"""The analyst's page: local, read-only, with its whole state in the address."""

from __future__ import annotations

from pipeline.page.app import make_app
from pipeline.page.serve import serve
from pipeline.page.site import Site

__all__ = ["Site", "make_app", "serve"]
