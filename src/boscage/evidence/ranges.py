"""Ranges: minimum convex polygons, and the least ground that holds a share of a surface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import ConvexHull, QhullError

from boscage.errors import InputError
from boscage.model.evidence import Hull, Isopleth

_ROWS = 512
_HALF = 16
_BINS = 1 << _HALF


def convex_hull(points: NDArray[np.float64], share: float = 1.0) -> Hull:
    """The minimum convex polygon of the points nearest to their arithmetic mean.

    Points are kept whose distance to the mean of all is at most its quantile `share` (linear between ranks, Hyndman and
    Fan type 7).

    Args:
        points: (N, 2) metres.
        share: Share of points kept, over 0 and up to 1.

    Raises:
        InputError: Fewer than three points are kept, or they lie on one line.

    References: C. O. Mohr (1947), Am. Midl. Nat. 37, 223-249; C. Calenge (2006), Ecol. Modelling 197, 516-519.
    """
    if not 0.0 < share <= 1.0:
        raise InputError(f"the share of points is {share:g}", expected="over 0 and up to 1")
    away = np.hypot(*(points - points.mean(axis=0)).T) if len(points) else np.zeros(0)
    kept = away <= np.quantile(away, share) if len(points) else np.zeros(0, dtype=bool)
    held = points[kept]
    try:
        hull = ConvexHull(held) if len(held) > 2 else None
    except QhullError:
        hull = None
    if hull is None:
        raise InputError(f"{len(held)} points span no ground", expected="three or more that do not lie on one line")
    return Hull(corners=held[hull.vertices], hectares=float(hull.volume) / 1e4, kept=kept)


def isopleths(density: NDArray[np.floating], cell_m: float, shares: Sequence[float]) -> tuple[Isopleth, ...]:
    """For each share, the least ground that holds it of what lies on the grid.

    Cells are taken from the greatest density down. Nothing is sorted or copied: single-precision numbers over 0 stand
    in the order of their bits, so that two passes, by the upper and by the lower half of the bits, find the level.

    Args:
        density: (rows, cols) 0 or more; NaN counts as 0.
        cell_m: Side of a cell.

    Raises:
        InputError: A share is not between 0 and 1.
    """
    for share in shares:
        if not 0.0 < share < 1.0:
            raise InputError(f"the share of use is {share:g}", expected="between 0 and 1")
    upper = _by_bits(density, None)
    if upper.use.sum() <= 0.0:
        return ()
    return tuple(_isopleth(density, cell_m, share, upper) for share in shares)


@dataclass(frozen=True, kw_only=True)
class _Bins:
    """Cells by half of their bits: (65536,) number of cells and sum of their use."""

    cells: NDArray[np.int64]
    use: NDArray[np.float64]

    def reach(self, wanted: float) -> tuple[int, float, int]:
        """The bin in which so much is reached from the top down, and use and cells of the bins over it."""
        summed = np.cumsum(self.use[::-1])
        k = min(int(np.searchsorted(summed, wanted)), _BINS - 1)
        k = min(k, _BINS - 1 - int(np.flatnonzero(self.cells)[0]))
        over = float(summed[k - 1]) if k else 0.0
        return _BINS - 1 - k, over, int(self.cells[::-1][:k].sum())


def _isopleth(density: NDArray[np.floating], cell_m: float, share: float, upper: _Bins) -> Isopleth:
    wanted = share * float(upper.use.sum())
    high, over, fewer = upper.reach(wanted)
    low, within, more = _by_bits(density, high).reach(wanted - over)
    level = float(np.array([high << _HALF | low], dtype=np.uint32).view(np.float32)[0])
    count = fewer + more + (wanted - over - within) / level
    return Isopleth(share=share, level=level, hectares=count * cell_m**2 / 1e4)


def _by_bits(density: NDArray[np.floating], high: int | None) -> _Bins:
    """Bins by the upper half of the bits, or by the lower half of the cells whose upper half is given."""
    cells, use = np.zeros(_BINS, dtype=np.int64), np.zeros(_BINS)
    for begin in range(0, len(density), _ROWS):
        strip = np.nan_to_num(density[begin : begin + _ROWS], nan=0.0).astype(np.float32).ravel()
        strip = np.maximum(strip, np.float32(0.0))
        bits = strip.view(np.uint32)
        if high is None:
            keys = bits >> _HALF
        else:
            strip = strip[bits >> _HALF == high]
            keys = strip.view(np.uint32) & (_BINS - 1)
        cells += np.bincount(keys, minlength=_BINS)
        use += np.bincount(keys, weights=strip, minlength=_BINS)
    return _Bins(cells=cells, use=use)
