"""Where to stand with the compass, in which order to walk, and what to measure twice.

Bearings are magnetic: grid bearing + convergence - declination, degrees from 0 up to 360.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from boscage.model.rig import Contact, Point, Ring, Stem
from boscage.model.rig_plan import RigFrame
from boscage.rigging.course import distance_m, is_inside, middle
from boscage.rigging.polygon import Array

PIVOT_M = 1.5
"""How far from the ring's middle a stem may stand and still be the pivot; common practice, no source."""
_SAME_M = 1e-6


@dataclass(frozen=True, kw_only=True)
class Pivot:
    """Where bearings and distances are taken from; `stem` is its tree, None for a stake or a mark."""

    place: Point
    stem: str | None


@dataclass(frozen=True, kw_only=True)
class Check:
    """A second distance to a trunk: from the contact at a place in the list, metres."""

    first: int
    length_m: float


def magnetic_deg(start: Point, end: Point, frame: RigFrame) -> float:
    """Magnetic bearing from one place to another, degrees from 0 up to 360; 0 where they are one.

    >>> magnetic_deg((0.0, 0.0), (1.0, 0.0), RigFrame(declination_deg=-0.6, convergence_deg=0.4))
    91.0
    """
    if distance_m(start, end) < _SAME_M:
        return 0.0
    grid = math.degrees(math.atan2(end[0] - start[0], end[1] - start[1]))
    bearing = round(grid + frame.convergence_deg - frame.declination_deg, 9) % 360.0
    return 0.0 if bearing == 360.0 else bearing


def trunk_place(contact: Contact) -> Point:
    """Centre of the trunk; the corner itself for a post."""
    return (contact.x_m, contact.y_m) if contact.stem is None else (contact.stem.x_m, contact.stem.y_m)


def choose_pivot(ring: Ring, stems: Sequence[Stem], frame: RigFrame, outline: Array) -> Pivot:
    """The given pivot; else the stem nearest the middle if it is inside and near enough; else a contact's tree.

    That contact is the first of the ring that is a tree; a ring of posts takes its middle, to be marked.

    Args:
        ring: Its finished shape counts.
        stems: All stems of the list.
        frame: A pivot in it is taken as it is.
        outline: (K, 2) of the finished ring.
    """
    if frame.pivot is not None:
        at = [s.stem for s in stems if distance_m((s.x_m, s.y_m), frame.pivot) <= max(s.radius_m, _SAME_M)]
        return Pivot(place=frame.pivot, stem=at[0] if at else None)
    centre = middle(ring)
    inside = [s for s in stems if is_inside(outline, (s.x_m, s.y_m))]
    inside.sort(key=lambda s: (distance_m(centre, (s.x_m, s.y_m)), s.stem))
    if inside and distance_m(centre, (inside[0].x_m, inside[0].y_m)) <= PIVOT_M:
        return Pivot(place=(inside[0].x_m, inside[0].y_m), stem=inside[0].stem)
    for contact in ring.contacts:
        if contact.stem is not None:
            return Pivot(place=trunk_place(contact), stem=contact.stem.stem)
    return Pivot(place=centre, stem=None)


def first_contact(ring: Ring, pivot: Pivot, frame: RigFrame) -> int:
    """Place in the ring's list of the contact that becomes number 1.

    It is the contact that the pivot stands at; else the one with the smallest magnetic bearing from the pivot.
    From there the walk goes counter-clockwise.
    """

    def key(i: int) -> tuple[bool, float, float]:
        place = trunk_place(ring.contacts[i])
        away = distance_m(pivot.place, place)
        return away > _SAME_M, magnetic_deg(pivot.place, place, frame), away

    return min(range(len(ring.contacts)), key=key)


def check_distances(ring: Ring, pivot: Pivot) -> tuple[Check, ...]:
    """For each contact the check distance that tells most.

    It is taken from the contact seen nearest to a right angle to the pivot's ray; of angles alike to a degree the
    shorter distance is taken. A contact that the pivot stands at gives none, since the pivot's own distance is the
    same; such a contact itself is checked from its nearest fellow.
    """
    places = [trunk_place(c) for c in ring.contacts]
    checks = []
    for i, place in enumerate(places):
        others = [j for j in range(len(places)) if j != i and distance_m(places[j], pivot.place) > _SAME_M]
        away = [distance_m(other, place) for other in places]
        skew = [round(_skew_deg(pivot.place, place, other)) for other in places]
        best = min(others, key=lambda j: (skew[j], round(away[j], 3), j))
        checks.append(Check(first=best, length_m=away[best]))
    return tuple(checks)


def _skew_deg(pivot: Point, place: Point, other: Point) -> float:
    """How far the ray from another contact is from a right angle to the ray from the pivot, 0..90."""
    ax, ay = place[0] - pivot[0], place[1] - pivot[1]
    bx, by = place[0] - other[0], place[1] - other[1]
    along = abs(ax * bx + ay * by)
    across = abs(ax * by - ay * bx)
    return math.degrees(math.atan2(along, across)) if along or across else 0.0
