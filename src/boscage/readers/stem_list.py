"""Stem lists: stems measured on the ground, with their place given in one of three ways."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median
from typing import get_args

from boscage.errors import CrsError, LayerError
from boscage.model.layers import LayerSpec
from boscage.model.rig import Kind, Stem
from boscage.model.trees import StemList
from boscage.readers.columns import bad_cell, listed, read_word
from boscage.readers.crs import WGS84, crs_text, utm_code
from boscage.readers.protocol import Request, check_exists
from boscage.readers.table import NAMES as PLACE_NAMES
from boscage.readers.table import read_rows

KINDS: tuple[Kind, ...] = get_args(Kind)
FT_M, IN_M, CM_M = 0.3048, 0.0254, 0.01
MOST_M = 20.0
THICKEST_M, THICK_M, THINNEST_M = 1.5, 0.75, 0.02
FAR_M, LONG_TAPE_M = 2000.0, 150.0

# Our columns, each with the names that are also understood; compared by letters and digits alone.
NAMES: Mapping[str, tuple[str, ...]] = {
    "stem": ("stem", "stemid", "stemno", "stemnumber", "tree", "treeid", "treeno", "tag", "id", "no", "number"),
    "dbh_cm": ("dbhcm", "diametercm", "dcm"),
    "dbh_in": ("dbhin", "dbhinch", "dbhinches", "diameterin", "diameterinches"),
    "kind": ("kind", "stemkind", "type"),
    "x_m": ("xm", *PLACE_NAMES["x"]),
    "y_m": ("ym", *PLACE_NAMES["y"]),
    "lon": PLACE_NAMES["lon"],
    "lat": PLACE_NAMES["lat"],
    "bearing_deg": ("bearingdeg", "bearing", "azimuthdeg", "azimuth", "az"),
    "distance_m": ("distancem", "distm"),
    "distance_ft": ("distanceft", "distft", "distancefeet"),
}
WAYS: tuple[tuple[str, ...], ...] = (
    ("x_m", "y_m"), ("lon", "lat"), ("bearing_deg", "distance_m"), ("bearing_deg", "distance_ft"),
)  # fmt: skip
BARE: Mapping[str, tuple[str, str]] = {
    "dbh": ("dbh_cm or dbh_in", "dbh"), "diameter": ("dbh_cm or dbh_in", "dbh"),
    "distance": ("distance_m or distance_ft", "distance"), "dist": ("distance_m or distance_ft", "distance"),
}  # fmt: skip


def read_stem_list(
    path: Path, *, name: str | None = None, declination_deg: float = 0.0, crs: str | None = None
) -> StemList:
    """Read a stem list.

    Args:
        path: The file: CSV with commas, semicolons or tabs.
        name: The path as the user wrote it, for messages.
        declination_deg: East of true north at the pivot; bearings in the list are magnetic.
        crs: CRS of the columns x_m and y_m, or the one to bring lon and lat into (else the UTM zone of the stems).

    Raises:
        LayerError: The file is missing, broken or empty, gives no place or two, gives no diameter, or a cell holds
            what it cannot; the message names file, row and field.
        CrsError: The CRS is unknown or does not count in metres.
    """
    request = Request(layer="stems", path=path, spec=LayerSpec(path=name or str(path)))
    check_exists(request)
    header, rows, delimiter, notes = read_rows(request)
    table = _Table(request=request, header=header, rows=rows, comma=delimiter in (";", "\t"))
    if not rows:
        raise request.error("the list holds no stem", expected="one row a stem below the column names")
    way = table.way()
    diameters = _diameters(table)
    placed = _place(table, way, declination_deg, crs)
    stems = tuple(
        Stem(stem=stem, x_m=x, y_m=y, dbh_m=dbh, kind=kind)
        for stem, (x, y), dbh, kind in zip(_ids(table), placed.points, diameters, _kinds(table), strict=True)
    )
    doubts = [*(f"{note}." for note in notes), *_doubt_ids(table), *_doubt_size(stems), *_doubt_places(stems, way)]
    return StemList(
        stems=stems, frame=placed.frame, crs=placed.crs, declination_deg=declination_deg,
        convergence_deg=placed.convergence_deg, pivot=(0.0, 0.0) if placed.frame == "pivot" else None,
        doubts=tuple(doubts),
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _Table:
    """The file's cells.

    Attributes:
        request: The file, for messages.
        header: Column names as written.
        rows: Number of each row in the file and its cells.
        comma: Whether a comma in a number is a decimal comma.
    """

    request: Request
    header: Sequence[str]
    rows: Sequence[tuple[int, list[str]]]
    comma: bool

    def column(self, name: str) -> int | None:
        """Index of one of our columns, or None; of two that fit, the one that holds anything."""
        plain = [re.sub(r"[^a-z0-9]", "", h.lower()) for h in self.header]
        fitting = [i for synonym in NAMES[name] for i, h in enumerate(plain) if h == synonym]
        return next((i for i in fitting if self.holds(i)), fitting[0] if fitting else None)

    def holds(self, index: int | None) -> bool:
        """Whether a column has any cell filled in."""
        return index is not None and any(cells[index].strip() for _, cells in self.rows)

    def filled(self, name: str) -> bool:
        """Whether one of our columns is there and has any cell filled in."""
        return self.holds(self.column(name))

    def texts(self, name: str) -> list[tuple[int, str]]:
        """Row numbers and trimmed cells of a column; empty cells where it is not there."""
        index = self.column(name)
        return [(row, "" if index is None else cells[index].strip()) for row, cells in self.rows]

    def numbers(self, name: str, expected: str, low: float, high: float) -> list[float]:
        """A column as numbers, each in its range and none missing."""
        return [self.number(row, name, text, expected, (low, high)) for row, text in self.texts(name)]

    def number(self, row: int, name: str, text: str, expected: str, allowed: tuple[float, float]) -> float:
        """One cell as a number.

        Raises:
            LayerError: It is empty, no number, or out of range.
        """
        plain = text.replace(",", ".") if self.comma and "." not in text else text
        try:
            value = float(plain)
        except ValueError:
            value = math.nan
        if not allowed[0] <= value <= allowed[1]:
            raise self.bad(row, name, text, expected)
        return value

    def bad(self, row: int, name: str, text: str, expected: str) -> LayerError:
        """The error for one wrong cell, under the file's own column name."""
        index = self.column(name)
        return bad_cell(self.request, row, name if index is None else self.header[index], text, expected)

    def way(self) -> tuple[str, ...]:
        """The columns that give the places.

        Raises:
            LayerError: There is no way or more than one, or the distance has no unit.
        """
        ways = [way for way in WAYS if all(self.filled(name) for name in way)]
        if not ways:  # a way with one column left empty: the reader of that column says so, row by row
            there = [way for way in WAYS if all(self.column(name) is not None for name in way)]
            ways = [way for way in there if any(self.filled(name) for name in way)][:1]
        if len(ways) == 1:
            return ways[0]
        if len(ways) > 1:
            raise self.request.error(
                f"places are given in more than one way ({'; '.join(' and '.join(way) for way in ways)})",
                expected="one way for the whole list", mend="delete the columns of the others",
            )  # fmt: skip
        self.refuse_bare("distance")
        raise self.request.error(
            f"the list does not say where the stems stand (the columns are {', '.join(self.header)})",
            expected="x_m and y_m, or lon and lat, or bearing_deg with distance_m or distance_ft",
            mend="name the columns so and fill them in",
        )

    def refuse_bare(self, what: str) -> None:
        """A column whose name lacks the unit.

        Raises:
            LayerError: There is one.
        """
        for name in self.header:
            expected, kind = BARE.get(re.sub(r"[^a-z0-9]", "", name.lower()), ("", ""))
            if kind == what:
                raise self.request.error(
                    f"the column {name} does not say its unit", expected=expected, mend="rename the column", field=name
                )


