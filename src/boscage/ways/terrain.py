"""The ground that ATV and people cross: how slow it is, what bars it, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.kernels.terrain import horn_gradient
from boscage.kernels.travel import TOBLER_OUTWARD
from boscage.model.fields import burn, cells_along
from boscage.model.journey import TravelOptions
from boscage.model.scene import Scene
from boscage.ways.load import OPEN_FACTOR, PATH_FACTOR, TIMBER_FACTOR

Floats32 = NDArray[np.float32]
Flags = NDArray[np.uint8]

# Why a cell bars the way, as bits.
LAND, POND, CREEK, FENCE, THICK, BLIND = 1, 2, 4, 8, 16, 32
BARRIER_WORDS = {
    LAND: "land without permission", POND: "mapped water", BLIND: "ground without terrain heights",
}  # fmt: skip
FOOT_STOPS = LAND | POND | BLIND
ATV_STOPS = FOOT_STOPS | CREEK | FENCE | THICK


@dataclass(frozen=True, kw_only=True, eq=False)
class WayGround:
    """What is crossed off the road network; every array has the grid's shape.

    Attributes:
        elevation_m: NaN bars the way; all 0 where the plan has no terrain.
        east, north: Gradient, rise over run.
        foot_pace: Multiplier on path time without a load; infinite where `stops` has a bit of `FOOT_STOPS`.
        atv_pace: Multiplier on the ATV's time on a level track; infinite where `stops` has a bit of `ATV_STOPS`.
        energy: Terrain factor for the energy of walking.
        stops: Bits that say what lies in the cell.
        notes: What was assumed.
    """

    elevation_m: Floats32
    east: Floats32
    north: Floats32
    foot_pace: Floats32
    atv_pace: Floats32
    energy: Floats32
    stops: Flags
    notes: tuple[str, ...]


def make_ground(scene: Scene, options: TravelOptions) -> WayGround:
    """The ground of a scene for the ATV and on foot.

    Land without permission and mapped polygons of water bar both, save where a track or trail crosses water. Creeks and
    fences bar the ATV save where a track or trail crosses them, and at gates; people cross them and lose time. Where
    cover is not mapped the ground counts as open in speed; where trees are not mapped their number bars nobody.
    """
    elevation, notes = _elevation(scene)
    on_way = np.zeros(scene.grid.shape, dtype=bool)
    on_way[_cells(scene, "tracks")] = True
    stops = _stops(scene, on_way, elevation, options)
    cover, blind = _cover_share(scene)
    notes += ("Canopy cover is not known in part: there the ground counts as open for speed.",) if blind else ()
    east, north = np.empty_like(elevation), np.empty_like(elevation)
    horn_gradient(elevation, scene.grid.cell_m, east, north)
    for slope in (east, north):  # the grid's rim takes the slope of the cells beside it
        if min(slope.shape) > 2:
            slope[0], slope[-1], slope[:, 0], slope[:, -1] = slope[1], slope[-2], slope[:, 1], slope[:, -2]
            slope[0, [0, -1]], slope[-1, [0, -1]] = slope[1, [1, -2]], slope[-2, [1, -2]]
    return WayGround(
        elevation_m=elevation, east=east, north=north, stops=stops, notes=notes,
        foot_pace=_foot_pace(scene, options, on_way, cover, stops), atv_pace=_atv_pace(options, on_way, cover, stops),
        energy=np.where(on_way, PATH_FACTOR, OPEN_FACTOR + (TIMBER_FACTOR - OPEN_FACTOR) * cover).astype(np.float32),
    )  # fmt: skip


def _elevation(scene: Scene) -> tuple[Floats32, tuple[str, ...]]:
    elevation = scene.surface("elevation")
    if elevation is None:
        flat = np.zeros(scene.grid.shape, dtype=np.float32)
        return flat, ("No terrain: the way in is timed over flat ground, so it will take longer.",)
    return np.ascontiguousarray(elevation), ()


def _cover_share(scene: Scene) -> tuple[Floats32, bool]:
    """Canopy cover 0..1, 0 where it is not known, and whether it is not known somewhere on the ranch."""
    cover = scene.surface("cover")
    if cover is None:
        return np.zeros(scene.grid.shape, dtype=np.float32), True
    unknown = np.isnan(cover)
    return np.where(unknown, 0.0, np.clip(cover / 100.0, 0.0, 1.0)).astype(np.float32), bool(unknown[scene.ranch].any())


def _cells(scene: Scene, name: str, dimension: int = 1) -> tuple[Any, Any]:
    """Rows and columns of the cells that a layer's lines (or points) lie in."""
    layer = scene.vectors.get(name)
    none = np.empty(0, dtype=np.int64)
    if layer is None or layer.frame.empty:
        return none, none
    parts = shapely.get_parts(shapely.force_2d(layer.frame.geometry.to_numpy()))
    parts = parts[shapely.get_dimensions(parts) == dimension]
    return cells_along(parts, scene.grid) if len(parts) else (none, none)


