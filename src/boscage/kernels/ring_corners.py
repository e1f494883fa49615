"""Corners of a ring on trunks of any thickness, and what a ring of given corners is worth.

A trunk is a disc. The corner on it is the bark point whose inward normal halves the ring's angle there. Then
the disc lies in the half-plane behind the corner and the ring in the half-plane before it, so trunk and ring
meet at the corner alone. That condition at every corner is the first-order condition of a convex problem: the
shortest closed line that visits the discs in order. Hence there is at most one set of such corners in strictly
convex position, and it is the shortest closed line (if there were two, every span of one would be parallel to
its twin in the other, and their mean, as short, would have a corner strictly inside a disc, where the shortest
line cannot turn).
"""

import math

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit

TURN = 1e-9  # least sine of the turn at a corner that counts as strictly convex
EDGE = 1e-9  # relative guard on lengths that meet a limit exactly
BUILT_COST = 0.03  # share of roundness that one built support costs
_ROUNDS = 100_000
_PATIENCE = 60.0
_ONE_CORNER_M = 1e-3
_ROUND_OFF = 1e-12


@jit
def supports_needed(span_m: float, spacing_m: float) -> int:
    """Built supports that a span needs: ceil(span / spacing) - 1 with a relative guard of 1e-9, at least 0."""
    return max(0, math.ceil(span_m / spacing_m * (1.0 - EDGE)) - 1)


@jit
def narrow(
    here: NDArray[np.float64], back: NDArray[np.float64], ahead: NDArray[np.float64], point: NDArray[np.float64]
) -> bool:
    """Where the corner on a trunk must lie, given disks that hold its two neighbours; False if it cannot turn left.

    here: (3,) east, north, radius of the trunk. back, ahead: (3,) disks that hold the corner before and after. point:
    (3,) out, a disk that holds the corner. The direction of each neighbour, seen from the corner, is known to
    asin((its radius + the trunk's) / distance), the half-angle direction to the mean of the two, and the corner to the
    trunk's radius times that.
    """
    radius = here[2]
    ax, ay, bx, by = back[0] - here[0], back[1] - here[1], ahead[0] - here[0], ahead[1] - here[1]
    a, b = math.hypot(ax, ay), math.hypot(bx, by)
    cross = bx * ay - by * ax
    point[0], point[1], point[2] = here[0], here[1], radius
    if radius == 0.0 and back[2] == 0.0 and ahead[2] == 0.0:
        return cross > TURN * a * b
    share_a, share_b = (back[2] + radius) / max(a, 1e-300), (ahead[2] + radius) / max(b, 1e-300)
    if share_a >= 1.0 or share_b >= 1.0:
        return True
    error = math.asin(share_a) + math.asin(share_b) + _ROUND_OFF
    angle = math.atan2(cross, ax * bx + ay * by)
    angle = angle + 2.0 * math.pi if angle < 0.0 else angle
    if angle > math.pi + error:
        return angle > 2.0 * math.pi - error
    if angle > error and radius > 0.0 and error < 2.0:
        wx, wy = ax / a - bx / b, ay / a - by / b
        w = math.hypot(wx, wy)
        point[0], point[1], point[2] = here[0] + radius * wy / w, here[1] - radius * wx / w, 0.5 * radius * error
    return True


@jit
def bark_corners(trunk: NDArray[np.float64], corner: NDArray[np.float64]) -> bool:
    """Fill the corners of the ring that visits the trunks in order; False where there are none.

    trunk: (K, 3) east, north, radius, K >= 3, counter-clockwise. corner: (K, 2), in: a guess, such as the centres; out:
    the corners, each within 1e-10 m of what its neighbours ask for. False when two corners come within a
    millimetre, which on trunks that have a thickness are taken for one, or when the iteration does not settle within
    60 * (1 + radius / shortest span) rounds. A ring in convex position settles like a geometric series that loses
    about a share of span / (span + radius) a round; a line that some trunk lies across need not settle at all.
    """
    thickest = trunk[:, 2].max()
    if thickest == 0.0:
        corner[:, :] = trunk[:, :2]
        return True
    local = trunk.copy()  # counted from the first trunk: far from the origin the last digits are too coarse to settle
    local[:, 0] -= trunk[0, 0]
    local[:, 1] -= trunk[0, 1]
    corner[:, 0] -= trunk[0, 0]
    corner[:, 1] -= trunk[0, 1]
    settled = _settle(local, corner, thickest)
    corner[:, 0] += trunk[0, 0]
    corner[:, 1] += trunk[0, 1]
    return settled