def _diameters(table: _Table) -> list[float]:
    """Diameters in metres.

    Raises:
        LayerError: There is no such column or two, a cell is wrong, or the unit looks wrong.
    """
    given = [name for name in ("dbh_cm", "dbh_in") if table.filled(name)]
    if len(given) > 1:
        raise table.request.error(
            "diameters are given twice (dbh_cm and dbh_in)", expected="one of the two", mend="delete one column"
        )
    if not given:
        table.refuse_bare("dbh")
        raise table.request.error(
            f"there is no diameter (the columns are {', '.join(table.header)})", expected="a column dbh_cm or dbh_in",
            mend="measure the stems at breast height and fill it in", field="dbh_cm",
        )  # fmt: skip
    name = given[0]
    unit_m, words = (CM_M, "centimetres") if name == "dbh_cm" else (IN_M, "inches")
    values = [v * unit_m for v in table.numbers(name, f"a number of {words}, 0 or more", 0.0, MOST_M / unit_m)]
    middle = _middle(values)
    if not THINNEST_M <= middle <= THICKEST_M:
        than = "thicker" if middle > THICKEST_M else "thinner"
        raise table.request.error(
            f"half of the stems are {middle / unit_m:.3g} {words} or {than}: inches, centimetres or metres?",
            expected=f"{words} in the column {name}", mend="change the numbers, or the name of the column", field=name,
        )  # fmt: skip
    return values


