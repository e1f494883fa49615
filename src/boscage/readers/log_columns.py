"""The log's columns under our names, whatever the table they come from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from boscage.readers.columns import cell, plain, stated_columns
from boscage.readers.protocol import Request, plain_reason
from boscage.readers.table import SUFFIXES, read_rows

if TYPE_CHECKING:
    import pandas as pd
    from pyproj import CRS

    from boscage.model.ledger import LogProblem

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "date": ("night", "evening", "evening_date"), "site": ("set", "trap", "site_id"), "event": ("action",),
    "boar": ("boars",), "sow": ("sows",), "yearling": ("yearlings", "shoat", "shoats"), "piglet": ("piglets",),
    "class": ("animal_class",), "count": ("number",), "group": ("sounder", "group_id"),
    "hours": ("person_hours", "hrs"), "note": ("notes", "remark", "comment"), "time": ("clock", "clock_time"),
    "person": ("observer", "who", "by"), "task": ("work",), "fate": (), "injury": ("injuries",), "sex": (),
    "animal": ("animal_id",), "species": ("nontarget_species",), "bait_kg": (), "bait_lb": ("bait_lbs",),
    "known": ("known_members", "group_size"), "closed": ("time_closed",), "approached": ("time_approached",),
    "finished": ("time_finished",), "lon": ("long", "lng", "longitude"), "lat": ("latitude",),
    "x": ("easting", "x_m"), "y": ("northing", "y_m"), "crs": ("epsg",),
}  # fmt: skip
NEEDED: Mapping[str, str] = {
    "date": "the evening date of the night, such as 2026-11-20", "site": "the name of the set",
    "event": "prebait, open, armed, capture, check, nontarget or pulled",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Cells:
    """A log's cells.

    Attributes:
        rows: Number in the file of each row.
        cells: Our column to a trimmed text for each row.
        theirs: Our column to the file's.
        others: The file's columns that are none of ours.
        crs: CRS of the points of a file with geometry, whose coordinates are in `cells` as x and y; else None.
        notes: Phrases about what was read.
        problems: Of rows that are none of `rows` or lack something, told before the cells are looked at.
        origins: By number of a row, where it comes from if not from one table; then its problems begin with that.
    """

    rows: Sequence[int]
    cells: Mapping[str, Sequence[str]]
    theirs: Mapping[str, str]
    others: Mapping[str, Sequence[str]] = field(default_factory=dict)
    crs: CRS | None = None
    notes: tuple[str, ...] = field(default=())
    problems: tuple[LogProblem, ...] = ()
    origins: Mapping[int, str] = field(default_factory=dict)


def read_cells(request: Request) -> Cells:
    """The cells of a CSV, or of a table or point layer of a GeoPackage.

    Raises:
        LayerError: The file is broken or empty, holds several layers of which the plan names none, or lacks one of the
            three columns that a log cannot do without.
    """
    if request.path.suffix.lower() in SUFFIXES:
        header, rows, _, notes = read_rows(request)
        numbers = [n for n, _ in rows]
        table = {name: [c[i].strip() for _, c in rows] for i, name in enumerate(header)}
        return _named(table, numbers, request, notes=notes)
    frame, notes = _layer(request)
    numbers = list(range(1, len(frame) + 1))
    table = {str(n): [cell(v) for v in frame[n].tolist()] for n in frame.columns if n != frame.attrs.get("geometry")}
    crs = None
    if frame.attrs.get("geometry"):
        crs = frame.crs
        table |= _coordinates(frame, request)
    return _named(table, numbers, request, notes=notes, crs=crs)


def _named(
    table: Mapping[str, Sequence[str]], numbers: Sequence[int], request: Request, *, notes: tuple[str, ...],
    crs: CRS | None = None,
) -> Cells:  # fmt: skip
    """The table under our names; columns that are none of ours are told."""
    theirs = _match(table, request)
    for name, expected in NEEDED.items():
        if name not in theirs:
            raise request.error(
                f"there is no column {name} (the columns are {', '.join(table) or 'none'})", expected=expected,
                mend=f'if it goes by another name, map it: columns = {{ {name} = "THEIR_NAME" }}', field=name,
            )  # fmt: skip
    unread = [c for c in table if c not in theirs.values()]
    taken = [f"column {c} taken as {n}" for n, c in theirs.items() if plain(c) != plain(n) and n not in ("x", "y")]
    notes = (*notes, *taken, *([f"columns not used: {', '.join(unread)}"] if unread else []))
    cells = {name: table[column] for name, column in theirs.items()}
    others = {c: table[c] for c in unread}
    return Cells(rows=numbers, cells=cells, theirs=theirs, others=others, crs=crs, notes=notes)


def _match(table: Mapping[str, Sequence[str]], request: Request) -> dict[str, str]:
    found = stated_columns(request, COLUMNS, list(table))
    for name, synonyms in COLUMNS.items():
        for wanted in (name, *synonyms):
            match = next((c for c in table if plain(c) == plain(wanted) and c not in found.values()), None)
            if name not in found and match is not None:
                found[name] = match
    return found


def _layer(request: Request) -> tuple[pd.DataFrame, tuple[str, ...]]:
    """The one table of a GeoPackage or another format of the driver, with or without geometry."""
    import pyogrio

    try:
        names = [str(n) for n, _ in pyogrio.list_layers(request.path)]
        wanted = request.spec.layer or next((n for n in names if plain(n) == "log"), None)
        wanted = names[0] if wanted is None and len(names) == 1 else wanted
        if wanted in names:
            frame = pyogrio.read_dataframe(request.path, layer=wanted, datetime_as_string=True)
    except Exception as error:
        raise request.error(
            f"the file cannot be opened ({plain_reason(error, request)})", expected="a log as CSV or GeoPackage"
        ) from error
    if wanted not in names:
        said = f"there is no layer {wanted} in the file" if wanted else f"the file holds {len(names)} layers"
        raise request.error(said, mend=f'state which one: layer = "..." out of {", ".join(names)}', field="layer")
    frame.attrs["geometry"] = frame.geometry.name if hasattr(frame, "geometry") else ""
    return frame, (f"layer {wanted}",) if len(names) > 1 else ()


def _coordinates(frame: pd.DataFrame, request: Request) -> dict[str, list[str]]:
    """Points as text, '' for rows without; the text of a number reads back as the same number."""
    import shapely

    values = frame.geometry.to_numpy()
    empty = shapely.is_missing(values) | shapely.is_empty(values)
    wrong = ~empty & (shapely.get_type_id(values) != 0)
    if wrong.any():
        row = int(np.flatnonzero(wrong)[0]) + 1
        raise request.error("the place of a row is no single point", expected="points", row=row)
    x, y = shapely.get_x(values), shapely.get_y(values)
    return {
        name: ["" if gone else repr(float(v)) for v, gone in zip(axis, empty, strict=True)]
        for name, axis in (("x", x), ("y", y))
    }
