"""Tables of points: CSV with commas, semicolons or tabs, and columns lon,lat or x,y."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from boscage.errors import CrsError
from boscage.readers.columns import bad_cell, plain
from boscage.readers.protocol import RawVector, Request

SUFFIXES = frozenset({".csv", ".tsv", ".txt"})
NAMES: Mapping[str, tuple[str, ...]] = {
    "lon": ("lon", "long", "lng", "longitude", "londeg", "longitudedeg"),
    "lat": ("lat", "latitude", "latdeg", "latitudedeg"),
    "x": ("x", "xm", "easting", "eastings", "east", "eastingm", "utmx", "utmeasting", "utme"),
    "y": ("y", "ym", "northing", "northings", "north", "northingm", "utmy", "utmnorthing", "utmn"),
    "crs": ("crs", "epsg", "srs"),
}


class TableReader:
    """Opens delimited text whose rows are points."""

    name = "table"
    kinds = ("vector",)

    def claims(self, path: Path) -> bool:
        """Whether the file's ending is one of delimited text."""
        return path.suffix.lower() in SUFFIXES

    def read(self, request: Request) -> RawVector:
        """Read every row as a point; rows without coordinates keep an empty geometry.

        Raises:
            LayerError: The file is empty or broken, has no coordinate columns, or a coordinate is no number.
            CrsError: The columns are x,y and neither the file nor the plan states their CRS.
        """
        import geopandas
        import pandas as pd
        import shapely

        header, rows, delimiter, notes = read_rows(request)
        places = _place_columns(header, request)
        numbers = [row for row, _ in rows]
        frame = pd.DataFrame({name: [c[i] for _, c in rows] for i, name in enumerate(header)}, dtype=object)
        pair = ("lon", "lat") if "lon" in places else ("x", "y")
        comma = delimiter in (";", "\t")
        x, y = (_coordinates(frame[places[p]], numbers, places[p], request, comma=comma) for p in pair)
        for row, a, b in zip(numbers, x, y, strict=True):
            if math.isnan(a) != math.isnan(b):
                empty = places[pair[0]] if math.isnan(a) else places[pair[1]]
                raise bad_cell(request, row, empty, "", "both coordinates or neither")
        points = shapely.points(x, y)
        points = np.where(np.isnan(x), None, points)
        crs = _crs(frame, places, pair, request)
        frame = frame.drop(columns=[places[p] for p in places])
        frame["row"] = numbers
        made = geopandas.GeoDataFrame(frame, geometry=list(points), crs=crs)
        return RawVector(frame=made, notes=notes)


def read_rows(request: Request) -> tuple[list[str], list[tuple[int, list[str]]], str, tuple[str, ...]]:
    """Header, rows with their numbers (blank lines count and are left out), delimiter, phrases."""
    text, notes = _decode(request)
    lines = text.splitlines()
    first = next((line for line in lines if line.strip()), "")
    if not first:
        raise request.error("the file is empty", expected="a first line with column names, then one row a point")
    delimiter = max((",", ";", "\t"), key=first.count)
    try:
        table = list(csv.reader(io.StringIO(text.lstrip("\r\n")), delimiter=delimiter))
    except csv.Error as error:
        raise request.error(f"the table cannot be read ({error})", mend="save it again as CSV in UTF-8") from error
    header = [name.strip() for name in table[0]]
    header = [name or f"column {i}" for i, name in enumerate(header, start=1)]
    twice = sorted({name for name in header if header.count(name) > 1})
    if twice:
        raise request.error(f"the column name {twice[0]} stands twice in the first line", mend="rename one of the two")
    rows = []
    for number, cells in enumerate(table[1:], start=1):
        if not any(c.strip() for c in cells):
            continue
        if len(cells) > len(header) and any(c.strip() for c in cells[len(header) :]):
            raise request.error(
                f"the row has {len(cells)} cells and the first line names {len(header)} columns",
                mend="put text that holds the separator in double quotes", row=number,
            )  # fmt: skip
        rows.append((number, (cells + [""] * len(header))[: len(header)]))
    return header, rows, delimiter, notes


