"""Expected sightings over a whole grid: the observers tile by tile, so that memory stays bounded."""

from collections.abc import Callable

import numba
import numpy as np
from numpy.typing import NDArray

from boscage.kernels.sight import NOTHING, QUANTUM, Look, Sides, add_sightings
from boscage.kernels.sight_line import EARTH_M, SightScene

Floats = NDArray[np.float64]

_TILE = 2048  # observers of one square of so many cells are looked from together
_PARTS = 4  # at most so many share the work; the answer does not depend on it


def expected_sightings(
    scene: SightScene,
    places: NDArray[np.int64],
    eyes_m: Floats,
    weights: Floats,
    radius_m: float,
    heights_m: Floats,
    progress: Callable[[int, int], None] | None = None,
) -> NDArray[np.float64]:
    """Sum of weight * share of sight left over the observers within a radius of each cell.

    Args:
        scene: Ground and vegetation, see `SightScene`.
        places: (N, 2) row and column; people stand on the ground in the middle of a cell.
        eyes_m, weights: (N,), eyes above the ground, and looks, 0 or more.
        radius_m: How far anybody sees.
        heights_m: (K,), targets above the ground.
        progress: Called with observers done and all of them.

    Returns:
        (K, R, C); NaN where the ground is not known. Sums are kept in whole numbers of 2**-32, so the same observers in
        any order, in one call or in several, and on any number of threads give the same answer. Observers off the grid
        or on unknown ground add nothing.

    Scratch is about 110 bytes a cell of one tile of observers and what they reach.
    """
    rows, cols = scene.ground_m.shape
    sums = np.zeros((len(heights_m), rows, cols), dtype=np.int64)
    radius = max(1, int(radius_m / scene.cell_m))
    inside = (places[:, 0] >= 0) & (places[:, 1] >= 0) & (places[:, 0] < rows) & (places[:, 1] < cols)
    order = np.flatnonzero(inside)
    tile = places[order] // _TILE
    heights = (np.asarray(heights_m) / scene.cell_m).astype(np.float32)
    eyes = np.asarray(eyes_m) / scene.cell_m
    drop = scene.curvature * scene.cell_m / (2.0 * EARTH_M)
    done = 0
    for key in np.unique(tile, axis=0) if len(order) else ():
        these = order[(tile == key).all(axis=1)]
        part = _window(places[these], radius, (rows, cols))
        sides, plants = _lay_sides(scene, part, radius + 2)
        look = Look(radius, heights, drop, plants)
        shift = np.array([part[0].start, part[1].start]) - (radius + 2)
        parts = min(numba.get_num_threads(), _PARTS, len(these))
        out = np.zeros((parts, len(heights_m), *sides.ground.shape), dtype=np.int64)
        out_t = np.zeros((parts, len(heights_m), *sides.ground_t.shape), dtype=np.int64)
        add_sightings(sides, places[these] - shift, eyes[these], weights[these], look, out, out_t)
        inner = slice(radius + 2, -(radius + 2))
        for p in range(parts):
            sums[:, part[0], part[1]] += out[p][:, inner, inner]
            sums[:, part[0], part[1]] += out_t[p][:, inner, inner].transpose(0, 2, 1)
        done += len(these)
        if progress is not None:
            progress(done, len(order))
    answer = sums * QUANTUM
    answer[:, np.isnan(scene.ground_m)] = np.nan
    return answer


def see_from(
    scene: SightScene, place: tuple[int, int], eye_m: float, radius_m: float, heights_m: Floats
) -> NDArray[np.float64]:
    """Share of sight left from one person to every cell: (K, R, C), 0 beyond the radius, NaN on unknown ground."""
    one = np.array([1.0])
    return expected_sightings(scene, np.array([place]), one * eye_m, one, radius_m, heights_m)


def _window(places: NDArray[np.int64], radius: int, shape: tuple[int, int]) -> tuple[slice, slice]:
    low, high = places.min(axis=0) - radius, places.max(axis=0) + radius + 1
    return tuple(slice(max(0, int(a)), min(int(b), n)) for a, b, n in zip(low, high, shape, strict=True))  # type: ignore[return-value]


def _lay_sides(scene: SightScene, part: tuple[slice, slice], room: int) -> tuple[Sides, bool]:
    """A window of the scene with heights in cells, padded, and turned over; and whether anything grows there."""
    each = np.float32(1.0 / scene.cell_m)
    ground = np.pad(scene.ground_m[part] * each, room, constant_values=NOTHING)
    top = np.pad(scene.top_m[part] * each, room, constant_values=np.nan)
    hides = np.pad(scene.extinction_per_m[part] * np.float32(scene.cell_m), room, constant_values=np.nan)
    bare = ~((hides > 0.0) & (top > 0.0)) | np.isnan(ground)
    ground = np.ascontiguousarray(np.where(np.isnan(ground), NOTHING, ground), dtype=np.float32)
    if bare.all():  # nothing to look through: the places of the vegetation are never looked at
        turned = np.ascontiguousarray(ground.T)
        return Sides(ground, ground, ground, turned, turned, turned), False
    canopy = np.where(bare, NOTHING, ground + top).astype(np.float32)
    hides = np.where(bare, 0.0, hides).astype(np.float32)
    arrays = tuple(np.ascontiguousarray(a, dtype=np.float32) for a in (ground, canopy, hides))
    return Sides(*arrays, *[np.ascontiguousarray(a.T) for a in arrays]), True
