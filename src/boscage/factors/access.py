"""Access: minutes on foot from the nearest vehicle track, over permitted land and real slopes."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.kernels.travel import OFFSETS_16, TOBLER_OUTWARD, Ground, trace, travel_time
from boscage.model.factor import Factor, FactorOptions, Measure, no_data, rate
from boscage.model.fields import burn, cells_along
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Printer


@dataclass(frozen=True, kw_only=True)
class AccessOptions(FactorOptions):
    """`[factors.access]`."""

    weight: float = option(2.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 1.0), (4.0, 1.0), (15.0, 0.6), (45.0, 0.0)),
        help="Value by walking time from the nearest vehicle track, minutes.",
        grade="C",
    )
    off_path: float = option(
        0.6, help="Share of Tobler's path speed that is kept off the path.", low=0.05, high=1.0, grade="V"
    )


class Access(Factor):
    """Least walking time from a vehicle track to the place, minutes; ground that may not be crossed is a barrier.

    Starts are roads and tracks on granted land and public roads. Land without permission and mapped polygons of water
    are barriers; creeks drawn as lines are crossed. Tobler's function on the slope of each step, slowed off the path.

    References: W. Tobler (1993), NCGIA Technical Report 93-1.
    """

    name = "access"
    title = "Short walk in"
    unit = "min"
    needs = ("tracks",)
    reads = ("tracks", "parcels", "water")
    is_dated = False
    Options = AccessOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """One least-time pass from all vehicle tracks."""
        assert isinstance(options, AccessOptions)
        layer = scene.vectors.get("tracks")
        if layer is None or layer.frame.empty:
            return no_data(scene, "walk_min")
        elevation, notes = _elevation(scene)
        pace = _pace(scene, options)
        start = np.full(scene.grid.shape, np.inf)
        start[_vehicle_cells(scene)] = 0.0
        pace[(start == 0.0) & ~np.isfinite(pace)] = 1.0
        seconds = np.empty(scene.grid.shape)
        back = np.empty(scene.grid.shape, dtype=np.int8)
        travel_time(Ground(elevation, pace, scene.grid.cell_m), TOBLER_OUTWARD, OFFSETS_16, start, seconds, back)
        minutes = (seconds / 60.0).astype(np.float32)
        figures = {"walk_min": minutes}
        return Measure(values=rate(minutes, options.value), figures=figures, notes=notes, paths=back)

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say the minutes, or that there is no way or no data."""
        minutes = figures["walk_min"]
        if math.isnan(minutes):
            return "No tracks layer: the walk in is not known."
        if math.isinf(minutes):
            return "No way on foot over permitted land from a mapped vehicle track."
        shown = "less than a minute" if minutes < 1 else f"{minutes:.0f} min"
        return f"About {shown} on foot from the nearest mapped vehicle track, without a load."

    def way_in(self, scene: Scene, measure: Measure, x_m: float, y_m: float) -> NDArray[np.float64] | None:
        """The walk from the track to the place, as cell centres."""
        row, col = scene.grid.index(x_m, y_m)
        if measure.paths is None or not math.isfinite(measure.figures["walk_min"][row, col]):
            return None
        most = measure.paths.size
        rows, cols = np.empty(most, dtype=np.int64), np.empty(most, dtype=np.int64)
        count = trace(measure.paths, OFFSETS_16, row, col, rows, cols)
        x = scene.grid.west + (cols[:count] + 0.5) * scene.grid.cell_m
        y = scene.grid.north - (rows[:count] + 0.5) * scene.grid.cell_m
        return np.column_stack([x, y])[::-1]


def _elevation(scene: Scene) -> tuple[NDArray[np.float32], tuple[str, ...]]:
    elevation = scene.surface("elevation")
    if elevation is None:
        flat = np.zeros(scene.grid.shape, dtype=np.float32)
        return flat, ("No terrain: the walk in is timed over flat ground, so it will take longer.",)
    return np.ascontiguousarray(elevation), ()


def _pace(scene: Scene, options: AccessOptions) -> NDArray[np.float32]:
    """Multiplier on path time: 1 on trails and tracks, slower off them, infinite where nobody may or can walk."""
    pace = np.full(scene.grid.shape, 1.0 / options.off_path, dtype=np.float32)
    pace[cells_along(scene.vectors["tracks"].frame.geometry.to_numpy(), scene.grid)] = 1.0
    pace[~scene.granted] = np.inf
    water = scene.vectors.get("water")
    if water is not None:
        for shape in _polygons(water.frame.geometry.to_numpy()):
            pace[burn(shape, scene.grid)] = np.inf
    return pace


def _vehicle_cells(scene: Scene) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Cells of public roads, and of roads and tracks on granted land."""
    frame = scene.vectors["tracks"].frame
    public = frame["public"].to_numpy(dtype=bool)
    open_rows, open_cols = cells_along(frame.geometry[public].to_numpy(), scene.grid)
    own = (frame["class"] != "trail").to_numpy() & ~public
    rows, cols = cells_along(frame.geometry[own].to_numpy(), scene.grid)
    may = scene.granted[rows, cols]
    return np.concatenate([open_rows, rows[may]]), np.concatenate([open_cols, cols[may]])


def _polygons(shapes: Any) -> Any:
    parts = shapely.get_parts(shapes)
    return parts[shapely.get_dimensions(parts) == 2]
