"""Penetrometer readings: points with a cone index and its unit in the column's name, or blows and a distance."""

from __future__ import annotations

import datetime as dt
import functools
import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import shapely

from boscage.errors import LayerError
from boscage.model.soil import MOISTURES, ProbeReading
from boscage.readers.columns import bad_cell, cell, listed, plain, read_day, read_word, read_yes
from boscage.readers.crs import check_numbers, settle_crs
from boscage.readers.geometry import check_swapped, far_away
from boscage.readers.protocol import RawVector, Request
from boscage.soil.readings import (
    DROP_M,
    HAMMER_KG,
    LARGE_CONE_MM,
    MPA_PER,
    SMALL_CONE_MM,
    dynamic_resistance_mpa,
    is_known_cone,
)

if TYPE_CHECKING:
    import geopandas
    import pandas as pd

    from boscage.values import Bounds

LENGTHS_M: Mapping[str, float] = {"cm": 0.01, "mm": 0.001, "in": 0.0254, "m": 1.0, "ft": 0.3048}
INDEX_NAMES = ("cone_index", "coneindex", "ci", "resistance", "penetration_resistance", "pr", "cone_resistance", "qc")
MOST_MPA, MOST_DEPTH_M, MOST_BLOWS = 100.0, 5.0, 1000.0
CONES: Mapping[str, float] = {"large": LARGE_CONE_MM, "soft": LARGE_CONE_MM, "small": SMALL_CONE_MM,
                              "hard": SMALL_CONE_MM}  # fmt: skip
_DIAMETER = re.compile(r"^([\d.]+)\s*(mm|in)?$")


@dataclass(frozen=True, kw_only=True)
class ProbeSet:
    """Readings of one file.

    Attributes:
        readings: In file order, in the ranch's CRS.
        notes: Phrases about what was read.
        doubts: Sentences on what may be wrong.
    """

    readings: tuple[ProbeReading, ...]
    notes: tuple[str, ...]
    doubts: tuple[str, ...]


def make_probes(
    raw: RawVector, crs: str, request: Request, day: dt.date | None = None, ranch: Bounds | None = None
) -> ProbeSet:
    """Readings of the points of a file.

    Args:
        raw: Points in the file's own columns and CRS.
        crs: The ranch's CRS.
        request: The file, for messages and the plan's `columns`.
        day: The plan's date; later readings are doubted.
        ranch: Where given, readings more than 5 km from it are left out.

    Raises:
        LayerError: There is no depth or no resistance, the unit is not in the column's name, or a cell holds what it
            cannot.
        CrsError: The CRS is missing or contradicts the numbers, or x and y are exchanged.
    """
    frame, doubts = _placed(raw, crs, request, ranch)
    if frame.empty:
        return ProbeSet(readings=(), notes=("no readings at the ranch", *raw.notes), doubts=(*raw.doubts, *doubts))
    table = _Table(frame=frame, request=request, names=_find(frame, request))
    depths = _depths(table)
    values, kept = _resistances(table, depths)
    cones, odd = _cones(table)
    stops, notes = _stops(table), [f"{len(kept)} readings"]
    moistures, days = _words(table), _days(table)
    xy = shapely.get_coordinates(frame.geometry.to_numpy())
    readings = tuple(
        ProbeReading(
            x_m=float(xy[i, 0]), y_m=float(xy[i, 1]), top_cm=depths[i][0], bottom_cm=depths[i][1],
            resistance_mpa=values[i], date=days[i], cone_mm=cones[i], moisture=moistures[i], stopped=stops[i],
            row=table.row(i),
        )
        for i in kept
    )  # fmt: skip
    doubts += odd
    if len(kept) < len(frame):
        out = [table.row(i) for i in range(len(frame)) if i not in set(kept)]
        doubts.append(f"rows without a resistance: {len(out)} (rows {listed(out)}); they are left out.")
    late = [r.row for r in readings if day is not None and r.date is not None and r.date > day]
    if late:
        doubts.append(f"readings dated after {day}: {len(late)} (rows {listed(late)}); check the dates.")
    if not any(m is not None for m in moistures):
        doubts.append("no reading says how wet the ground was (dry, moist or wet); taken as moist; add a column.")
    if table.names.get("blows"):
        notes.append("dynamic penetrometer, work over distance")
    return ProbeSet(readings=readings, notes=(*raw.notes, *notes), doubts=(*raw.doubts, *doubts))


