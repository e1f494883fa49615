"""Drop points: the gap that serves a site, what stands round it, how long a line, what is known of wires."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.airlift.gaps import GapSearch, widest_gaps
from boscage.model.drop import DropPoint, Gap, NoDrop, WireNote
from boscage.model.drop_plan import GapOptions, line_length
from boscage.values import Grid, Printer

TALL_SHARE = 1.5
STEEP_PERCENT = 15.0
"""Common practice, no source: a load slides or a crew slips on more."""


@dataclass(frozen=True, kw_only=True)
class Wires:
    """Wires in the data: lines or points in the ranch's CRS, with where they come from."""

    shapes: tuple[Any, ...]
    source: str = ""
    date: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class DropGround:
    """What the search stands on.

    Attributes:
        canopy_m: (R, C) canopy height, NaN = no data.
        terrain_m: (R, C) elevation on the same grid, or None.
        wires: Known wires, or None where the plan gives no such layer.
        barred: (R, C) bool, ground that may not be used whatever grows there, such as land without permission and
            water, or None.
    """

    grid: Grid
    canopy_m: NDArray[np.float32]
    terrain_m: NDArray[np.float32] | None = None
    wires: Wires | None = None
    barred: NDArray[np.bool_] | None = None

    @property
    def usable_m(self) -> NDArray[np.float32]:
        """(R, C) canopy height, NaN where there are no data and on ground that may not be used."""
        return self.canopy_m if self.barred is None else np.where(self.barred, np.float32(np.nan), self.canopy_m)


def find_drop(
    site: str, place: tuple[float, float], ground: DropGround, options: GapOptions, printer: Printer
) -> DropPoint | NoDrop:
    """The nearest of the widest gaps that are as wide as asked for and not ruled out by a known wire.

    A gap with a steep floor is taken only where there is no other.

    Args:
        place: East and north of the set.
    """
    search = GapSearch(
        open_height_m=options.open_height.m, near_m=options.apart.m, far_m=options.reach.m,
        least_m=options.diameter.m, count=options.count,
    )  # fmt: skip
    gaps = widest_gaps(ground.usable_m, ground.grid, place, search)
    if not gaps:
        *_, canopy = disk_values(ground.canopy_m, ground.grid, place, options.reach.m)
        open_ground = "There is no open ground that may be used"
        words = open_ground if np.isfinite(canopy).any() else "There are no canopy heights"
        return NoDrop(site=site, reason=f"{words} within {printer.length(options.reach.m)} of {site}.")
    wide = [g for g in gaps if g.diameter_m >= options.diameter.m]
    if not wide:
        words = f"The widest gap within {printer.length(options.reach.m)} is {printer.length(gaps[0].diameter_m)} wide"
        reason = f"{words}; {printer.length(options.diameter.m)} is asked for."
        return NoDrop(site=site, reason=reason, nearest_miss=gaps[0])
    made = [_describe(site, place, g, ground, options, printer) for g in sorted(wide, key=lambda g: g.reach_m)]
    kept = sorted((p for p in made if p.wires.standing != "stop"), key=_is_steep)
    if not kept:
        return NoDrop(
            site=site, reason=f"A known wire rules every gap out. {made[0].wires.text}", nearest_miss=made[0].gap
        )
    return kept[0]


def _is_steep(point: DropPoint) -> bool:
    return point.slope_percent is not None and point.slope_percent > STEEP_PERCENT


