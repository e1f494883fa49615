"""What corners off the bark must keep to, as values that must be 0 or more, with their derivatives."""

import math

from numpy import float64
from numpy.typing import NDArray

from boscage.kernels.flags import jit

Array = NDArray[float64]

MARGIN = 1e-7  # metres by which lengths keep within their limits
LEAST_TURN = 1e-5  # square metres, least cross product of the two spans at a corner


@jit
def placing_rows(count: int) -> int:
    """Number of values for so many corners: spans, perimeter (2), turns, standoff (2 each), pull (2), bark (2)."""
    return 8 * count + 2


@jit
def log_roundness_of(corner: Array, slope: Array) -> float:
    """log(area / perimeter**2) of a ring; fills its derivative.

    corner: (K, 2). slope: (2K,) out, columns x0 y0 x1 y1 ... An area under 1e-6 m2 counts as that in the value, and the
    derivative leads out of it.
    """
    count = corner.shape[0]
    length, area2 = 0.0, 0.0
    for i in range(count):
        j = (i + 1) % count
        length += math.hypot(corner[j, 0] - corner[i, 0], corner[j, 1] - corner[i, 1])
        area2 += (corner[i, 0] - corner[0, 0]) * (corner[j, 1] - corner[0, 1])
        area2 -= (corner[i, 1] - corner[0, 1]) * (corner[j, 0] - corner[0, 0])
    area = max(0.5 * area2, 1e-6)
    for i in range(count):
        h, j = (i - 1) % count, (i + 1) % count
        ax, ay = corner[i, 0] - corner[h, 0], corner[i, 1] - corner[h, 1]
        bx, by = corner[j, 0] - corner[i, 0], corner[j, 1] - corner[i, 1]
        a, b = math.hypot(ax, ay), math.hypot(bx, by)
        slope[2 * i] = 0.5 * (ay + by) / area - 2.0 * (ax / a - bx / b) / length
        slope[2 * i + 1] = -0.5 * (ax + bx) / area - 2.0 * (ay / a - by / b) / length
    return math.log(area) - 2.0 * math.log(length)


@jit
def placing_values(corner: Array, trunk: Array, limits: Array, value: Array, slope: Array) -> None:
    """Fill all values and derivatives.

    corner: (K, 2). trunk: (K, 3) east, north, radius. limits: (3 + K,) reach, least and most perimeter, longest
    length of each span. value: (8K + 2,) out. slope: (8K + 2, 2K) out. Order: longest span less span (K), perimeter
    less least, most less perimeter, turns (K), farthest less standoff (K), standoff (K), then for the span into the
    corner and the span out of it the trunk's side of its line (2K) and the trunk's distance from it less the radius
    (2K).
    """
    count = corner.shape[0]
    slope[:, :] = 0.0
    value[count], value[count + 1] = -limits[1] - MARGIN, limits[2] - MARGIN
    for i in range(count):
        j = (i + 1) % count
        dx, dy = corner[j, 0] - corner[i, 0], corner[j, 1] - corner[i, 1]
        span = math.hypot(dx, dy)
        value[i] = limits[3 + i] - span - MARGIN
        value[count] += span
        value[count + 1] -= span
        for row, sign in ((i, -1.0), (count, 1.0), (count + 1, -1.0)):
            slope[row, 2 * j] += sign * dx / span
            slope[row, 2 * j + 1] += sign * dy / span
            slope[row, 2 * i] -= sign * dx / span
            slope[row, 2 * i + 1] -= sign * dy / span
    for i in range(count):
        _turn(corner, i, count + 2 + i, value, slope)
        _standoff(corner, trunk, limits[0], i, value, slope)
        for step in range(2):
            _hold(corner, trunk, i, step, value, slope)


@jit
def _turn(corner: Array, i: int, row: int, value: Array, slope: Array) -> None:
    """The left turn at a corner: cross product of the span in and the span out."""
    count = corner.shape[0]
    h, j = (i - 1) % count, (i + 1) % count
    ax, ay = corner[i, 0] - corner[h, 0], corner[i, 1] - corner[h, 1]
    bx, by = corner[j, 0] - corner[i, 0], corner[j, 1] - corner[i, 1]
    value[row] = ax * by - ay * bx - LEAST_TURN
    slope[row, 2 * h] -= by
    slope[row, 2 * h + 1] += bx
    slope[row, 2 * j] -= ay
    slope[row, 2 * j + 1] += ax
    slope[row, 2 * i] += by + ay
    slope[row, 2 * i + 1] -= bx + ax


@jit
def _standoff(corner: Array, trunk: Array, reach_m: float, i: int, value: Array, slope: Array) -> None:
    """Off the bark by no more than the reach and not inside it; squares, so that a trunk of radius 0 does no harm."""
    count, radius = corner.shape[0], trunk[i, 2]
    ox, oy = corner[i, 0] - trunk[i, 0], corner[i, 1] - trunk[i, 1]
    far, near = 2 * count + 2 + i, 3 * count + 2 + i
    value[far] = (radius + reach_m) ** 2 - ox * ox - oy * oy - MARGIN
    value[near] = ox * ox + oy * oy - radius * radius
    slope[far, 2 * i], slope[far, 2 * i + 1] = -2.0 * ox, -2.0 * oy
    slope[near, 2 * i], slope[near, 2 * i + 1] = 2.0 * ox, 2.0 * oy


@jit
def _hold(corner: Array, trunk: Array, i: int, step: int, value: Array, slope: Array) -> None:
    """The trunk against one span at its corner, the span in (step 0) or out (1).

    Its centre on the outer side of the span's line; and at least its radius from the span. The distance is to the
    span's line where the trunk is ahead along it, to the corner elsewhere; the two meet smoothly.
    """
    count = corner.shape[0]
    o = (i + 2 * step - 1) % count
    sign = 1.0 if step else -1.0
    dx, dy = corner[o, 0] - corner[i, 0], corner[o, 1] - corner[i, 1]
    sx, sy = trunk[i, 0] - corner[i, 0], trunk[i, 1] - corner[i, 1]
    cross, length, far = dx * sy - dy * sx, math.hypot(dx, dy), max(math.hypot(sx, sy), 1e-12)
    pull, bark = (4 + step) * count + 2 + i, (6 + step) * count + 2 + i
    value[pull] = -sign * cross
    slope[pull, 2 * o], slope[pull, 2 * o + 1] = -sign * sy, sign * sx
    slope[pull, 2 * i], slope[pull, 2 * i + 1] = sign * (sy - dy), sign * (dx - sx)
    if dx * sx + dy * sy > 0.0:
        side = -sign * cross / length
        wx, wy = -sign * sy / length - side * dx / length**2, sign * sx / length - side * dy / length**2
        value[bark] = side - trunk[i, 2]
        slope[bark, 2 * o], slope[bark, 2 * o + 1] = wx, wy
        slope[bark, 2 * i], slope[bark, 2 * i + 1] = -wx - sign * dy / length, -wy + sign * dx / length
    else:
        value[bark] = far - trunk[i, 2]
        slope[bark, 2 * i], slope[bark, 2 * i + 1] = -sx / far, -sy / far
