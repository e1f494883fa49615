"""Logs written as text, read and held against themselves."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import pytest

from boscage.ledger.book import make_book
from boscage.model.layers import LayerSpec
from boscage.model.ledger import Book
from boscage.readers.log import read_log
from boscage.readers.protocol import Request

DAY = dt.date(2026, 11, 21)
CRS = "EPSG:32615"


@pytest.fixture
def book_of(tmp_path: Path) -> Callable[..., Book]:
    """A book from the text of a log."""

    def make(text: str, *, day: dt.date = DAY, places: dict[str, tuple[float, float]] | None = None) -> Book:
        path = tmp_path / "log.csv"
        path.write_text(text, encoding="utf-8")
        log = read_log(Request(layer="log", path=path, spec=LayerSpec(path="log.csv")), crs=CRS, day=day)
        return make_book(log, day, places)

    return make


@pytest.fixture
def sample() -> Book:
    """The log of the sample ranch."""
    path = Path(__file__).parents[3] / "sample_data" / "log.csv"
    log = read_log(Request(layer="log", path=path, spec=LayerSpec(path="log.csv")), crs=CRS, day=DAY)
    return make_book(log, DAY)
