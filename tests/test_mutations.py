"""A sheet that is moved, renamed or spoilt gives the same numbers, or holds them: never others."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import Any

import openpyxl
import polars as pl
import pytest
from corpus.books import book, rows, saved
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pipeline.errors import FileRefused
from pipeline.normalise import normalise
from pipeline.read import read_cells
from pipeline.readers import Readers, make_readers
from pipeline.recognise import recognise
from pipeline.settings import Settings
from pipeline.tidy import tidy
from pipeline.validate import validate
from schemas.vocabulary import load_vocabulary
