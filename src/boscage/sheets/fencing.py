"""Fences and gates on a map: a thin line with crosses, and two short bars across the way."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from boscage.model.journey import GATE_M
from boscage.sheets.features import Sketch
from boscage.sheets.frame import MapFrame
from boscage.sheets.shapes import array_path, draw_line, line_path, pieces
from boscage.sheets.style import GATE_BAR_MM, GATE_GAP_MM, LAYER_ORDER, LINES

CROSS_EVERY_MM, CROSS_HALF_MM = 5.5, 0.6
GATE_SIDE_MM = GATE_BAR_MM + 0.4


def draw_fences(sketch: Sketch) -> None:
    """Fences as a thin line with a small cross every few millimetres."""
    lines = [p for g in sketch.clipped("fences") for p in pieces(g, "LineString")]
    if not lines:
        return
    crosses = [stroke for line in lines for stroke in _crosses(line, sketch.frame)]
    for path in (line_path(lines), array_path(crosses)):
        draw_line(sketch.axes, path, LINES["fence"], LAYER_ORDER["fence"])
    sketch.key.shown.add("fence")


def _crosses(line: BaseGeometry, frame: MapFrame) -> list[NDArray[np.float64]]:
    """The two strokes of each cross along a line, slantwise to it."""
    step, half = CROSS_EVERY_MM * frame.metres_per_mm, CROSS_HALF_MM * frame.metres_per_mm
    strokes = []
    for along in np.arange(step / 2, line.length, step):
        middle, ahead = _place_and_way(line, float(along), half)
        left = np.array([-ahead[1], ahead[0]])
        for slant in (ahead + left, ahead - left):
            strokes.append(np.array([middle - half * slant, middle + half * slant]))
    return strokes


def _place_and_way(line: BaseGeometry, along: float, half: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """The place at a distance along a line, and the line's direction there as a unit vector."""
    ends = shapely.line_interpolate_point(line, [max(0.0, along - half), along, min(line.length, along + half)])
    before, middle, after = shapely.get_coordinates(ends)
    way = after - before
    length = float(np.hypot(*way))
    return middle, way / length if length else np.array([1.0, 0.0])


def draw_gates(sketch: Sketch) -> None:
    """Gates as two short bars across the way; a locked gate has a third that joins them."""
    ways = [_Ways.of(sketch, "tracks", turned=False), _Ways.of(sketch, "fences", turned=True)]
    for point, state in _gates(sketch):
        ahead = next((w for w in (way.at(point) for way in ways) if w is not None), np.array([1.0, 0.0]))
        bars, bolt = _bars(sketch.frame, point, ahead)
        name = "gate_locked" if state == "locked" else "gate"
        strokes = [*bars, bolt] if name == "gate_locked" else bars
        draw_line(sketch.axes, array_path(strokes), LINES["gate"], LAYER_ORDER["gate"])
        sketch.key.shown.add(name)
        sketch.placer.take(*sketch.frame.to_mm(point.x, point.y), GATE_SIDE_MM, GATE_SIDE_MM)


def _gates(sketch: Sketch) -> list[tuple[Any, str]]:
    """Places and states of the gates in the frame."""
    held = zip(sketch.clipped("gates"), sketch.column("gates", "state"), strict=True)
    return [(p, s) for g, s in held for p in pieces(g, "Point") if sketch.frame.holds(p.x, p.y)]


@dataclass(frozen=True, kw_only=True)
class _Ways:
    """Lines that gates may stand on.

    Attributes:
        lines: The lines in the frame.
        turned: Whether the way through a gate runs across them.
        half_m: Half the stretch that a line's direction is taken over.
    """

    lines: NDArray[np.object_]
    turned: bool
    half_m: float

    @classmethod
    def of(cls, sketch: Sketch, layer: str, *, turned: bool) -> _Ways:
        """The lines of a layer."""
        lines = np.array([p for g in sketch.clipped(layer) for p in pieces(g, "LineString")], dtype=object)
        return cls(lines=lines, turned=turned, half_m=sketch.frame.metres_per_mm)

    def at(self, point: Any) -> NDArray[np.float64] | None:
        """The way through a gate as a unit vector, or None where the nearest line is too far off."""
        gaps = shapely.distance(self.lines, point)
        if len(gaps) == 0 or gaps.min() > GATE_M:
            return None
        line = self.lines[int(np.argmin(gaps))]
        _, way = _place_and_way(line, float(line.project(point)), self.half_m)
        return np.array([-way[1], way[0]]) if self.turned else way


def _bars(
    frame: MapFrame, point: Any, ahead: NDArray[np.float64]
) -> tuple[list[NDArray[np.float64]], NDArray[np.float64]]:
    """The two bars across the way at a gate, and the bolt between them."""
    mm = frame.metres_per_mm
    along, across = GATE_GAP_MM / 2 * mm * ahead, GATE_BAR_MM / 2 * mm * np.array([-ahead[1], ahead[0]])
    middle = np.array([point.x, point.y])
    ends = np.array([middle - along, middle + along])
    return [np.array([end - across, end + across]) for end in ends], ends


def gate_names(sketch: Sketch) -> list[tuple[str, Any]]:
    """Names of the gates in the frame that have one, with their places."""
    held = zip(sketch.column("gates", "name"), sketch.clipped("gates"), strict=True)
    return [(n, p) for n, g in held if n for p in pieces(g, "Point") if sketch.frame.holds(p.x, p.y)]
