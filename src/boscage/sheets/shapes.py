"""Geometries turned into what matplotlib draws: clipped, thinned to the printed scale, joined into one path."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry
from shapely.geometry.polygon import orient

from boscage.sheets.frame import MapFrame
from boscage.sheets.style import PAPER, AreaLook, LineLook

_THIN_MM = 0.08
_PAD_MM = 6.0


def clip(geometries: Iterable[BaseGeometry | None], frame: MapFrame) -> list[BaseGeometry]:
    """The parts of geometries in and just around a frame, thinned by less than a tenth of a millimetre.

    The order is kept; a geometry without a part in the frame becomes an empty one.
    """
    given = np.array([g if g is not None else shapely.Point() for g in geometries], dtype=object)
    if given.size == 0:
        return []
    around = frame.bounds.padded(_PAD_MM * frame.metres_per_mm)
    box = shapely.box(around.west, around.south, around.east, around.north)
    inside = shapely.intersection(shapely.force_2d(given), box)
    return list(shapely.simplify(inside, _THIN_MM * frame.metres_per_mm))


def pieces(geometry: BaseGeometry, kind: str) -> list[BaseGeometry]:
    """The `Polygon`, `LineString` or `Point` parts of a geometry, whatever it is nested in."""
    if geometry.is_empty:
        return []
    if hasattr(geometry, "geoms"):
        return [p for g in geometry.geoms for p in pieces(g, kind)]
    found = "LineString" if geometry.geom_type == "LinearRing" else geometry.geom_type
    return [geometry] if found == kind else []


def area_path(geometries: Iterable[BaseGeometry]) -> Path | None:
    """One path of all polygons, holes turning the other way round; None when there is none."""
    parts = []
    for geometry in geometries:
        for polygon in pieces(geometry, "Polygon"):
            turned = orient(polygon)
            parts += [np.asarray(ring.coords) for ring in (turned.exterior, *turned.interiors)]
    return _compound(parts, closed=True)


def line_path(geometries: Iterable[BaseGeometry]) -> Path | None:
    """One path of all lines; None when there is none."""
    parts = [np.asarray(p.coords) for g in geometries for p in pieces(g, "LineString")]
    return _compound(parts, closed=False)


def array_path(lines: Sequence[NDArray[np.float64]]) -> Path | None:
    """One path of lines given as (N, 2) arrays."""
    return _compound([part for part in lines if len(part) > 1], closed=False)


def _compound(parts: Sequence[NDArray[np.float64]], *, closed: bool) -> Path | None:
    if not parts:
        return None
    codes = []
    for part in parts:
        own = np.full(len(part), Path.LINETO, dtype=Path.code_type)
        own[0] = Path.MOVETO
        if closed:
            own[-1] = Path.CLOSEPOLY
        codes.append(own)
    return Path(np.concatenate([p[:, :2] for p in parts]), np.concatenate(codes))


def draw_line(axes: Axes, path: Path | None, looks: Sequence[LineLook], order: float) -> None:
    """Draw a path once for each pass of its look."""
    if path is None:
        return
    for step, look in enumerate(looks):
        axes.add_patch(
            PathPatch(
                path,
                facecolor="none",
                edgecolor=look.colour,
                lw=look.width_pt,
                ls=(0, look.dashes) if look.dashes else "-",
                capstyle=look.cap,
                joinstyle="round",
                zorder=order + step * 0.01,
            )
        )


def draw_area(axes: Axes, path: Path | None, look: AreaLook, order: float) -> None:
    """Fill, hatch and outline a path."""
    if path is None:
        return
    common: dict[str, Any] = {"zorder": order, "linewidth": 0}
    if look.fill != "none":
        axes.add_patch(PathPatch(path, facecolor=look.fill, **common))
    if look.hatch:
        axes.add_patch(PathPatch(path, facecolor="none", edgecolor=look.hatch_colour, hatch=look.hatch, **common))
    if look.outline:
        under = (LineLook(colour=PAPER, width_pt=look.outline.width_pt + 1.0),) if look.cased else ()
        draw_line(axes, path, (*under, look.outline), order + 0.05)
