"""What a way in crosses and passes, in words."""

from __future__ import annotations

from typing import Any

import shapely

from boscage.model.journey import ATV, FOOT, GATE_M, LEG_WORDS, VEHICLE, Leg
from boscage.model.scene import Scene
from boscage.ways.network import gate_name


def list_crossings(scene: Scene, legs: tuple[Leg, ...], gates: tuple[int, ...]) -> tuple[str, ...]:
    """Gates passed, and mapped water and fences crossed, each with how.

    Args:
        gates: Rows of the gates that the drive passes, in order.
    """
    out = []
    layer = scene.vectors.get("gates")
    if layer is not None:
        for row in gates:
            state = layer.frame["state"].iloc[row] if "state" in layer.frame else None
            locked = " (locked: get the key or the code)" if state == "locked" else ""
            out.append(f"gate '{gate_name(layer.frame, row)}'{locked}")
    for kind in (VEHICLE, ATV, FOOT):
        lines = [shapely.LineString(leg.line) for leg in legs if leg.kind == kind and len(leg.line) > 1]
        if not lines:
            continue
        for name, words in (("water", "mapped water"), ("fences", "a fence" if kind == FOOT else "a fence line")):
            count = _crossings(scene, name, lines)
            if count and not (name == "fences" and kind == VEHICLE):
                out.append(f"{words} {_times(count)} {LEG_WORDS[kind]}{_advice(name, kind)}")
    return tuple(out)


def _crossings(scene: Scene, name: str, lines: list[Any]) -> int:
    """How often lines cross the features of a layer; a crossed area counts once."""
    layer = scene.vectors.get(name)
    if layer is None or layer.frame.empty:
        return 0
    way = shapely.union_all(lines)
    shapes = shapely.get_parts(shapely.force_2d(layer.frame.geometry.to_numpy()))
    shapes = shapes[shapely.intersects(shapes, way)]
    flat = shapes[shapely.get_dimensions(shapes) == 1]
    area = shapes[shapely.get_dimensions(shapes) == 2]
    met = shapely.intersection(shapely.union_all(flat), way) if len(flat) else shapely.GeometryCollection()
    if name == "fences" and "gates" in scene.vectors:
        met = shapely.difference(met, shapely.buffer(shapely.union_all(scene.vectors["gates"].frame.geometry), GATE_M))
    return len(shapely.get_parts(met)) + len(area)


def _times(count: int) -> str:
    return {1: "once", 2: "twice"}.get(count, f"{count} times")


def _advice(name: str, kind: str) -> str:
    if name == "water":
        return "" if kind == FOOT else ": look at the crossing first"
    return ": look for its gate" if kind == ATV else ""