@jit
def _settle(trunk: NDArray[np.float64], corner: NDArray[np.float64], thickest: float) -> bool:
    """Sweep until no corner moves any more; whether it came to that."""
    moved = math.inf
    for turn in range(_ROUNDS):
        moved = _sweep(trunk, corner, turn > 0)
        if not moved > 1e-14 * (1.0 + thickest):
            break
        if turn % 16 == 15:
            shortest = _shortest_span(corner)
            if shortest < _ONE_CORNER_M or turn * shortest > _PATIENCE * (shortest + thickest):
                return moved < 1e-12
    return moved < 1e-10


@jit
def _shortest_span(corner: NDArray[np.float64]) -> float:
    """The shortest span of a ring, metres."""
    shortest = math.inf
    for i in range(corner.shape[0]):
        j = (i + 1) % corner.shape[0]
        shortest = min(shortest, math.hypot(corner[j, 0] - corner[i, 0], corner[j, 1] - corner[i, 1]))
    return shortest


@jit
def _sweep(trunk: NDArray[np.float64], corner: NDArray[np.float64], on_bark: bool) -> float:
    """Move every corner in turn to where its neighbours ask it to be; the longest move in metres, NaN if undefined.

    A move of the corner round its trunk turns the direction asked for back by `against` times as much, so that
    1 / (1 + against) of the way is Newton's step. The first time round the corners are not yet on the bark.
    """
    count = trunk.shape[0]
    longest = 0.0
    for i in range(count):
        radius = trunk[i, 2]
        if radius == 0.0:
            corner[i, 0], corner[i, 1] = trunk[i, 0], trunk[i, 1]
            continue
        before, after = (i - 1) % count, (i + 1) % count
        ax, ay = corner[before, 0] - corner[i, 0], corner[before, 1] - corner[i, 1]
        bx, by = corner[after, 0] - corner[i, 0], corner[after, 1] - corner[i, 1]
        a, b = math.hypot(ax, ay), math.hypot(bx, by)
        wx, wy = ax / a - bx / b, ay / a - by / b
        w = math.hypot(wx, wy)
        nx, ny = wy / w, -wx / w
        if on_bark:
            mx, my = (corner[i, 0] - trunk[i, 0]) / radius, (corner[i, 1] - trunk[i, 1]) / radius
            against = 0.5 * radius * ((mx * ax + my * ay) / (a * a) + (mx * bx + my * by) / (b * b))
            share = 1.0 / (1.0 + max(0.0, against))
            nx, ny = share * nx + (1.0 - share) * mx, share * ny + (1.0 - share) * my
            n = math.hypot(nx, ny)
            nx, ny = nx / n, ny / n
        x, y = trunk[i, 0] + radius * nx, trunk[i, 1] + radius * ny
        if not (math.isfinite(x) and math.isfinite(y)):
            return math.nan
        longest = max(longest, math.hypot(x - corner[i, 0], y - corner[i, 1]))
        corner[i, 0], corner[i, 1] = x, y
    return longest


@jit
def ring_worth(
    corner: NDArray[np.float64], spacing_m: float, least_m: float, most_m: float, out: NDArray[np.float64]
) -> bool:
    """Score, perimeter (m), area (m2) and built supports of a ring; False where it is none.

    It is none where it is not strictly convex or its perimeter is outside the limits. corner: (K, 2), counter-
    clockwise, K >= 3. out: float64 (4,), filled in either case.
    """
    count = corner.shape[0]
    perimeter, area2, turned, built = 0.0, 0.0, 0.0, 0
    convex = True
    for i in range(count):
        j, k = (i + 1) % count, (i + 2) % count
        ax, ay = corner[j, 0] - corner[i, 0], corner[j, 1] - corner[i, 1]
        bx, by = corner[k, 0] - corner[j, 0], corner[k, 1] - corner[j, 1]
        span = math.hypot(ax, ay)
        cross = ax * by - ay * bx
        if not cross > TURN * span * math.hypot(bx, by):
            convex = False
        turned += math.atan2(cross, ax * bx + ay * by)
        perimeter += span
        built += supports_needed(span, spacing_m)
        area2 += (corner[i, 0] - corner[0, 0]) * (corner[j, 1] - corner[0, 1])
        area2 -= (corner[i, 1] - corner[0, 1]) * (corner[j, 0] - corner[0, 0])
    roundness = 2.0 * math.pi * area2 / (perimeter * perimeter) if perimeter > 0.0 else 0.0
    out[0] = 100.0 * (roundness - BUILT_COST * built)
    out[1], out[2], out[3] = perimeter, 0.5 * area2, float(built)
    fits = least_m * (1.0 - EDGE) <= perimeter <= most_m * (1.0 + EDGE)
    return convex and turned < 3.0 * math.pi and fits
