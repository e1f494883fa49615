"""Pages written to one PDF: whole or not at all, and the same bytes for the same pages."""

from __future__ import annotations

import datetime as dt
import io
import os
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from pathlib import Path

import matplotlib
from matplotlib import style
from matplotlib.backends.backend_pdf import PdfPages

from boscage.sheets.geopdf import georeference
from boscage.sheets.page import Page, PageMap
from boscage.sheets.style import RC


def own_settings() -> AbstractContextManager[None]:
    """matplotlib's own defaults with ours on top, whatever the machine's settings are."""
    return style.context(["default", dict(RC)])


def write_pdf(
    pages: Iterable[Page],
    target: Path,
    *,
    title: str,
    date: dt.date,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Write pages to a temporary name beside the target, then rename; every map says where it is.

    Args:
        pages: Made one by one, so that only one is in memory.
        target: The PDF to write; an older one is replaced.
        title: Title in the file's properties.
        date: Day stamped as the day of making, so that the bytes do not depend on the clock.
        progress: Called with pages done and pages in all.
    """
    part = target.with_name(f".{target.name}.{os.getpid()}.part")
    noon = dt.datetime(date.year, date.month, date.day, 12, tzinfo=dt.UTC)
    metadata = {
        "Title": title, "Creator": "Boscage", "Producer": f"matplotlib {matplotlib.__version__}",
        "CreationDate": noon, "ModDate": noon,
    }  # fmt: skip
    held = io.BytesIO()  # a full disk then fails in one plain write, not inside the library
    maps: list[tuple[PageMap, ...]] = []
    with PdfPages(held, metadata=metadata) as pdf:
        for page in pages:
            pdf.savefig(page.figure)
            maps.append(tuple(page.maps))
            if progress is not None:
                progress(page.number, page.of)
    whole = georeference(held.getvalue(), maps)
    try:
        part.write_bytes(whole)
        part.replace(target)
    finally:
        part.unlink(missing_ok=True)