def _describe(
    site: str, place: tuple[float, float], gap: Gap, ground: DropGround, options: GapOptions, printer: Printer
) -> DropPoint:
    at = (gap.x_m, gap.y_m)
    *_, canopy = disk_values(ground.canopy_m, ground.grid, at, options.near.m)
    known = canopy[np.isfinite(canopy)]
    unknown = 1.0 - known.size / max(1, canopy.size)
    tallest = float(known.max()) if known.size else None
    slope, elevation = floor_of(ground, gap)
    wires = wire_note(at, ground.wires, tallest, options, printer)
    notes = []
    if unknown > 0.0:
        notes.append(f"No canopy heights over {unknown:.0%} of the ground within {printer.length(options.near.m)}.")
    if slope is None:
        notes.append("No terrain in the gap: its slope is not known.")
    elif slope > STEEP_PERCENT:
        notes.append(f"The floor of the gap slopes by {slope:.0f} %.")
    return DropPoint(
        site=site, gap=gap, bearing_deg=math.degrees(math.atan2(gap.x_m - place[0], gap.y_m - place[1])) % 360.0,
        slope_percent=slope, elevation_m=elevation, tallest_near_m=tallest,
        line_m=None if tallest is None else line_length(tallest, options), unknown_share=unknown, wires=wires,
        notes=(*notes, wires.text),
    )  # fmt: skip


def disk_values(
    field: NDArray[np.float32], grid: Grid, at: tuple[float, float], radius_m: float
) -> tuple[NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]]:
    """East and north of a place, metres, and value of each cell whose middle is within a distance; (N,) each.

    Cells off the grid count too: their value is NaN.
    """
    row0, col0 = grid.index(at[0] - radius_m, at[1] + radius_m)
    row1, col1 = grid.index(at[0] + radius_m, at[1] - radius_m)
    rows, cols = np.arange(row0, row1 + 1), np.arange(col0, col1 + 1)
    x = grid.west + (cols + 0.5) * grid.cell_m - at[0]
    y = grid.north - (rows + 0.5) * grid.cell_m - at[1]
    r, c = np.nonzero(np.hypot(x[None, :], y[:, None]) <= radius_m)
    values = np.full(len(r), np.nan)
    on = (rows[r] >= 0) & (rows[r] < grid.rows) & (cols[c] >= 0) & (cols[c] < grid.cols)
    values[on] = field[rows[r][on], cols[c][on]]
    return x[c], y[r], values


def floor_of(ground: DropGround, gap: Gap) -> tuple[float | None, float | None]:
    """Slope in per cent of the least-squares plane through the ground inside the gap, and its mean elevation."""
    if ground.terrain_m is None:
        return None, None
    x, y, z = disk_values(ground.terrain_m, ground.grid, (gap.x_m, gap.y_m), gap.diameter_m / 2.0)
    known = np.isfinite(z)
    if not known.any():
        return None, None
    level = float(z[known].mean())
    around = np.column_stack([x[known] - x[known].mean(), y[known] - y[known].mean()])
    if known.sum() < 3 or np.linalg.matrix_rank(around) < 2:
        return None, level
    rise, *_ = np.linalg.lstsq(around, z[known] - level, rcond=None)
    return 100.0 * float(np.hypot(*rise)), level


def wire_note(
    at: tuple[float, float], wires: Wires | None, tallest_m: float | None, options: GapOptions, printer: Printer
) -> WireNote:
    """How far the nearest wire in the data is. Absence from the data is never read as absence of wires."""
    if wires is None:
        text = "Wires were not searched: the plan names no such layer. Look for them."
        return WireNote(distance_m=None, standing="not searched", source="", date=None, text=text)
    source = wires.source or "source not stated"
    origin = f"{source}, {wires.date.isoformat() if wires.date else 'date not stated'}"
    if not wires.shapes:
        text = f"The data ({origin}) hold no wires; they are not complete. Look for them."
        return WireNote(distance_m=None, standing="none in data", source=wires.source, date=wires.date, text=text)
    away = float(shapely.distance(shapely.Point(at), shapely.union_all(list(wires.shapes))))
    stop = max(options.wire_stop.m, TALL_SHARE * (tallest_m or 0.0))
    standing = "stop" if away < stop else "flag" if away < options.wire_flag.m else "known"
    text = f"Nearest wire in the data {printer.length(away)} ({origin}); they are not complete. Look for others."
    return WireNote(distance_m=away, standing=standing, source=wires.source, date=wires.date, text=text)
