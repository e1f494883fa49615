"""Marks of a rig plan: trunks to scale, built supports, stakes, pivot, closure; none leans on colour."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from functools import lru_cache
from types import MappingProxyType

import numpy as np
from matplotlib.path import Path
from numpy.typing import NDArray

from boscage.model.rig import Stem
from boscage.sheets.style import FAINT, GREY, INK, PAPER, AreaLook, LineLook

TREE_GREY = "#b4b4b4"
LEAST_TRUNK_MM = 0.55
"""Least radius at which a trunk is drawn."""

RING = LineLook(width_pt=2.4)
CHORD = LineLook(width_pt=0.5)
STRAP = LineLook(width_pt=1.3)
GUY = LineLook(width_pt=1.0, dashes=(4.0, 2.0))
HIGH_ROPE = LineLook(width_pt=1.0, dashes=(7.0, 1.6, 1.2, 1.6))
APRON = LineLook(width_pt=0.7, dashes=(1.0, 1.5))
GRID = LineLook(colour=FAINT, width_pt=0.45)
EDGE = LineLook(width_pt=0.8)
_THIN = LineLook(width_pt=0.9)

STEM_TITLES: Mapping[str, str] = MappingProxyType({
    "contact": "contact tree", "tree": "other tree", "thin": "too thin to hold", "sapling": "sapling",
    "dead": "dead tree", "leaning": "leaning tree",
})  # fmt: skip
TRUNKS: Mapping[str, AreaLook] = MappingProxyType({
    "contact": AreaLook(fill=INK, outline=EDGE),
    "tree": AreaLook(fill=TREE_GREY, outline=EDGE),
    "thin": AreaLook(fill=PAPER, outline=EDGE),
    "sapling": AreaLook(fill=PAPER, outline=EDGE),
    "dead": AreaLook(fill=PAPER, outline=EDGE),
    "leaning": AreaLook(fill=PAPER, outline=EDGE),
})  # fmt: skip
TIE_LOOKS: Mapping[str, LineLook] = MappingProxyType({"high_rope": HIGH_ROPE, "sapling": GUY, "guy_line": GUY})
INK_MARK = AreaLook(fill=INK, outline=LineLook(colour=PAPER, width_pt=0.6))
DISC = AreaLook(fill=PAPER, outline=LineLook(width_pt=1.1))
STROKE, FINE = _THIN, LineLook(colour=GREY, width_pt=0.6)


def stem_kind(stem: Stem, least_dbh_m: float) -> str:
    """How a stem that is no contact is drawn."""
    if stem.kind == "tree":
        return "tree" if stem.dbh_m >= least_dbh_m else "thin"
    return stem.kind


def polygon(*points: tuple[float, float]) -> Path:
    """A closed path."""
    return Path([*points, points[0]], [Path.MOVETO] + [Path.LINETO] * (len(points) - 1) + [Path.CLOSEPOLY])


def strokes(*lines: Sequence[tuple[float, float]]) -> Path:
    """Open lines as one path."""
    return Path.make_compound_path(*[Path(np.asarray(line, dtype=float)) for line in lines])


@lru_cache(maxsize=1)
def support_paths() -> Mapping[str, Path]:
    """The mark of each kind of built support, about 1.3 mm from its middle to its edge."""
    return {
        "sapling": polygon((-1.35, -1.0), (1.35, -1.0), (0.0, 1.45)),
        "post": polygon((-1.1, -1.1), (1.1, -1.1), (1.1, 1.1), (-1.1, 1.1)),
        "high_rope": polygon((0.0, 1.6), (1.35, 0.0), (0.0, -1.6), (-1.35, 0.0)),
        "guy_line": polygon((-1.35, 1.0), (1.35, 1.0), (0.0, -1.45)),
    }


@lru_cache(maxsize=1)
def stem_strokes() -> Mapping[str, Path]:
    """Lines over a trunk of radius 1 that say what is wrong with it."""
    d = math.sqrt(0.5)
    return {
        "dead": strokes([(-1.5 * d, -1.5 * d), (1.5 * d, 1.5 * d)], [(-1.5 * d, 1.5 * d), (1.5 * d, -1.5 * d)]),
        "leaning": strokes([(-1.3, -1.9), (1.3, 1.9)]),
    }


STAKE = strokes([(-0.8, -0.8), (0.8, 0.8)], [(-0.8, 0.8), (0.8, -0.8)])
GUY_STAKE = strokes([(-1.2, 0.0), (1.2, 0.0)], [(0.0, -1.2), (0.0, 1.2)])


def trunk_path(radius: float, kind: str) -> Path:
    """A trunk's outline: a circle, for a sapling a triangle that is not to scale."""
    return polygon((-1.0, -0.75), (1.0, -0.75), (0.0, 1.05)) if kind == "sapling" else disc(radius)


def disc(radius: float) -> Path:
    """A circle round the origin."""
    unit = Path.unit_circle()
    return Path(np.asarray(unit.vertices) * radius, unit.codes)


def moved(path: Path, x: float, y: float, size: float = 1.0) -> Path:
    """A path scaled about the origin and carried to a place."""
    return Path(np.asarray(path.vertices) * size + (x, y), path.codes)


def pivot_path(radius: float) -> Path:
    """Four ticks round a trunk or a mark of a radius, a small dot in the middle."""
    near, far = radius + 0.5, radius + 2.3
    arms = [[(near * i, near * j), (far * i, far * j)] for i, j in ((1, 0), (-1, 0), (0, 1), (0, -1))]
    return strokes(*arms)


def closure_bars(towards: NDArray[np.float64], *, off: float = 1.3, half: float = 1.9) -> Path:
    """Two short bars across the ring, one on each side of the gap.

    Args:
        towards: (2, 2) unit vectors from the closure along the ring's two ways.
        off: From the closure to each bar.
        half: Half a bar's length.
    """
    bars = []
    for way in towards:
        across = np.array([-way[1], way[0]])
        bars.append([tuple(way * off - across * half), tuple(way * off + across * half)])
    return strokes(*bars)
