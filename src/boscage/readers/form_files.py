"""Grids of text out of whatever an export comes in: a table, a workbook, a zip of either, a folder of all of these."""

from __future__ import annotations

import csv
import datetime as dt
import io
import warnings
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import Any

from boscage.errors import LayerError
from boscage.readers.columns import cell
from boscage.readers.protocol import Request
from boscage.readers.table import SUFFIXES

BOOKS = frozenset({".xlsx", ".xlsm"})
DELIMITERS = (",", ";", "\t")
FIRST_ROWS = 20
"""Rows of a sheet among which its column names are looked for, when only they are asked for."""
MOST_BYTES = 500_000_000
"""Largest single table that is unpacked."""


@dataclass(frozen=True, kw_only=True)
class Grid:
    """One table as text.

    Attributes:
        name: Of its file or sheet, as people see it.
        home: Of the export that it belongs to: its folder, its zip, or its workbook.
        head: Names of the columns, trimmed.
        rows: Number of each row, counted from 1, and its trimmed cells; blank rows count and are left out.
    """

    name: str
    home: str
    head: tuple[str, ...]
    rows: tuple[tuple[int, list[str]], ...]


def fault(request: Request, name: str, wrong: str, **facts: Any) -> LayerError:
    """An error in one table of an export."""
    file = request.spec.path if name == request.path.name else f"{request.spec.path}, {name}"
    return LayerError(wrong, file=file, layer=request.layer, **facts)


def content_of(request: Request, path: Path, most: int = -1) -> bytes:
    """What a file holds, or its first bytes.

    Raises:
        LayerError: It cannot be read.
    """
    try:
        with path.open("rb") as stream:
            return stream.read(most)
    except OSError as error:
        raise fault(request, path.name, f"the file cannot be read ({error.strerror})") from error


def read_grids(request: Request, known: Callable[[Sequence[str]], int]) -> Iterator[Grid]:
    """Every table at a path, in the order of their names.

    Args:
        request: The file or folder.
        known: How many of a first line's columns mean something; tells the separator.

    Raises:
        LayerError: A file is no zip, no workbook, no text or empty, or cannot be unpacked.
    """
    for home, name, data in _files(request):
        for title, rows in _lines(request, name, data, known):
            texts = [(n, [cell(c) for c in row]) for n, row in enumerate(rows)]
            kept = [(n, row) for n, row in texts if any(row)]
            if kept:
                first, head = kept[0]
                body = tuple((n - first, row) for n, row in kept[1:])
                yield Grid(name=title, home=home, head=tuple(head), rows=body)


def holds_tables(request: Request) -> bool:
    """Whether a zip has a table or a workbook inside.

    Raises:
        LayerError: It is no zip.
    """
    return any(is_table(n) for n in _zip_names(request, request.path.name, content_of(request, request.path)))


def book_heads(request: Request) -> list[list[str]]:
    """The first line of every sheet of a workbook that is not blank.

    Raises:
        LayerError: It is no workbook.
    """
    sheets = _sheets(request, request.path.name, content_of(request, request.path), most=FIRST_ROWS)
    return [next((row for row in rows if any(row)), []) for _, rows in sheets]


def is_table(name: str, also: Sequence[str] = ()) -> bool:
    """Whether a file is to be opened, judged by its name; attachments and hidden files are not."""
    parts = PurePosixPath(name).parts
    hidden = any(p.startswith((".", "~$", "__MACOSX")) for p in parts) or "media" in parts[:-1]
    return not hidden and PurePosixPath(name).suffix.lower() in (SUFFIXES | BOOKS | set(also))


def split_line(line: str, known: Callable[[Sequence[str]], int]) -> tuple[list[str], str]:
    """Column names of a first line, by the separator that gives most known ones, else most columns."""

    def told(mark: str) -> tuple[int, int]:
        cells = next(csv.reader([line], delimiter=mark), [])
        return known(cells), len(cells)

    best = max(DELIMITERS, key=told)
    return next(csv.reader([line], delimiter=best), []), best


