"""The stretch of ground that the drop map shows."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boscage.model.results import Backdrop, Place
from boscage.sheets.dropjob import DropGroup
from boscage.sheets.frame import MapFrame, fitting_scale
from boscage.sheets.page import Box
from boscage.values import Bounds

_ROUND_M, _EDGE_MM = 400.0, 5.0
_MOST_SPREAD_M = 14_000.0
"""With the base farther off than this the drops would be too small on the paper."""
_FINE_SCALE, _FINE_STEP = 100_000.0, 2_500.0


def drop_frame(group: DropGroup, box: Box) -> MapFrame:
    """The frame that holds the front's drops with ground round them, and base and road end where they are near."""
    own = [(d.drop.place.x_m, d.drop.place.y_m) for d in group.drops]
    kept = _bounds(own).padded(_ROUND_M)
    for place in _others(group):
        wider = _bounds([(kept.west, kept.south), (kept.east, kept.north), (place.x_m, place.y_m)])
        if max(wider.width, wider.height) <= max(_MOST_SPREAD_M, kept.width, kept.height):
            kept = wider
    room = (box.width - 2 * _EDGE_MM, box.height - 2 * _EDGE_MM)
    scale = _scale(kept, *room)
    middle = _middle(group.overview, kept, scale, box)
    return MapFrame.centred(*middle, scale=scale, width_mm=box.width, height_mm=box.height)


def _scale(bounds: Bounds, width_mm: float, height_mm: float) -> float:
    """The largest scale of a full step at which bounds fit; the steps are fine, for there are two bars."""
    least = max(bounds.width / width_mm, bounds.height / height_mm) * 1000.0
    if least <= _FINE_SCALE:
        return math.ceil(least / _FINE_STEP - 1e-9) * _FINE_STEP
    return fitting_scale(bounds, width_mm, height_mm)


def _others(group: DropGroup) -> list[Place]:
    """Places that the map shows where they are near enough."""
    result = group.result
    given = [result.base.place if result.base else None, result.evacuation, result.road_end]
    return [p for p in given if p is not None]


def _bounds(places: Sequence[tuple[float, float]]) -> Bounds:
    xs, ys = zip(*places, strict=True)
    return Bounds(min(xs), min(ys), max(xs), max(ys))


def _middle(overview: Backdrop, kept: Bounds, scale: float, box: Box) -> tuple[float, float]:
    """The middle of the frame, moved so that it stays on the data where they are wide enough."""
    whole = overview.grid.bounds
    half_x, half_y = box.width * scale / 2000.0, box.height * scale / 2000.0
    x, y = (kept.west + kept.east) / 2, (kept.south + kept.north) / 2
    pad_x, pad_y = half_x - kept.width / 2, half_y - kept.height / 2
    low_x, high_x = whole.west + half_x, whole.east - half_x
    low_y, high_y = whole.south + half_y, whole.north - half_y
    if low_x <= high_x:
        x = min(max(x, min(low_x, x + pad_x)), max(high_x, x - pad_x))
    if low_y <= high_y:
        y = min(max(y, min(low_y, y + pad_y)), max(high_y, y - pad_y))
    return x, y