def _stops(scene: Scene, on_way: NDArray[np.bool_], elevation: Floats32, options: TravelOptions) -> Flags:
    stops = np.zeros(scene.grid.shape, dtype=np.uint8)
    stops[~scene.granted] |= LAND
    water = scene.vectors.get("water")
    if water is not None:
        wet = burn(shapely.force_2d(water.frame.geometry.to_numpy()), scene.grid)
        stops[wet & ~on_way] |= POND
    at_gate = np.zeros(scene.grid.shape, dtype=bool)
    at_gate[_cells(scene, "gates", dimension=0)] = True
    for name, bit in (("water", CREEK), ("fences", FENCE)):
        line = np.zeros(scene.grid.shape, dtype=bool)
        line[_cells(scene, name)] = True
        _close_corners(line)
        stops[line & ~on_way & ~at_gate] |= bit
    stops[_too_thick(scene, options) & ~on_way] |= THICK
    stops[np.isnan(elevation)] |= BLIND
    return stops


def _close_corners(line: NDArray[np.bool_]) -> None:
    """Make cells that meet at a corner only meet at a side, so that no diagonal step slips through a line."""
    nw, ne, sw, se = line[:-1, :-1], line[:-1, 1:], line[1:, :-1], line[1:, 1:]
    falling = nw & se & ~ne & ~sw
    rising = ne & sw & ~nw & ~se
    line[:-1, 1:][falling] = True
    line[:-1, :-1][rising] = True


def _too_thick(scene: Scene, options: TravelOptions) -> NDArray[np.bool_]:
    """Cells whose cover or number of mapped trees keeps the ATV out; unknown does not."""
    thick = np.zeros(scene.grid.shape, dtype=bool)
    for name, limit in (("cover", options.atv_cover_pct), ("stems", options.atv_stems_ha)):
        values = scene.surface(name)
        if values is not None:
            thick |= np.nan_to_num(values, nan=0.0) > limit
    return thick


def _foot_pace(
    scene: Scene, options: TravelOptions, on_way: NDArray[np.bool_], cover: Floats32, stops: Flags
) -> Floats32:
    """Multiplier on path time; a creek or fence adds its crossing time to the one cell that is crossed."""
    share = options.open_share + (options.timber_share - options.open_share) * cover
    pace = np.where(on_way, 1.0, 1.0 / share)
    level_s = scene.grid.cell_m / (TOBLER_OUTWARD.top_speed_mps * np.exp(-TOBLER_OUTWARD.decay * 0.05))
    for bit, minutes in ((CREEK, options.creek_min), (FENCE, options.fence_min)):
        pace = pace + np.where(stops & bit, 60.0 * minutes / level_s, 0.0)
    pace[(stops & FOOT_STOPS) != 0] = np.inf
    return pace.astype(np.float32)


def _atv_pace(options: TravelOptions, on_way: NDArray[np.bool_], cover: Floats32, stops: Flags) -> Floats32:
    speed = options.atv_open_kmh + (options.atv_timber_kmh - options.atv_open_kmh) * cover
    pace = np.where(on_way, 1.0, options.atv_track_kmh / speed)
    pace[(stops & ATV_STOPS) != 0] = np.inf
    return pace.astype(np.float32)
