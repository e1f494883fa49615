"""Where a guy or a high rope can be made fast outside the ring.

A line must lead outward: within 45 degrees of the direction opposite to the rope's pull, seen from above; no
steeper than 60 degrees, where a guy carries twice the level pull; no longer than the reach; and past no other
trunk. Of the trees that do, the one in the best 15-degree step of straightness is taken, and of those the nearest.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from boscage.model.rig import Point, Stem
from boscage.model.rig_plan import RigFrame, RiggingOptions, Tie
from boscage.rigging.bearings import magnetic_deg
from boscage.rigging.course import Array, is_inside
from boscage.rigging.statics import guy_tension_n, guy_uplift_n

SECTOR_DEG = 45.0
STEEPEST_DEG = 60.0
STEP_DEG = 15.0
ABOVE_M = 1.0
"""A high rope is made fast at least so far above the top rope; this and the angles are common practice, no source."""


@dataclass(frozen=True, kw_only=True)
class Woods:
    """What stands round the ring and what lines may use.

    Attributes:
        outline: (K, 2) finished ring.
        high: Trees that take a high rope: live, upright, as thick as a contact tree, outside the ring, no contact.
        foot: Trees that take a guy at the foot: the same from half that thickness.
        trunks: (M, 3) east, north, radius of every stem, which a line must not run into.
        ids: Ids of the trunks.
        height_m: Top rope above ground.
        options: Reaches and angles.
        frame: For bearings.
    """

    outline: Array
    high: tuple[Stem, ...]
    foot: tuple[Stem, ...]
    trunks: Array
    ids: tuple[str, ...]
    height_m: float
    options: RiggingOptions
    frame: RigFrame

    @property
    def rope_up_m(self) -> float:
        """Height at which a high rope is made fast."""
        return max(self.options.rope_up.m, self.height_m + ABOVE_M)


@dataclass(frozen=True, kw_only=True)
class Need:
    """A place on the ring that has to be held back.

    Attributes:
        place: Where the line starts, seen from above.
        outward: Unit vector, the way it should lead.
        turning_deg: Of the rope there; the line must not lead back over the ring.
        pull_n: Level pull that it takes.
        beside: Ids of stems that the line may touch: the sapling that it starts from.
    """

    place: Point
    outward: Point
    turning_deg: float
    pull_n: float
    beside: tuple[str, ...] = ()

    @property
    def sector_deg(self) -> float:
        """How far off the outward line a line may lead."""
        return min(SECTOR_DEG, 90.0 - 0.5 * self.turning_deg)


def look_for_trees(
    stems: Sequence[Stem], outline: Array, held: set[str], min_dbh_m: float
) -> tuple[tuple[Stem, ...], tuple[Stem, ...]]:
    """Trees that take a high rope, and trees that take a guy at the foot (the former among them)."""
    out = [s for s in stems if s.kind == "tree" and s.stem not in held and not is_inside(outline, (s.x_m, s.y_m))]
    high = tuple(s for s in out if s.dbh_m >= min_dbh_m)
    return high, tuple(s for s in out if s.dbh_m >= 0.5 * min_dbh_m)


def to_tree(need: Need, woods: Woods, *, high: bool) -> Tie | None:
    """The best tree for a high rope, or for a guy at its foot; None where there is none."""
    rise = woods.rope_up_m - woods.height_m if high else woods.height_m
    best: tuple[tuple[int, float, str], Tie] | None = None
    for stem in woods.high if high else woods.foot:
        way = (stem.x_m - need.place[0], stem.y_m - need.place[1])
        centre = math.hypot(*way)
        level = centre - stem.radius_m
        if stem.stem in need.beside or level <= 0.0 or math.degrees(math.atan2(rise, level)) > STEEPEST_DEG:
            continue
        off = _off_deg(way, need.outward)
        if off > need.sector_deg or math.hypot(level, rise) > woods.options.guy_reach.m:
            continue
        end = (need.place[0] + way[0] * level / centre, need.place[1] + way[1] * level / centre)
        if _blocked(need, end, woods, (*need.beside, stem.stem)):
            continue
        tie = _tie(need, end, woods, stem=stem.stem, made_fast_m=woods.rope_up_m if high else 0.0)
        rank = (math.ceil(off / STEP_DEG), tie.length_m, stem.stem)
        if best is None or rank < best[0]:
            best = (rank, tie)
    return None if best is None else best[1]


def to_stake(need: Need, woods: Woods) -> tuple[Tie, bool]:
    """A guy to a stake at the stated angle, and whether its way is free.

    It leads straight outward, or as little off, in steps of 5 degrees, as the trunks allow.
    """
    level = woods.height_m / math.tan(math.radians(woods.options.guy_deg))
    most = int(need.sector_deg)
    for turn in (0, *(sign * step for step in range(5, most + 1, 5) for sign in (1, -1))):
        end = _end(need, level, turn)
        if not _blocked(need, end, woods, need.beside):
            return _tie(need, end, woods, stem=None, made_fast_m=0.0), True
    return _tie(need, _end(need, level, 0), woods, stem=None, made_fast_m=0.0), False


def _end(need: Need, level_m: float, turn_deg: float) -> Point:
    c, s = math.cos(math.radians(turn_deg)), math.sin(math.radians(turn_deg))
    x, y = need.outward
    return need.place[0] + level_m * (c * x - s * y), need.place[1] + level_m * (s * x + c * y)


def _off_deg(way: Point, outward: Point) -> float:
    across = outward[0] * way[1] - outward[1] * way[0]
    return abs(math.degrees(math.atan2(across, outward[0] * way[0] + outward[1] * way[1])))


def _blocked(need: Need, end: Point, woods: Woods, beside: Sequence[str]) -> bool:
    """Whether a trunk that is not one of those named stands in the line's way."""
    if not len(woods.trunks):
        return False
    start, way = np.asarray(need.place), np.asarray(end) - np.asarray(need.place)
    to = woods.trunks[:, :2] - start
    along = np.clip(to @ way / max(float(way @ way), 1e-300), 0.0, 1.0)
    hit = np.hypot(*(to - along[:, None] * way).T) < woods.trunks[:, 2]
    return any(woods.ids[k] not in beside for k in np.flatnonzero(hit))


def _tie(need: Need, end: Point, woods: Woods, *, stem: str | None, made_fast_m: float) -> Tie:
    way = (end[0] - need.place[0], end[1] - need.place[1])
    level, rise = math.hypot(*way), abs(made_fast_m - woods.height_m)
    angle, off = math.degrees(math.atan2(rise, level)), _off_deg(way, need.outward)
    along = need.pull_n / math.cos(math.radians(off))
    return Tie(
        stem=stem, x_m=end[0], y_m=end[1], length_m=math.hypot(level, rise), angle_deg=angle,
        bearing_deg=magnetic_deg(need.place, end, woods.frame), off_line_deg=off, made_fast_m=made_fast_m,
        tension_n=guy_tension_n(along, angle), uplift_n=guy_uplift_n(along, angle),
    )  # fmt: skip