def _middle(diameters_m: Sequence[float]) -> float:
    """Median of the diameters over 0; where there are none, one that nobody doubts."""
    held = [v for v in diameters_m if v > 0.0]
    return median(held) if held else THINNEST_M


def _ids(table: _Table) -> list[str]:
    """Ids of the stems; the row's number where there is none.

    Raises:
        LayerError: An id stands twice.
    """
    seen: dict[str, int] = {}
    for row, text in table.texts("stem"):
        stem = text or str(row)
        if stem in seen:
            raise table.request.error(
                f"the stem {stem} is already in row {seen[stem]}", expected="an id of its own for every stem",
                mend="rename one of the two", row=row, field="stem",
            )  # fmt: skip
        seen[stem] = row
    return list(seen)


def _kinds(table: _Table) -> list[Kind]:
    out: list[Kind] = []
    for row, text in table.texts("kind"):
        word = read_word(text, KINDS)
        if word is None:
            raise table.bad(row, "kind", text, f"{', '.join(KINDS[:-1])} or {KINDS[-1]}, or an empty cell for tree")
        out.append(word or "tree")  # type: ignore[arg-type]
    return out


@dataclass(frozen=True, kw_only=True)
class _Placed:
    """Places of the stems, and what they are counted in; see `StemList`."""

    points: list[tuple[float, float]]
    frame: str
    crs: str | None = None
    convergence_deg: float = 0.0


def _place(table: _Table, way: tuple[str, ...], declination_deg: float, crs: str | None) -> _Placed:
    if way[0] == "bearing_deg":
        return _Placed(points=_by_tape(table, way[1], declination_deg), frame="pivot")
    if way[0] == "lon":
        return _by_degrees(table, crs)
    far = 1e8
    xs, ys = (table.numbers(name, "a number of metres", -far, far) for name in way)
    if crs is None:
        return _Placed(points=list(zip(xs, ys, strict=True)), frame="grid")
    text = _metric(crs, table.request)
    turn = _convergence(text, sum(xs) / len(xs), sum(ys) / len(ys), table.request)
    return _Placed(points=list(zip(xs, ys, strict=True)), frame="crs", crs=text, convergence_deg=turn)


def _by_tape(table: _Table, distance: str, declination_deg: float) -> list[tuple[float, float]]:
    """Metres east and true north of the pivot."""
    unit_m = FT_M if distance == "distance_ft" else 1.0
    bearings = table.numbers("bearing_deg", "a magnetic bearing from 0 to 360 degrees", 0.0, 360.0)
    lengths = table.numbers(distance, "a distance of 0 or more", 0.0, 100_000.0)
    points = []
    for bearing, length in zip(bearings, lengths, strict=True):
        true = math.radians((bearing + declination_deg) % 360.0)
        points.append((length * unit_m * math.sin(true), length * unit_m * math.cos(true)))
    return points


