"""Lines of sight from observers to every cell round them: ground that blocks, vegetation that is looked through."""

import math
from typing import NamedTuple

import numpy as np
from numba import prange
from numpy.typing import NDArray

from boscage.kernels.flags import jit, parallel_jit
from boscage.kernels.sight_depth import DepthRays, class_of, lay_depth, open_depth, step_depth

Floats32 = NDArray[np.float32]

QUANTUM = 2.0**-32  # sightings are summed in whole numbers of this much, so that no order of adding changes a sum
NOTHING = np.float32(-1.0e30)  # a height that neither blocks nor hides


# exp(-x) = 2**-n * 2**f, f from -0.5 to 0.5, by six terms of the series of 2**f: within 2e-7 of itself, and quicker
# here than the library's exp.
_LOG2_E = 1.4426950408889634
_HALVES = 0.5 ** np.arange(64.0)
_C1 = 0.6931471805599453
_C2 = 0.2402265069591007
_C3 = 0.055504108664821576
_C4 = 0.009618129107628477
_C5 = 0.0013333558146428441
_C6 = 0.00015403530393381606


class Sides(NamedTuple):
    """A stretch of ground, padded so that no ray leaves it, and the same turned over.

    ground, canopy: float32 (R, C), heights in cells: the ground, and the canopy's top above the same datum; `NOTHING`
    where nothing blocks or hides. hides: float32 (R, C), optical depth of one cell's side of vegetation, 0 where
    nothing hides.
    ground_t, canopy_t, hides_t: transposed, C-contiguous.
    """

    ground: Floats32
    canopy: Floats32
    hides: Floats32
    ground_t: Floats32
    canopy_t: Floats32
    hides_t: Floats32


class Look(NamedTuple):
    """How far and at what.

    radius: in cells. heights: float32 (K,), targets above the ground, in cells. drop: curvature less refraction in
    cells at a distance of one cell; it grows with the square. plants: whether vegetation is looked through at all.
    """

    radius: int
    heights: Floats32
    drop: float
    plants: bool


class Rays(NamedTuple):
    """Scratch of one direction: n = 2 * radius + 1 rays from slope -1 to 1 across it, a cell apart at the radius.

    drop: (n,). horizon: (n + 1,), greatest slope of the ground so far. level: a line of cells less the eye. seen,
    slope: (n,), of a line's cells. index, part, value: (n,), where a line's cells or rays fall between the others.
    """

    drop: Floats32
    horizon: Floats32
    level: Floats32
    seen: NDArray[np.uint8]
    slope: Floats32
    index: NDArray[np.uint32]
    part: Floats32
    value: Floats32


@jit
def _lay_rays(look: Look, columns: int) -> Rays:
    n = 2 * look.radius + 1
    drop = np.empty(n, np.float32)
    for i in range(n):
        t = (i - look.radius) / look.radius
        drop[i] = look.drop * (1.0 + t * t)
    return Rays(
        drop, np.empty(n + 1, np.float32), np.empty(columns, np.float32), np.empty(n, np.uint8),
        np.empty(n, np.float32), np.empty(n, np.uint32), np.empty(n, np.float32), np.empty(n, np.float32),
    )  # fmt: skip


# The loops below are kept apart so that the compiler can run each over several cells at once: one that computes places,
# one that fetches values from them, one that compares.


@jit
def _place_evenly(first: float, each: float, out_index: NDArray[np.uint32], out_part: Floats32) -> None:
    """Whole and broken part of first + each * j."""
    start, step = np.float32(first), np.float32(each)
    for j in range(out_index.shape[0]):
        place = np.float32(j) * step + start
        whole = np.uint32(place)
        out_index[j] = whole
        out_part[j] = place - np.float32(whole)


@jit
def _fetch_between(values: Floats32, index: NDArray[np.uint32], part: Floats32, out: Floats32) -> None:
    """Values at broken places, linear between two whole ones."""
    for j in range(out.shape[0]):
        i = index[j]
        near = values[i]
        out[j] = near + (values[i + np.uint32(1)] - near) * part[j]


@jit
def _raise_horizon(met: Floats32, drop: Floats32, inverse: float, distance: float, out: Floats32) -> None:
    """Lift each ray's horizon to the slope of the ground that it meets, at a distance in lines of cells."""
    each, far = np.float32(inverse), np.float32(distance)
    for i in range(out.shape[0]):
        slope = met[i] * each - drop[i] * far
        out[i] = slope if slope > out[i] else out[i]


