"""Point symbols: one shape for each kind of sign, for dwellings and for the ring; no shape leans on colour."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

import numpy as np
from matplotlib.path import Path

# Age classes of sign in days (common practice, no source): A and B are drawn filled, C grey, D hollow.
FRESH_DAYS, OLD_DAYS = 3.0, 14.0


def _polygon(*points: tuple[float, float]) -> Path:
    return Path([*points, points[0]], [Path.MOVETO] + [Path.LINETO] * (len(points) - 1) + [Path.CLOSEPOLY])


def _disc(x: float, y: float, rx: float, ry: float) -> Path:
    unit = Path.unit_circle()
    return Path(np.asarray(unit.vertices) * (rx, ry) + (x, y), unit.codes)


def _arc_bed() -> Path:
    """A bowl open at the top."""
    angle = np.linspace(np.pi * 1.02, np.pi * 1.98, 13)
    outer = np.column_stack([np.cos(angle) * 1.1, np.sin(angle) * 1.0 + 0.45])
    inner = np.column_stack([np.cos(angle[::-1]) * 0.55, np.sin(angle[::-1]) * 0.42 + 0.45])
    return _polygon(*map(tuple, np.vstack([outer, inner])))


@lru_cache(maxsize=1)
def sign_paths() -> Mapping[str, Path]:
    """Outline of each kind of sign within about one unit of the origin."""
    return {
        "rooting": _polygon((-1.05, 0.75), (1.05, 0.75), (0.0, -1.0)),
        "wallow": _disc(0, 0, 1.15, 0.68),
        "rub": _polygon((-0.45, -1.05), (0.45, -1.05), (0.45, 1.05), (-0.45, 1.05)),
        "trail": _polygon((0.0, 1.1), (0.62, 0.0), (0.0, -1.1), (-0.62, 0.0)),
        "track": Path.make_compound_path(_disc(-0.5, 0, 0.38, 0.95), _disc(0.5, 0, 0.38, 0.95)),
        "scat": Path.make_compound_path(
            _disc(-0.55, -0.45, 0.45, 0.45), _disc(0.55, -0.45, 0.45, 0.45), _disc(0, 0.5, 0.45, 0.45)
        ),
        "bed": _arc_bed(),
    }


DWELLING = _polygon((-0.9, -0.9), (0.9, -0.9), (0.9, 0.35), (0.0, 1.1), (-0.9, 0.35))
SIGN_HALF_MM = 1.15
DWELLING_HALF_MM = 1.3
DISC_MM = 5.0
