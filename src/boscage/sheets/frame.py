"""The frame of a map: a stretch of ground at an exact printed scale."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from boscage.values import Bounds

ROUND_SCALES = (
    2_500, 5_000, 7_500, 10_000, 12_500, 15_000, 20_000, 24_000, 25_000, 30_000, 35_000, 40_000, 45_000, 50_000,
    60_000, 75_000, 100_000, 125_000, 150_000, 200_000, 250_000, 300_000, 400_000, 500_000, 1_000_000,
)  # fmt: skip


@dataclass(frozen=True)
class MapFrame:
    """Ground bounds that fill a rectangle of paper at a scale of 1 : `scale`."""

    bounds: Bounds
    scale: float
    width_mm: float
    height_mm: float

    @classmethod
    def centred(cls, x_m: float, y_m: float, *, scale: float, width_mm: float, height_mm: float) -> MapFrame:
        """The frame of a given paper size whose middle is a place."""
        half_x, half_y = width_mm * scale / 2000.0, height_mm * scale / 2000.0
        return cls(Bounds(x_m - half_x, y_m - half_y, x_m + half_x, y_m + half_y), scale, width_mm, height_mm)

    @property
    def metres_per_mm(self) -> float:
        """Ground metres under one millimetre of paper."""
        return self.scale / 1000.0

    def to_mm(self, x_m: float, y_m: float) -> tuple[float, float]:
        """Millimetres right of the frame's left edge and below its top edge."""
        return (x_m - self.bounds.west) / self.metres_per_mm, (self.bounds.north - y_m) / self.metres_per_mm

    def to_ground(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Easting and northing of a place on the paper."""
        return self.bounds.west + x_mm * self.metres_per_mm, self.bounds.north - y_mm * self.metres_per_mm

    def holds(self, x_m: float, y_m: float) -> bool:
        """Whether a place lies inside the frame."""
        b = self.bounds
        return b.west <= x_m <= b.east and b.south <= y_m <= b.north


def fitting_scale(bounds: Bounds, width_mm: float, height_mm: float) -> float:
    """The largest round scale at which bounds fit on the paper.

    >>> fitting_scale(Bounds(0.0, 0.0, 6000.0, 6000.0), 150.0, 150.0)
    40000
    """
    least = max(bounds.width / width_mm, bounds.height / height_mm) * 1000.0
    for scale in ROUND_SCALES:
        if scale >= least - 1e-6:
            return scale
    step = 10.0 ** math.floor(math.log10(least))
    return math.ceil(least / step) * step


def round_step(least: float, steps: Sequence[float] = (1.0, 2.0, 5.0, 10.0)) -> float:
    """The smallest of 1, 2, 5 times a power of ten that is not under a number.

    >>> round_step(130.0)
    200.0
    """
    power = 10.0 ** math.floor(math.log10(least))
    return next(s * power for s in steps if s * power >= least * (1 - 1e-9))
