"""The log layer: rows, their places in the ranch's CRS, and what is wrong with them."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from boscage.errors import CrsError
from boscage.model.forms import FormLog
from boscage.model.ledger import Log, LogProblem
from boscage.readers.columns import listed
from boscage.readers.form_export import read_form_export
from boscage.readers.form_tables import is_form_export
from boscage.readers.form_times import Clock
from boscage.readers.log_columns import Cells, read_cells
from boscage.readers.log_rows import make_rows
from boscage.readers.protocol import Request, check_exists

if TYPE_CHECKING:
    from pyproj import CRS

    from boscage.values import Bounds

FAR_M = 20_000.0
Places = dict[int, tuple[float, float]]


def read_log(
    request: Request, *, crs: str, day: dt.date, ranch: Bounds | None = None, sites: Sequence[str] = (),
    zone: str | None = None,
) -> Log:  # fmt: skip
    """Read a log row by row; nothing is left out without being listed among its problems.

    A log is a table, or the export of filled-in forms: a folder, a zip, a workbook or a table of them, told by its
    content. Rows of forms are numbered in the order of what happened; the answer is a `FormLog` then, which says what
    table and row each comes from.

    Places are in longitude and latitude (WGS 84), or in x and y in the CRS that the plan or a column `crs` states, else
    in the ranch's own. A place more than 20 km from the ranch is listed and not used.

    Args:
        request: The file, CSV or GeoPackage, or the export.
        crs: The ranch's CRS.
        day: The plan's date.
        ranch: Rectangle of the parcels, where places are to be held against it.
        sites: Names of the plan's sites, for forms alone: a site that is none of them is listed.
        zone: Time zone of the ranch, for forms alone; None takes times as the device wrote them.

    Raises:
        LayerError: The file is missing, broken or empty, or lacks the column date, site or event; of an export, a table
            is missing or cannot be read.
        CrsError: The stated CRS is unknown.
    """
    check_exists(request)
    is_export = is_form_export(request)
    if is_export:
        clock = Clock(zone=ZoneInfo(zone) if zone else None, lon=_longitude(crs, ranch))
        table = read_form_export(request, clock=clock, sites=sites)
    else:
        table = read_cells(request)
    places, problems, notes = _places(table, request, crs, ranch)
    made = make_rows(table, places, day)
    notes = (f"{len(table.rows)} rows", *table.notes, *notes)
    if made.stamped:
        notes += (f"rows with a time of day in date: {listed(made.stamped)}; before noon is the evening before",)
    found = [replace(p, text=_told(p, table)) for p in (*made.problems, *problems)]
    every = tuple(sorted((*table.problems, *found), key=lambda p: p.row))
    facts = {"rows": tuple(made.rows), "problems": every, "columns": tuple(table.theirs), "notes": notes}
    return FormLog(**facts, origins=table.origins) if is_export else Log(**facts)


def _told(problem: LogProblem, table: Cells) -> str:
    """The text of a problem, with the table and row that it comes from."""
    origin = table.origins.get(problem.row)
    return f"{origin}: {problem.text}" if origin else problem.text


def _longitude(crs: str, ranch: Bounds | None) -> float | None:
    """Degrees east of the ranch's middle, else of the middle of its CRS's area; None for neither."""
    from pyproj import CRS, Transformer

    if ranch is not None:
        middle = (ranch.west + ranch.east) / 2.0, (ranch.south + ranch.north) / 2.0
        lon = Transformer.from_crs(crs, 4326, always_xy=True).transform(*middle)[0]
        return lon if math.isfinite(lon) else None
    area = CRS(crs).area_of_use
    return None if area is None or area.west > area.east else (area.west + area.east) / 2.0


def _places(
    table: Cells, request: Request, crs: str, ranch: Bounds | None
) -> tuple[Places, list[LogProblem], tuple[str, ...]]:
    """East and north by row in the ranch's CRS, problems of single rows, phrases."""
    has_degrees = table.crs is None and "lon" in table.cells and "lat" in table.cells
    pair = ("lon", "lat") if has_degrees else ("x", "y")
    if not all(p in table.cells for p in pair):
        return {}, [], ("no places in the log",)
    own, notes = _crs(table, request, crs, has_degrees=has_degrees)
    rows, given, problems = _pairs(table, pair)
    if not rows:
        return {}, problems, ("no places in the log",)
    x, y = _moved(np.array(given), own, crs)
    found: Places = {}
    for row, east, north in zip(rows, x.tolist(), y.tolist(), strict=True):
        if not (math.isfinite(east) and math.isfinite(north)) or _is_far(east, north, ranch):
            text = "the place lies more than 20 km from the ranch; it is not used; check the coordinates and their CRS."
            problems.append(LogProblem(row=row, text=text))
            continue
        found[row] = (east, north)
    return found, problems, notes


def _pairs(table: Cells, pair: tuple[str, str]) -> tuple[list[int], list[tuple[float, float]], list[LogProblem]]:
    """Rows with both coordinates; those with one, or with text, are listed."""
    rows, given, problems = [], [], []
    for row, first, second in zip(table.rows, table.cells[pair[0]], table.cells[pair[1]], strict=True):
        if not first and not second:
            continue
        try:
            place = (float(first), float(second))
        except ValueError:
            place = (math.nan, math.nan)
        if not all(map(math.isfinite, place)):
            text = f"{pair[0]} is {first!r} and {pair[1]} is {second!r}; expected two decimal numbers or none; "
            problems.append(LogProblem(row=row, text=f"{text}the place is not used; correct it."))
            continue
        rows.append(row)
        given.append(place)
    return rows, given, problems


def _is_far(east: float, north: float, ranch: Bounds | None) -> bool:
    if ranch is None:
        return False
    box = ranch.padded(FAR_M)
    return not (box.west <= east <= box.east and box.south <= north <= box.north)


def _crs(table: Cells, request: Request, crs: str, *, has_degrees: bool) -> tuple[CRS, tuple[str, ...]]:
    """CRS of the coordinates: stated by the plan, a column, the file, else degrees, else the ranch's."""
    from pyproj import CRS
    from pyproj.exceptions import CRSError

    words = sorted({w for w in table.cells.get("crs", ()) if w})
    if len(words) > 1 and request.spec.crs is None:
        raise CrsError(
            f"the column crs holds several systems: {', '.join(words[:4])}", mend="write all places in one of them",
            file=request.spec.path, layer=request.layer, field="crs",
        )  # fmt: skip
    text = request.spec.crs or (words[0] if words else None)
    text = f"EPSG:{text}" if text and text.isdigit() else text
    if text is None:
        if table.crs is not None:
            return table.crs, ()
        return (CRS.from_epsg(4326), ()) if has_degrees else (CRS(crs), ("x and y taken in the ranch's CRS",))
    try:
        return CRS.from_user_input(text), ()
    except CRSError:
        raise CrsError(
            f"the CRS {text} is unknown", expected="a code such as EPSG:26915", file=request.spec.path,
            layer=request.layer, field="crs",
        ) from None  # fmt: skip


def _moved(given: np.ndarray, own: CRS, crs: str) -> tuple[np.ndarray, np.ndarray]:
    """(N, 2) coordinates in another CRS; infinite where they cannot be expressed in it."""
    from pyproj import Transformer

    return Transformer.from_crs(own, crs, always_xy=True).transform(given[:, 0], given[:, 1])
