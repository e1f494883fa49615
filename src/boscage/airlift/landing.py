"""Landing places by published sizes, and the 8 to 1 approach surface as a screen; the pilot alone decides."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from boscage.airlift.drop_points import DropGround, disk_values, floor_of
from boscage.airlift.gaps import GapSearch, widest_gaps
from boscage.model.drop import (
    APPROACH_END_M,
    APPROACH_LENGTH_M,
    APPROACH_SLOPE,
    LANDING_HEIGHT_M,
    Approach,
    Gap,
    HelicopterType,
    LandingPlace,
)

Floats = NDArray[np.float64]
BEARINGS = tuple(float(b) for b in range(0, 360, 15))


def find_landings(
    place: tuple[float, float], ground: DropGround, helicopter: HelicopterType, *, reach_m: float, count: int = 3
) -> tuple[LandingPlace, ...]:
    """Circles of the published size in which nothing known stands over 18 in, nearest first, each with its approaches.

    Heights of the canopy raster alone are looked at: stumps, rocks, wires and dust are not in it.
    """
    search = GapSearch(
        open_height_m=LANDING_HEIGHT_M, far_m=reach_m, least_m=helicopter.circle_m, count=count
    )  # fmt: skip
    gaps = widest_gaps(ground.usable_m, ground.grid, place, search)
    wide = sorted((g for g in gaps if g.diameter_m >= helicopter.circle_m), key=lambda g: g.reach_m)
    return tuple(
        LandingPlace(
            helicopter=helicopter, gap=g, slope_percent=floor_of(ground, g)[0],
            approaches=screen_approaches(ground, g, helicopter),
        )
        for g in wide
    )  # fmt: skip


def half_width(away_m: Floats | float, circle_m: float) -> Floats | float:
    """Half the width of the approach surface at a distance from the circle's edge.

    >>> half_width(0.0, 33.528), half_width(1219.2, 33.528)
    (16.764, 76.2)
    """
    return (circle_m + (APPROACH_END_M - circle_m) * away_m / APPROACH_LENGTH_M) / 2.0


def screen_approaches(
    ground: DropGround, gap: Gap, helicopter: HelicopterType, bearings: tuple[float, ...] = BEARINGS
) -> tuple[Approach, ...]:
    """Ground and canopy against the surface that rises 8 to 1 from the circle's edge over 4,000 ft, on each bearing.

    The surface starts at the ground's mean elevation inside the circle, as wide as the circle, and is 500 ft wide at
    its end. Without terrain every surface is unknown.

    References: 14 CFR 77.23(b).
    """
    level = floor_of(ground, gap)[1]
    if ground.terrain_m is None or level is None:
        return tuple(Approach(bearing_deg=b, over_m=None, at_m=None, known_share=0.0) for b in bearings)
    at, edge = (gap.x_m, gap.y_m), helicopter.circle_m / 2.0
    far = edge + math.hypot(APPROACH_LENGTH_M, APPROACH_END_M)
    east, north, top = disk_values(ground.terrain_m + ground.canopy_m, ground.grid, at, far)
    return tuple(_screen(b, east, north, top - level, helicopter.circle_m) for b in bearings)


def _screen(bearing_deg: float, east: Floats, north: Floats, top: Floats, circle_m: float) -> Approach:
    """One surface: cells whose middle lies under it, by their distance from the circle's edge."""
    sine, cosine = math.sin(math.radians(bearing_deg)), math.cos(math.radians(bearing_deg))
    along = east * sine + north * cosine - circle_m / 2.0
    aside = np.abs(east * cosine - north * sine)
    inside = (along >= 0.0) & (along <= APPROACH_LENGTH_M) & (aside <= half_width(along, circle_m))
    over = top[inside] - along[inside] / APPROACH_SLOPE
    known = np.isfinite(over)
    if not known.any():
        return Approach(bearing_deg=bearing_deg, over_m=None, at_m=None, known_share=0.0)
    worst = int(np.nanargmax(over))
    return Approach(
        bearing_deg=bearing_deg, over_m=float(over[worst]), at_m=float(along[inside][worst]),
        known_share=float(known.mean()),
    )  # fmt: skip
