"""The scene: everything a factor or a hard stop may look at, on one grid."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from boscage.values import Grid

if TYPE_CHECKING:
    from boscage.model.evidence import VisitPoint
    from boscage.model.ground import GroundField
    from boscage.model.layers import VectorLayer
    from boscage.model.plan import Plan


@dataclass(frozen=True, kw_only=True)
class Surface:
    """One raster quantity on the scene's grid.

    Attributes:
        values: (rows, cols) float32, NaN for no data.
        note: How it was made, for the sheets: source layer and native cell.
    """

    values: NDArray[np.float32]
    note: str


# Surfaces by name. cover: canopy cover, per cent. canopy_top: greatest canopy height, m. elevation: m.
# slope: tangent of the terrain's slope. roughness: m, root-mean-square off the plane of the ground inside the ring.
# stems: mapped trees a hectare.
SURFACES = ("cover", "canopy_top", "elevation", "slope", "roughness", "stems")


@dataclass(frozen=True, kw_only=True)
class RingField:
    """The best ring of every mapped tree on open land, corners at the bark.

    Attributes:
        x_m, y_m: (N,) middle of each ring's corners, metres.
        score: (N,) 0..100.
        contacts, built_supports: (N,).
        mapped: (rows, cols) bool, True where trees are mapped.
        note: How the trees were mapped, for the sheets.
    """

    x_m: NDArray[np.float64]
    y_m: NDArray[np.float64]
    score: NDArray[np.float64]
    contacts: NDArray[np.int64]
    built_supports: NDArray[np.int64]
    mapped: NDArray[np.bool_]
    note: str


@dataclass(frozen=True, kw_only=True)
class Scene:
    """The ranch as a grid of surfaces and a set of features.

    Attributes:
        plan: The plan.
        grid: Frame of every array.
        date: The day that ages are counted from.
        surfaces: By name; a missing one is absent.
        vectors: Vector layers by plan key, in the grid's CRS; a missing one is absent.
        granted: (rows, cols) bool, True where the cell's centre is on land with permission.
        ranch: (rows, cols) bool, True where the cell's centre is inside any parcel.
        digests: Content digests by layer name, for reuse of what has not changed.
        rings: Rings that the mapped trees hold, or None where no tree is mapped.
        ground: The soil, map and readings together, or None without either.
        visits: What cameras saw up to the date, or None without cameras.
    """

    plan: Plan
    grid: Grid
    date: dt.date
    surfaces: Mapping[str, Surface]
    vectors: Mapping[str, VectorLayer]
    granted: NDArray[np.bool_]
    ranch: NDArray[np.bool_]
    digests: Mapping[str, str]
    rings: RingField | None = None
    ground: GroundField | None = None
    visits: tuple[VisitPoint, ...] | None = None

    def surface(self, name: str) -> NDArray[np.float32] | None:
        """The values of a surface, or None."""
        found = self.surfaces.get(name)
        return None if found is None else found.values