def _decode(request: Request) -> tuple[str, tuple[str, ...]]:
    try:
        data = request.path.read_bytes()
    except OSError as error:
        raise request.error(f"the file cannot be read ({error.strerror})") from error
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16"), ("UTF-16 text",)
    if b"\x00" in data:
        raise request.error("the file is no text", expected="a table saved as CSV")
    try:
        return data.decode("utf-8-sig"), ()
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), ("text taken as Windows-1252",)


def _place_columns(header: Sequence[str], request: Request) -> dict[str, str]:
    """Which of the file's columns hold lon and lat, or x and y, and the CRS."""
    found: dict[str, str] = {}
    for name, synonyms in NAMES.items():
        stated = request.spec.columns.get(name)
        if stated is not None and stated not in header:
            raise request.error(
                f"the plan takes {name} from a column {stated} that the file does not have",
                mend=f"name one of its columns: {', '.join(header)}", field=f"columns.{name}",
            )  # fmt: skip
        match = stated or next((c for s in synonyms for c in header if plain(c) == s), None)
        if match is not None:
            found[name] = match
    for pair in (("lon", "lat"), ("x", "y")):
        if pair[0] in found and pair[1] in found:
            return {n: c for n, c in found.items() if n in (*pair, "crs")}
    raise request.error(
        f"there are no coordinates (the columns are {', '.join(header)})",
        expected="columns lon and lat, or x and y with their CRS",
        mend='if they go by other names, map them: columns = { lon = "THEIR_NAME", lat = "THEIR_NAME" }',
    )


def _coordinates(
    column: Sequence[str], numbers: Sequence[int], field: str, request: Request, *, comma: bool
) -> np.ndarray:
    out = np.full(len(numbers), np.nan)
    for i, (row, value) in enumerate(zip(numbers, column, strict=True)):
        text = value.strip()
        if comma and "." not in text:
            text = text.replace(",", ".")
        if not text:
            continue
        try:
            out[i] = float(text)
        except ValueError:
            out[i] = math.inf
        if not math.isfinite(out[i]):
            raise bad_cell(request, row, field, value, "a decimal number such as -92.704321")
    return out


def _crs(frame: object, places: Mapping[str, str], pair: tuple[str, str], request: Request) -> object:
    """The CRS that the plan states, else the file's `crs` column, else WGS 84 for lon,lat."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    text = request.spec.crs
    if text is None and "crs" in places:
        words = sorted({v.strip() for v in frame[places["crs"]] if v.strip()})  # type: ignore[index]
        if len(words) > 1:
            raise CrsError(
                f"the column {places['crs']} holds several systems: {', '.join(words[:4])}",
                mend="split the file, one CRS each", file=request.spec.path, layer=request.layer, field=places["crs"],
            )  # fmt: skip
        text = words[0] if words else None
        text = f"EPSG:{text}" if text and text.isdigit() else text
    if text is None:
        if pair == ("lon", "lat"):
            return CRS.from_epsg(4326)
        raise CrsError(
            "the columns are x and y and no CRS is stated", expected="the CRS of the coordinates",
            mend='state it in the layer\'s table: crs = "EPSG:..."', file=request.spec.path, layer=request.layer,
        )  # fmt: skip
    try:
        crs = CRS.from_user_input(text)
    except CRSError:
        raise CrsError(
            f"the CRS {text} is unknown", expected="a code such as EPSG:26915", file=request.spec.path,
            layer=request.layer, field="crs",
        ) from None  # fmt: skip
    if pair == ("lon", "lat") and not crs.is_geographic:
        raise CrsError(
            f"the columns are lon and lat, but the CRS {text} counts in metres or feet", expected="such as EPSG:4326",
            mend="name the columns x and y, or correct the CRS", file=request.spec.path, layer=request.layer,
        )  # fmt: skip
    return crs