def _placed(
    raw: RawVector, crs: str, request: Request, ranch: Bounds | None
) -> tuple[geopandas.GeoDataFrame, list[str]]:
    """Points in the ranch's CRS; rows without a place, or far from the ranch, are left out."""
    frame = raw.frame
    values = frame.geometry.to_numpy()
    empty = shapely.is_missing(values) | shapely.is_empty(values)
    doubts = []
    if empty.any():
        rows = listed(frame["row"][empty])
        doubts.append(f"rows without a place: {empty.sum()} of {len(frame)} (rows {rows}); they are left out; fill in.")
    frame = frame[~empty].reset_index(drop=True)
    if frame.empty:
        raise request.error("the file holds no reading", expected="one row a reading, each with a place")
    wrong = shapely.get_type_id(frame.geometry.to_numpy()) != 0
    if wrong.any():
        row = int(frame["row"][wrong].iloc[0])
        raise request.error("a reading has no single point as its place", expected="points", row=row)
    own = settle_crs(frame.crs, request)
    frame = frame.set_crs(own, allow_override=True)
    check_numbers(tuple(frame.total_bounds), own, request)
    placed = frame.to_crs(crs)
    bad = ~np.isfinite(shapely.get_coordinates(placed.geometry.to_numpy())).all(axis=1)
    if bad.any():
        raise request.error(
            f"the place cannot be expressed in the ranch's CRS {crs}", mend="check the coordinates and the CRS",
            row=int(placed["row"][bad].iloc[0]),
        )  # fmt: skip
    return placed if ranch is None else _near(frame, placed, (ranch, crs), request, doubts), doubts


def _near(
    frame: geopandas.GeoDataFrame, placed: geopandas.GeoDataFrame, ranch: tuple[Bounds, str], request: Request,
    doubts: list[str],
) -> geopandas.GeoDataFrame:  # fmt: skip
    """The readings at the ranch; those left out are told."""
    far = far_away(placed, ranch[0])
    check_swapped(frame, far, *ranch, request)
    if far.any():
        rows = listed(frame["row"][far])
        doubts.append(f"readings more than 5 km from the ranch: {far.sum()} (rows {rows}); they are left out.")
    return placed[~far].reset_index(drop=True)


def _own_columns(frame: pd.DataFrame) -> list[str]:
    """Columns of the file itself."""
    return [str(c) for c in frame.columns if c not in ("geometry", "row")]


@dataclass(kw_only=True)
class _Table:
    """Cells by our names.

    Attributes:
        frame: Points.
        names: Our name to the file's column and the factor of its unit.
    """

    frame: pd.DataFrame
    request: Request
    names: Mapping[str, tuple[str, float]]

    def row(self, i: int) -> int:
        """The row in the file."""
        return int(self.frame["row"].iloc[i])

    def text(self, name: str, i: int) -> str:
        """A cell, '' without the column."""
        return cell(self.cells[name][i]) if name in self.names else ""

    @property
    def columns(self) -> str:
        """The file's columns, for messages."""
        return ", ".join(_own_columns(self.frame))

    @functools.cached_property
    def cells(self) -> Mapping[str, list[object]]:
        """Every column in use as Python values."""
        return {name: self.frame[column].tolist() for name, (column, _) in self.names.items()}

    def number(self, name: str, i: int, high: float) -> float:
        """A cell in SI units, over 0 (depths from 0), NaN where it is empty or not there.

        Raises:
            LayerError: It is no number, or out of range.
        """
        text = self.text(name, i)
        if not text:
            return math.nan
        try:
            value = float(text) * self.names[name][1]
        except ValueError:
            value = math.nan
        low = 0.0 if name in ("depth", "depth_from") else 1e-9
        if not low <= value <= high:
            unit = self.names[name][1]
            raise self.bad(name, i, f"a number {'from 0' if low == 0.0 else 'over 0'} to {high / unit:.4g}")
        return value

    def bad(self, name: str, i: int, expected: str) -> LayerError:
        """The error for one cell."""
        return bad_cell(self.request, self.row(i), self.names[name][0], self.text(name, i), expected)


