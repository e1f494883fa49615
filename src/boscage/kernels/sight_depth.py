"""Vegetation along rays from one observer: how much of it lies over a sight line."""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit

Floats32 = NDArray[np.float32]

CLASSES = 256  # of slope, from -0.5 to 0.5; what is steeper counts in the last at either end
_STEEPEST = 0.5


class DepthRays(NamedTuple):
    """Rays in one direction, from slope -1 to 1 across it, evenly spaced; n of them, two cells apart at the radius.

    Each ray keeps the optical depth of the vegetation that it met by classes of the slope at which a sight line just
    passes over its top; in the class of a sight line itself it counts in proportion. The horizon along a ray never
    falls, so classes under it are dropped for good.

    any: whether vegetation hides anything in the window. steep: (n,), 1 / abs(slope across). length: (n,), cells of ray
    between two lines of cells. drop: (n,), curvature less refraction. start: (n,), optical depth of the observer's own
    half cell. total: (n,), optical depth of the classes that count. lowest: (n,), the first of them. classes:
    (n, CLASSES).
    """

    any: bool
    steep: Floats32
    length: Floats32
    drop: Floats32
    start: Floats32
    total: Floats32
    lowest: NDArray[np.int32]
    classes: Floats32


@jit
def lay_depth(radius: int, drop: float, is_any: bool) -> DepthRays:
    """Empty rays for a radius in cells; tiny where no vegetation hides anything."""
    n = radius + 1 if is_any else 1
    steep, length, drops = np.empty(n, np.float32), np.empty(n, np.float32), np.empty(n, np.float32)
    for i in range(n):
        t = -1.0 + 2.0 * i / max(1, n - 1)
        steep[i] = 1.0 / max(1e-6, abs(t))
        length[i] = math.sqrt(1.0 + t * t)
        drops[i] = drop * (1.0 + t * t)
    return DepthRays(
        is_any, steep, length, drops, np.empty(n, np.float32), np.empty(n, np.float32), np.empty(n, np.int32),
        np.empty((n, CLASSES), np.float32),
    )  # fmt: skip


@jit
def open_depth(depth: DepthRays, canopy: float, hides: float, eye: float) -> None:
    """Empty the rays for an observer whose own cell has this canopy top and extinction."""
    if not depth.any:
        return
    depth.total[:] = 0.0
    depth.lowest[:] = 0
    depth.classes[:] = 0.0
    own = 0.5 * hides if canopy > eye else 0.0
    for i in range(depth.start.shape[0]):
        depth.start[i] = own * depth.length[i]


@jit
def class_of(slope: np.float32) -> np.float32:
    """Place of a slope among the classes, whole and broken part."""
    place = (slope + np.float32(_STEEPEST)) * np.float32(CLASSES / (2.0 * _STEEPEST))
    return min(max(place, np.float32(0.0)), np.float32(CLASSES - 0.001))


@jit
def step_depth(depth: DepthRays, canopy: Floats32, hides: Floats32, at: tuple[int, int, float, float]) -> None:
    """Add one line of cells to the rays that meet it.

    canopy, hides: the line. at: distance from the observer in lines, the observer's column, the greatest slope across
    that is still within reach, and the eye.
    """
    k, column, reach, eye = at
    _, steep, length, drop, _, total, lowest, classes = depth
    n = total.shape[0]
    half = 0.5 * (n - 1)
    low = max(0, int((1.0 - reach) * half))
    canopy, hides = canopy[column - k - 1 :], hides[column - k - 1 :]
    first, each = np.float32(1.0), np.float32(k / half)
    inverse, far, base = np.float32(1.0 / k), np.float32(k), np.float32(eye)
    one, nothing = np.float32(1.0), np.float32(0.0)
    for i in range(low, n - low):
        place = np.float32(i) * each + first
        j = np.uint32(place)
        # share of the ray between half a line before and half a line behind that runs in cell j + 1, not in cell j
        share = min(max((place - np.float32(j) - np.float32(0.5)) * steep[i] + np.float32(0.5), nothing), one)
        for beside in range(2):
            amount = hides[j] * length[i] * (share if beside else one - share)
            if amount > nothing:
                c = np.int32(class_of((canopy[j] - base) * inverse - drop[i] * far))
                if c >= lowest[i]:
                    classes[i, c] += amount
                    total[i] += amount
            j = np.uint32(j + np.uint32(1))