def first_line(request: Request) -> str:
    """The first line of a text file that is not blank, '' for none."""
    start = content_of(request, request.path, most=1 << 16)
    return next((t for t in _decoded(start[: start.rfind(b"\n") + 1] or start).splitlines() if t.strip()), "")


def _files(request: Request) -> Iterator[tuple[str, str, bytes]]:
    """Home, name and content of every file that may be a table."""
    path = request.path
    if not path.is_dir():
        yield from _opened(request, path.name, path.name, content_of(request, path))
        return
    for file in sorted(p for p in path.rglob("*") if p.is_file()):
        name = file.relative_to(path).as_posix()
        if is_table(name, also=(".zip",)):
            yield from _opened(request, name, str(PurePosixPath(name).parent), content_of(request, file))


def _opened(request: Request, name: str, home: str, data: bytes) -> Iterator[tuple[str, str, bytes]]:
    if not name.lower().endswith(".zip"):
        yield (name if _is_book(name) else home), name, data
        return
    for inner in sorted(n for n in _zip_names(request, name, data) if is_table(n)):
        title = inner if name == request.path.name else f"{name}, {inner}"
        at = title if _is_book(inner) else f"{name}/{PurePosixPath(inner).parent}"
        yield at, title, _unpacked(request, title, inner, data)


def _is_book(name: str) -> bool:
    return PurePosixPath(name).suffix.lower() in BOOKS


def _zip_names(request: Request, name: str, data: bytes) -> list[str]:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as pack:
            return [i.filename for i in pack.infolist() if not i.is_dir()]
    except zipfile.BadZipFile as error:
        raise fault(request, name, "the file is no zip", mend="download the export again") from error


def _unpacked(request: Request, title: str, inner: str, data: bytes) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as pack:
        if pack.getinfo(inner).file_size > MOST_BYTES:
            raise fault(request, title, f"the table is over {MOST_BYTES // 1_000_000} MB", mend="export fewer rows")
        try:
            return pack.read(inner)
        except (RuntimeError, zipfile.BadZipFile, NotImplementedError, EOFError) as error:
            raise fault(
                request, title, "the table cannot be unpacked", mend="unpack the zip by hand, and name the folder"
            ) from error


def _lines(
    request: Request, name: str, data: bytes, known: Callable[[Sequence[str]], int]
) -> list[tuple[str, list[list[str]]]]:  # fmt: skip
    """Name and rows of a table, or of every sheet of a workbook."""
    if _is_book(name):
        where = "" if name == request.path.name else f"{name}, "
        return [(f"{where}sheet {title}", rows) for title, rows in _sheets(request, name, data)]
    if b"\x00" in data[:4096] and data[:2] not in (b"\xff\xfe", b"\xfe\xff"):
        raise fault(request, name, "the file is no text", expected="a table saved as CSV")
    text = _decoded(data).lstrip("\r\n")
    if not text.strip():
        raise fault(
            request, name, "the file is empty", expected="a first line with column names", mend="export it again"
        )
    _, delimiter = split_line(text.splitlines()[0], known)
    try:
        return [(name, list(csv.reader(io.StringIO(text), delimiter=delimiter)))]
    except csv.Error as error:
        raise fault(
            request, name, f"the table cannot be read ({error})", mend="export it again as CSV in UTF-8"
        ) from error


def _sheets(
    request: Request, name: str, data: bytes, most: int | None = None
) -> list[tuple[str, list[list[str]]]]:  # fmt: skip
    """Name and rows of every sheet, the first ones or all; moments as ISO text, in the time that is written there."""
    from openpyxl import load_workbook

    try:
        with warnings.catch_warnings():
            warnings.filterwarnings("ignore", category=UserWarning, module="openpyxl")
            book = load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            rows = {s.title: s.iter_rows(max_row=most, values_only=True) for s in book.worksheets}
            sheets = [(title, [[_text(c) for c in row] for row in found]) for title, found in rows.items()]
            book.close()
    except Exception as error:
        raise fault(
            request, name, "the file is no workbook that can be opened", mend="export it again, as .xlsx or CSV"
        ) from error
    return sheets


def _text(value: object) -> str:
    return value.isoformat() if isinstance(value, dt.date | dt.time) else cell(value)


def _decoded(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")