def _find(frame: pd.DataFrame, request: Request) -> dict[str, tuple[str, float]]:
    """Our names to the file's columns, units by the end of their names."""
    own = _own_columns(frame)
    held = [c for c in own if any(cell(v) for v in frame[c])]
    families: tuple[tuple[str, Sequence[str], Mapping[str, float]], ...] = (
        ("index", INDEX_NAMES, MPA_PER), ("depth", ("depth", "depth_to", "bottom"), LENGTHS_M),
        ("depth_from", ("depth_from", "top"), LENGTHS_M),
        ("distance", ("distance", "penetration", "advance"), LENGTHS_M), ("drop", ("drop", "drop_height"), LENGTHS_M),
        ("hammer", ("hammer",), {"kg": 1.0, "lb": 0.45359237}), ("blows", ("blows", "blow_count"), {"": 1.0}),
        ("cone", ("cone", "cone_mm", "cone_diameter", "tip"), {"": 1.0, "mm": 1.0}),
        ("moisture", ("moisture", "ground", "soil_moisture", "wetness"), {"": 1.0}),
        ("date", ("date", "day", "time", "date_time"), {"": 1.0}), ("note", ("note", "notes", "desc"), {"": 1.0}),
        ("stopped", ("stopped", "refusal"), {"": 1.0}),
    )  # fmt: skip
    found: dict[str, tuple[str, float]] = {}
    for name, stems, units in families:
        wanted = {plain(s + u): f for s in stems for u, f in units.items()}
        stated = request.spec.columns.get(name)
        if stated is not None:
            found[name] = _stated(name, stated, own, units, request)
            continue
        matched = [(c, wanted[plain(c)]) for c in own if plain(c) in wanted]
        best = next((m for m in matched if m[0] in held), matched[0] if matched else None)
        if best is not None:
            found[name] = best
        elif bare := next((c for c in own if plain(c) in {plain(s) for s in stems} and "" not in units), None):
            raise request.error(
                f"the column {bare} does not say its unit", expected=f"{bare}_{next(iter(units))}, or another unit of "
                f"{', '.join(units)}", mend="put the unit behind the column's name", field=bare,
            )  # fmt: skip
    return found


def _stated(
    name: str, theirs: str, own: Sequence[str], units: Mapping[str, float], request: Request
) -> tuple[str, float]:
    """A column that the plan names; its unit must stand at the end of its name."""
    if theirs not in own:
        raise request.error(
            f"the plan takes {name} from a column {theirs} that the file does not have",
            mend=f"name one of its columns: {', '.join(own)}", field=f"columns.{name}",
        )  # fmt: skip
    ends = sorted((u for u in units if plain(theirs).endswith(plain(u))), key=len)
    if not ends:
        raise request.error(
            f"the column {theirs} does not say its unit", expected=f"a name that ends in one of {', '.join(units)}",
            mend="put the unit behind the column's name", field=f"columns.{name}",
        )  # fmt: skip
    return theirs, units[ends[-1]]


def _depths(table: _Table) -> list[tuple[float, float]]:
    """Top and bottom of each reading, cm: one depth for a cone index, the stretch driven for blows."""
    if "depth" not in table.names:
        raise table.request.error(
            f"there is no depth (the columns are {table.columns})", expected="depth_cm or depth_in for every reading",
            mend='if it goes by another name, map it: columns = { depth = "THEIR_NAME_cm" }', field="depth_cm",
        )  # fmt: skip
    out = []
    for i in range(len(table.frame)):
        bottom = table.number("depth", i, MOST_DEPTH_M)
        if math.isnan(bottom):
            raise table.bad("depth", i, "the depth of the reading")
        top = table.number("depth_from", i, MOST_DEPTH_M)
        if math.isnan(top):
            driven = table.number("distance", i, MOST_DEPTH_M) if "blows" in table.names else 0.0
            top = max(0.0, bottom - (0.0 if math.isnan(driven) else driven))
        if top > bottom:
            raise table.bad("depth_from", i, "a depth above that of the reading")
        out.append((100.0 * top, 100.0 * bottom))
    return out


