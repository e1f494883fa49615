"""The finished ring walked round: its corners in order, how the rope turns at each and where outward is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boscage.model.rig import Contact, Point, Ring, Stem
from boscage.rigging.polygon import turns

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Corner:
    """One corner of the finished ring.

    Attributes:
        place: East and north.
        contact: The contact, or None for a built support on a span.
        number: 1, 2, ... of the contact; of a built support the number of the contact before it.
        turning_deg: By which the rope turns left; 0 where it runs straight.
        outward: Unit vector opposite to the pull of the rope: halfway between the normals of the runs on either side.
    """

    place: Point
    contact: Contact | None
    number: int
    turning_deg: float
    outward: Point


def rotated(ring: Ring, start: int) -> Ring:
    """The same ring counted from another contact: contacts and spans both begin there."""
    count = len(ring.contacts)
    order = [(start + k) % count for k in range(count)]
    spans = tuple(replace(ring.spans[i], first=k, second=(k + 1) % count) for k, i in enumerate(order))
    return replace(ring, contacts=tuple(ring.contacts[i] for i in order), spans=spans)


def walk(ring: Ring) -> tuple[Corner, ...]:
    """The corners of the finished ring, counter-clockwise from the first contact."""
    outline = np.asarray(ring.outline, dtype=np.float64)
    turning = np.degrees(turns(outline))
    out = outward(outline)
    corners: list[Corner] = []
    for number, (contact, span) in enumerate(zip(ring.contacts, ring.spans, strict=True), start=1):
        for held in (contact, *([None] * len(span.supports))):
            k = len(corners)
            made = Corner(
                place=(float(outline[k, 0]), float(outline[k, 1])), contact=held, number=number,
                turning_deg=max(0.0, float(turning[k])), outward=(float(out[k, 0]), float(out[k, 1])),
            )  # fmt: skip
            corners.append(made)
    return tuple(corners)


def outward(outline: Array) -> Array:
    """(K, 2) unit vectors halfway between the outer normals of the two runs that meet at each corner."""
    way = np.roll(outline, -1, axis=0) - outline
    normal = np.column_stack([way[:, 1], -way[:, 0]]) / np.hypot(*way.T)[:, None]
    middle = normal + np.roll(normal, 1, axis=0)
    return middle / np.hypot(*middle.T)[:, None]


def run_lengths(outline: Array) -> Array:
    """(K,) metres from each corner of the finished ring to the next."""
    return np.hypot(*(np.roll(outline, -1, axis=0) - outline).T)


def is_inside(outline: Array, point: Point) -> bool:
    """Whether a point is inside a convex outline that runs counter-clockwise, its edge not included."""
    way = np.roll(outline, -1, axis=0) - outline
    to = np.asarray(point) - outline
    return bool((way[:, 0] * to[:, 1] - way[:, 1] * to[:, 0] > 0.0).all())


def wall_distance_m(outline: Array, point: Point) -> float:
    """From a point to the nearest place on the outline, inside or outside."""
    way = np.roll(outline, -1, axis=0) - outline
    to = np.asarray(point) - outline
    along = np.clip((to * way).sum(axis=1) / (way**2).sum(axis=1), 0.0, 1.0)
    return float(np.hypot(*(to - along[:, None] * way).T).min())


@dataclass(frozen=True, kw_only=True)
class Around:
    """Stems by where they stand.

    Attributes:
        inside: Centre inside the finished ring; they stay.
        near_wall: As thick as a contact tree must be, bark within arm's reach of the wall, and no contact.
        nearby: Within a stated distance of the ring, those that the plan names included.
    """

    inside: tuple[Stem, ...]
    near_wall: tuple[Stem, ...]
    nearby: tuple[Stem, ...]


ARM_M = 0.6
"""Arm's reach from the wall; common practice, no source."""


def look_around(ring: Ring, stems: Sequence[Stem], reach_m: float, named: Sequence[str]) -> Around:
    """Sort the stems by where they stand.

    Args:
        ring: The finished ring is meant.
        stems: All stems.
        reach_m: How far from the wall a stem is still nearby.
        named: Ids that count as nearby wherever they stand.
    """
    outline = np.asarray(ring.outline, dtype=np.float64)
    held = {c.stem.stem for c in ring.contacts if c.stem is not None}
    inside, near_wall, nearby = [], [], []
    for stem in stems:
        place = (stem.x_m, stem.y_m)
        distance = wall_distance_m(outline, place)
        within = is_inside(outline, place)
        if within:
            inside.append(stem)
        if stem.stem not in held and stem.dbh_m >= ring.options.min_dbh_m and distance - stem.radius_m <= ARM_M:
            near_wall.append(stem)
        if within or distance <= reach_m or stem.stem in held or stem.stem in named:
            nearby.append(stem)
    return Around(inside=tuple(inside), near_wall=tuple(near_wall), nearby=tuple(nearby))


def middle(ring: Ring) -> Point:
    """Centroid of the area of the finished ring."""
    outline = np.asarray(ring.outline, dtype=np.float64)
    x, y = (outline - outline[0]).T
    cross = x * np.roll(y, -1) - np.roll(x, -1) * y
    share = cross / (3.0 * cross.sum())
    return (
        float(outline[0, 0] + ((x + np.roll(x, -1)) * share).sum()),
        float(outline[0, 1] + ((y + np.roll(y, -1)) * share).sum()),
    )


def distance_m(a: Point, b: Point) -> float:
    """Between two points."""
    return math.hypot(b[0] - a[0], b[1] - a[1])