@jit
def _compare(
    level: Floats32, horizon: Floats32, at: tuple[float, float, float], out_seen: NDArray[np.uint8], out_slope: Floats32
) -> None:
    """Which cells of one line rise to their horizon, and the slopes to them.

    level: ground less the eye. at: the target's height, 1 / distance, and the drop straight ahead.
    """
    height, inverse, drop = np.float32(at[0]), np.float32(at[1]), np.float32(at[2])
    one = np.float32(1.0)
    middle = np.float32(out_seen.shape[0] // 2)
    for j in range(out_seen.shape[0]):
        aside = (np.float32(j) - middle) * inverse
        slope = (level[j] + height) * inverse - drop * (one + aside * aside)
        out_slope[j] = slope
        out_seen[j] = 1 if slope >= horizon[j] else 0


@jit
def _amount(full: float, depth: float) -> int:
    """full * exp(-depth), rounded to a whole number."""
    power = depth * _LOG2_E
    if power >= 62.0:
        return 0
    whole = int(power + 0.5)
    f = whole - power
    two = 1.0 + f * (_C1 + f * (_C2 + f * (_C3 + f * (_C4 + f * (_C5 + f * _C6)))))
    return np.int64(full * two * _HALVES[whole] + 0.5)


@jit
def _weigh_seen(
    depth: DepthRays,
    line: tuple[Floats32, Floats32, Floats32],
    marks: tuple[NDArray[np.uint8], Floats32],
    horizon: Floats32,
    at: tuple[int, int, float, float, float],
    out: NDArray[np.int64],
) -> None:
    """Add weight times the share of sight left through the vegetation to each cell of line k that is seen.

    line: canopy, hides and level of these cells. marks: seen, and slopes. at: k, half the number of cells, the
    observer's eye and the target's height, and the weight in units of `QUANTUM`. The depth is linear between the two
    nearest rays. All in one loop without calls that take arrays: those cost more than the work itself.
    """
    canopy, hides, level = line
    seen, slope = marks
    k, span, eye, height, full = at
    _, _, length, _, start, total, lowest, classes = depth
    last = total.shape[0] - 1
    for j in range(out.shape[0]):
        if seen[j] == 0:
            continue
        where = ((j - span) / k + 1.0) * 0.5 * last
        ray = min(int(where), last - 1)
        share = 1.0 - (where - ray)
        place = class_of(slope[j])
        own = np.int32(place)
        under_top = np.float64(canopy[j]) > np.float64(level[j]) + eye + height
        through = 0.0
        for _ in range(2):
            floor = min(horizon[max(0, 2 * ray - 2)], horizon[2 * ray], horizon[min(2 * last, 2 * ray + 2)])
            first, dead = lowest[ray], np.int32(class_of(floor))
            if first < dead:
                while first < dead:
                    total[ray] -= classes[ray, first]
                    first += 1
                lowest[ray] = first
            under = np.float32(0.0)
            while first < own:
                under += classes[ray, first]
                first += 1
            if own == first:
                under += classes[ray, own] * (place - np.float32(own))
            part = np.float64(start[ray]) + max(0.0, np.float64(total[ray]) - np.float64(under))
            part += 0.5 * np.float64(hides[j]) * np.float64(length[ray]) if under_top else 0.0
            through += part * share
            share = 1.0 - share
            ray += 1
        out[j] += _amount(full, through)


@jit
def _add_seen(seen: NDArray[np.uint8], amount: int, out: NDArray[np.int64]) -> None:
    for j in range(out.shape[0]):
        out[j] += amount * seen[j]


@jit
def _take_level(ground: Floats32, eye: float, out: Floats32) -> None:
    for j in range(out.shape[0]):
        out[j] = ground[j] - np.float32(eye)


@jit
def _sweep(
    arrays: tuple[Floats32, Floats32, Floats32], place: tuple[int, int, int], eye: float, full: float, look: Look,
    scratch: tuple[Rays, DepthRays], turned: bool, out: NDArray[np.int64],
) -> None:  # fmt: skip
    """Look in one of the four directions, line of cells after line of cells.

    arrays: ground, canopy, hides. place: row and column of the observer in them, and -1 or 1, the way that rows are
    walked. eye: height above the datum. full: its weight in units of `QUANTUM`. turned: whether the arrays are the
    transposed ones, which leave the diagonals to the others. out: int64 (K, rows, cols), transposed like the arrays.
    """
    ground, canopy, hides = arrays
    row0, column, way = place
    rays, depth = scratch
    drop, horizon, level, seen, slope, index, part, value = rays
    radius, heights = look.radius, look.heights
    horizon[:] = NOTHING
    if depth.any:
        open_depth(depth, np.float64(canopy[row0, column]), np.float64(hides[row0, column]), eye)
    for k in range(1, radius + 1):
        wide = min(k, int(math.sqrt(np.float64(radius * radius - k * k))))
        span = wide - 1 if turned and wide == k else wide
        row, inverse = row0 + way * k, 1.0 / k
        reach = min(1.0, (wide + 1.0) / k)
        _take_level(
            ground[row, column - wide - 1 : column + wide + 2], eye, level[column - wide - 1 : column + wide + 2]
        )
        a, b, m = column - span, column + span + 1, 2 * span + 1
        if span >= 0:
            _place_evenly(radius - span * inverse * radius, inverse * radius, index[:m], part[:m])
            _fetch_between(horizon, index[:m], part[:m], value[:m])
        for h in range(heights.shape[0] if span >= 0 else 0):
            _compare(level[a:b], value[:m], (np.float64(heights[h]), inverse, look.drop * k), seen[:m], slope[:m])
            if depth.any:
                here = (k, span, eye, np.float64(heights[h]), full)
                line = (canopy[row, a:b], hides[row, a:b], level[a:b])
                _weigh_seen(depth, line, (seen[:m], slope[:m]), horizon, here, out[h, row, a:b])
            else:
                _add_seen(seen[:m], np.int64(full + 0.5), out[h, row, a:b])
        low = max(0, int((1.0 - reach) * radius))
        high = 2 * radius + 1 - low
        n = high - low
        _place_evenly(wide + 2 - (radius - low) * k / radius, k / radius, index[:n], part[:n])
        _fetch_between(level[column - wide - 2 :], index[:n], part[:n], value[:n])
        _raise_horizon(value[:n], drop[low:high], inverse, np.float64(k), horizon[low:high])
        horizon[2 * radius + 1] = horizon[2 * radius]  # for the cell on the last ray itself
        if depth.any:
            step_depth(depth, canopy[row], hides[row], (k, column, reach, eye))


@parallel_jit
def add_sightings(
    sides: Sides, places: NDArray[np.int64], eyes: NDArray[np.float64], weights: NDArray[np.float64], look: Look,
    out: NDArray[np.int64],
    out_t: NDArray[np.int64],
) -> None:  # fmt: skip
    """Add weight * share of sight left from every observer to every cell within the radius.

    sides: padded by at least radius + 2 cells on every side. places: int64 (N, 2), row and column in them; observers
    stand on the ground in the middle of a cell. eyes: (N,), above the ground, in cells. weights: (N,), 0 or more.
    out, out_t: int64 (P, K, R, C) and (P, K, C, R), in units of `QUANTUM`; what is added to the second is transposed.
    P parts are worked on at the same time, each on its own observers; their sum does not depend on P. An observer whose
    cell has no ground adds nothing. With N = 0 nothing is written.

    The observer's own cell is seen whole. The ground blocks a line where it rises above it at one of the lines of cells
    that run across the main direction of the line, linear between two cell centres there; the horizon of a cell is that
    of the two nearest of 2 * radius + 1 rays in each of four directions, so that a ray passes within half a cell of
    every cell's centre at the radius and nearer before. Vegetation counts along half as many rays, by the length that
    each runs in a cell, and linear between two rays.
    """
    parts = out.shape[0]
    rows, cols = sides.ground.shape
    longest = max(rows, cols)
    for p in prange(parts):
        scratch = (
            _lay_rays(look, longest),
            lay_depth(look.radius, look.drop, look.plants),
        )
        for n in range(p, places.shape[0], parts):
            row, col = places[n, 0], places[n, 1]
            if sides.ground[row, col] == NOTHING:
                continue
            eye = np.float64(sides.ground[row, col]) + eyes[n]
            full = weights[n] / QUANTUM
            for h in range(look.heights.shape[0]):
                out[p, h, row, col] += np.int64(full + 0.5)
            straight = (sides.ground, sides.canopy, sides.hides)
            turned = (sides.ground_t, sides.canopy_t, sides.hides_t)
            for way in (-1, 1):
                _sweep(straight, (row, col, way), eye, full, look, scratch, False, out[p])
                _sweep(turned, (col, row, way), eye, full, look, scratch, True, out_t[p])
