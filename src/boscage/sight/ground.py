"""Ground and vegetation as lines of sight meet them."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from boscage.model.scene import Scene
from boscage.model.sight_plan import ConcealmentOptions
from boscage.values import Printer

Floats32 = NDArray[np.float32]


@dataclass(frozen=True, kw_only=True, eq=False)
class SightGround:
    """Arrays of the grid's shape.

    Attributes:
        ground_m: Elevation; where it is not known that of the nearest cell with data, 0 without any.
        top_m: Canopy top above ground; NaN where nothing is known of the vegetation.
        extinction_per_m: NaN where nothing is known of the vegetation; unknown vegetation never hides.
        notes: What was assumed.
    """

    ground_m: Floats32
    top_m: Floats32
    extinction_per_m: Floats32
    notes: tuple[str, ...]


def make_sight_ground(scene: Scene, options: ConcealmentOptions) -> SightGround:
    """The scene for lines of sight.

    Extinction is that of full cover times (canopy cover / full cover), at most that of full cover. It takes the cover
    of the canopy for that of everything between ground and canopy top; under tall bare stems one sees further, in
    brush less far.
    """
    elevation, notes = _elevation(scene)
    cover, top = scene.surface("cover"), scene.surface("canopy_top")
    nan = np.full(scene.grid.shape, np.nan, dtype=np.float32)
    if cover is None:
        note = "No canopy cover: nothing hides a place but the ground."
        return SightGround(ground_m=elevation, top_m=nan, extinction_per_m=nan.copy(), notes=(*notes, note))
    share = np.clip(cover / options.full_cover, 0.0, 1.0)
    known = nan if top is None else top
    assumed = np.isnan(known) & (cover > 0.0)
    if assumed[scene.ranch].any():
        height = Printer(scene.plan.ranch.units).height(options.unmapped_top.m)
        notes += (f"Where canopy height is not mapped it is taken as {height} for lines of sight.",)
    if np.isnan(cover[scene.ranch]).any():
        notes += ("Where canopy cover is not mapped, vegetation hides nothing.",)
    heights = np.where(np.isnan(known), np.where(np.isnan(cover), np.nan, options.unmapped_top.m), known)
    return SightGround(
        ground_m=elevation, top_m=heights.astype(np.float32),
        extinction_per_m=(options.extinction_per_m * share).astype(np.float32), notes=notes,
    )  # fmt: skip


def _elevation(scene: Scene) -> tuple[Floats32, tuple[str, ...]]:
    values = scene.surface("elevation")
    if values is None or np.isnan(values).all():
        return np.zeros(scene.grid.shape, dtype=np.float32), ("No terrain: hills hide nothing in lines of sight.",)
    gaps = np.isnan(values)
    if not gaps.any():
        return np.ascontiguousarray(values), ()
    near = ndimage.distance_transform_edt(gaps, return_distances=False, return_indices=True)
    filled = np.ascontiguousarray(values[tuple(near)])
    if not gaps[scene.ranch].any():
        return filled, ()
    return filled, ("Where terrain is not mapped, lines of sight run over the height of the nearest mapped ground.",)