def _by_degrees(table: _Table, crs: str | None) -> _Placed:
    from pyproj import Transformer

    lons, lats = (
        table.numbers("lon", "degrees of longitude from -180 to 180", -180.0, 180.0),
        table.numbers("lat", "degrees of latitude from -90 to 90 (longitude stands in its own column)", -90.0, 90.0),
    )
    text = _metric(crs, table.request) if crs else utm_code(median(lons), median(lats))
    xs, ys = Transformer.from_crs(WGS84, text, always_xy=True).transform(lons, lats)
    for (row, _), x, y in zip(table.rows, xs, ys, strict=True):
        if not (math.isfinite(x) and math.isfinite(y)):
            raise table.request.error(f"the place does not exist in the CRS {text}", mend="correct the row", row=row)
    turn = _convergence(text, median(xs), median(ys), table.request)
    return _Placed(points=list(zip(xs, ys, strict=True)), frame="crs", crs=text, convergence_deg=turn)


def _metric(crs: str, request: Request) -> str:
    """The CRS as text, once it is known to count in metres.

    Raises:
        CrsError: It is unknown, or counts in degrees or feet.
    """
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    where = {"file": request.spec.path, "layer": request.layer}
    try:
        found = CRS.from_user_input(crs)
    except CRSError:
        raise CrsError(f"the CRS {crs} is unknown", expected="a code such as EPSG:26915", **where) from None
    if not found.is_projected or abs(found.axis_info[0].unit_conversion_factor - 1.0) > 1e-9:
        raise CrsError(
            f"the CRS {crs} ({found.name}) counts in {found.axis_info[0].unit_name}",
            expected="a projected CRS in metres", mend="name one such as EPSG:26915", **where,
        )  # fmt: skip
    return crs_text(found)


def _convergence(crs: str, x: float, y: float, request: Request) -> float:
    """Angle of grid north east of true north at a place, degrees.

    Raises:
        CrsError: The place is not in the CRS.
    """
    from pyproj import CRS, Proj, Transformer

    lon, lat = Transformer.from_crs(crs, WGS84, always_xy=True).transform(x, y)
    if not (math.isfinite(lon) and math.isfinite(lat)):
        raise CrsError(
            f"the place ({x:g}, {y:g}) does not exist in the CRS {crs}", mend="name the CRS of the columns x_m and y_m",
            file=request.spec.path, layer=request.layer,
        )  # fmt: skip
    return float(Proj(CRS.from_user_input(crs)).get_factors(lon, lat).meridian_convergence)


def _doubt_ids(table: _Table) -> list[str]:
    empty = [row for row, text in table.texts("stem") if not text]
    if not empty:
        return []
    return [f"stems without an id: {len(empty)} (rows {listed(empty)}); they are called by their row."]


def _doubt_size(stems: Sequence[Stem]) -> list[str]:
    middle = _middle([s.dbh_m for s in stems])
    if middle <= THICK_M:
        return []
    return [f"half of the stems are {middle:.2f} m or thicker: are the numbers centimetres? name the column so."]


def _doubt_places(stems: Sequence[Stem], way: tuple[str, ...]) -> list[str]:
    doubts = []
    at: dict[tuple[float, float], str] = {}
    twins = []
    for one in stems:
        place = (round(one.x_m, 3), round(one.y_m, 3))
        if place in at:
            twins.append(f"{at[place]} and {one.stem}")
        at.setdefault(place, one.stem)
    if twins:
        doubts.append(f"stems at the same place: {listed(twins)}; measure them again.")
    xs, ys = [s.x_m for s in stems], [s.y_m for s in stems]
    span = max(max(xs) - min(xs), max(ys) - min(ys))
    tape = max(math.hypot(s.x_m, s.y_m) for s in stems) if way[0] == "bearing_deg" else 0.0
    if tape > LONG_TAPE_M:
        unit = "feet" if way[1] == "distance_m" else "metres"
        doubts.append(f"a stem is {tape:.0f} m from the pivot: are the distances {unit}? name the column so.")
    elif span > FAR_M:
        doubts.append(f"the stems lie up to {span / 1000:.1f} km apart: look for a wrong coordinate.")
    return doubts
