"""Why a place cannot be reached: what bars the way that meets the least of it."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.kernels.travel import OFFSETS_16, TOBLER_OUTWARD, Ground, travel_time
from boscage.model.journey import NoWay
from boscage.model.scene import Scene
from boscage.ways.reach import cells_to
from boscage.ways.terrain import BARRIER_WORDS, LAND, WayGround

_DEAR = np.float32(3.0e4)  # a barred cell costs as much as a walk of this many cells


def find_barriers(scene: Scene, ground: WayGround, vehicle: NDArray[np.float64], cell: tuple[int, int]) -> NoWay:
    """Follow the walk that crosses the fewest barred cells and say what they are.

    Args:
        vehicle: Seconds of the vehicle by cell, infinite where it cannot stop.
    """
    if not np.isfinite(vehicle).any():
        return NoWay(reason="Not reachable: the vehicle gets nowhere on the mapped roads and tracks.")
    pace = np.where(np.isfinite(ground.foot_pace), ground.foot_pace, _DEAR).astype(np.float32)
    height = np.nan_to_num(ground.elevation_m, nan=float(np.nan_to_num(np.nanmean(ground.elevation_m))))
    moves = np.empty(scene.grid.shape, dtype=np.int8)
    walk = TOBLER_OUTWARD._replace(decay=0.0)
    time = vehicle.copy()
    travel_time(Ground(height.astype(np.float32), pace, scene.grid.cell_m), walk, OFFSETS_16, time, time, moves)
    rows, cols = (part[::-1] for part in cells_to(moves, cell))
    words = []
    for bit in BARRIER_WORDS:
        at = np.flatnonzero(ground.stops[rows, cols] & bit)
        if len(at):
            words.append(_named(scene, bit, (int(rows[at[0]]), int(cols[at[0]]))))
    listed = " and ".join(words) if words else "slopes or narrow gaps between barriers"
    return NoWay(reason=f"Not reachable: the nearest way is barred by {listed}.", barriers=tuple(words))


def _named(scene: Scene, bit: int, cell: tuple[int, int]) -> str:
    """The barrier in words, with the parcel's name where it is land."""
    words = BARRIER_WORDS[bit]
    if bit != LAND:
        return words
    x, y = scene.grid.centre(*cell)
    frame = scene.vectors["parcels"].frame
    inside = np.flatnonzero(shapely.intersects_xy(frame.geometry.to_numpy(), x, y))
    names = [str(frame["parcel"].iloc[k]) for k in inside if frame["access"].iloc[k] != "granted"]
    if names and "parcel" in frame:
        return f"{words} (parcel {names[0]})"
    return f"{words} (off the parcels)" if len(inside) == 0 else words