def _resistances(table: _Table, depths: Sequence[tuple[float, float]]) -> tuple[list[float], list[int]]:
    """MPa of each row (NaN for none), and the rows that have one."""
    if "index" not in table.names and "blows" not in table.names:
        raise table.request.error(
            f"there is no resistance (the columns are {table.columns})",
            expected="cone_index_kpa, cone_index_mpa or cone_index_psi; or blows with distance_cm",
            field="cone_index_kpa",
        )  # fmt: skip
    values = []
    for i, (top, bottom) in enumerate(depths):
        value = table.number("index", i, MOST_MPA)
        if math.isnan(value):
            value = _driven(table, i, (bottom - top) / 100.0)
        values.append(value)
    kept = [i for i, v in enumerate(values) if not math.isnan(v)]
    if not kept:
        raise table.request.error("no row holds a resistance", expected="a cone index, or blows, in at least one row")
    return values, kept


def _driven(table: _Table, i: int, stretch_m: float) -> float:
    """MPa of blows; NaN where there are none."""
    blows = table.number("blows", i, MOST_BLOWS)
    if math.isnan(blows):
        return math.nan
    distance = table.number("distance", i, MOST_DEPTH_M)
    distance = stretch_m if math.isnan(distance) else distance
    if distance <= 0.0:
        raise table.bad("blows", i, "beside it the distance that the blows drove the cone (distance_cm)")
    hammer, drop = table.number("hammer", i, 100.0), table.number("drop", i, 5.0)
    cone = _cone(table.text("cone", i))
    return dynamic_resistance_mpa(
        blows, distance, hammer_kg=HAMMER_KG if math.isnan(hammer) else hammer,
        drop_m=DROP_M if math.isnan(drop) else drop, cone_mm=LARGE_CONE_MM if math.isnan(cone) else cone,
    )  # fmt: skip


def _cone(text: str) -> float:
    """Diameter in mm, NaN for none; -1 for words that are none."""
    if not text:
        return math.nan
    if text.lower() in CONES:
        return CONES[text.lower()]
    match = _DIAMETER.match(text.lower())
    if match is None:
        return -1.0
    return float(match.group(1)) * (25.4 if match.group(2) == "in" else 1.0)


def _cones(table: _Table) -> tuple[list[float], list[str]]:
    found, odd = [], []
    for i in range(len(table.frame)):
        value = _cone(table.text("cone", i))
        if not math.isnan(value) and not 2.0 <= value <= 60.0:
            raise table.bad("cone", i, "the diameter of the cone's base, such as 12.83 mm, or large or small")
        if not math.isnan(value) and not is_known_cone(value):
            odd.append(table.row(i))
        found.append(value)
    if odd:
        return found, [
            f"cones that are none of the standard ones ({LARGE_CONE_MM} and {SMALL_CONE_MM} mm, worn by at most 3 %): "
            f"{len(odd)} (rows {listed(odd)}); check the size, or change the cone."
        ]  # fmt: skip
    return found, []


def _stops(table: _Table) -> list[bool]:
    """Whether the probe would go no deeper: said in a column of its own, or by a note with `stopped` or `refusal`."""
    out = []
    for i in range(len(table.frame)):
        yes = read_yes(table.text("stopped", i))
        if isinstance(yes, str):
            raise table.bad("stopped", i, "yes or no, or an empty cell")
        note = table.text("note", i).lower()
        out.append(bool(yes) if yes is not None else "stopped" in note or "refusal" in note)
    return out


def _words(table: _Table) -> list:
    out = []
    for i in range(len(table.frame)):
        word = read_word(table.text("moisture", i), MOISTURES)
        if word is None:
            raise table.bad("moisture", i, "dry, moist or wet, or an empty cell")
        out.append(word or None)
    return out


def _days(table: _Table) -> list[dt.date | None]:
    out: list[dt.date | None] = []
    for i in range(len(table.frame)):
        found = read_day(table.cells["date"][i]) if "date" in table.names else None
        if isinstance(found, str):
            raise table.bad("date", i, "a date such as 2026-11-21")
        out.append(found)
    return out
