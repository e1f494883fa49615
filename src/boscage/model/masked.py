"""A ranch as others may see it: squares in place of places, an outline in place of parcels."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import shapely

from boscage.model.plan import Plan

LEFT_OUT = (
    "Left out: exact places of sets, drop points, cameras, sign and measured trees; ways in; hard stops, since they "
    "show where houses are; gates and their notes; houses; names of owners and parcels; no-go areas and their reasons."
)


@dataclass(frozen=True, kw_only=True)
class MaskedSquare:
    """A square that stands for the sites in it.

    Attributes:
        number: From 1, in reading order.
        x_m, y_m: Its south-west corner, multiples of the side.
        sites: Names; `ranks` and `supports` one for each.
    """

    number: int
    x_m: float
    y_m: float
    side_m: float
    sites: tuple[str, ...]
    ranks: tuple[int, ...]
    supports: tuple[str, ...]

    @property
    def shape(self) -> shapely.Polygon:
        """The square."""
        return shapely.box(self.x_m, self.y_m, self.x_m + self.side_m, self.y_m + self.side_m)


@dataclass(frozen=True, kw_only=True, eq=False)
class MaskedRanch:
    """What others may see.

    Attributes:
        land: Land with permission as one shape, its corners moved to multiples of `snap_m`.
    """

    plan: Plan
    crs: str
    squares: tuple[MaskedSquare, ...]
    land: Any
    side_m: float
    snap_m: float


@dataclass(frozen=True, kw_only=True, eq=False)
class ShareResult:
    """What was passed on.

    Attributes:
        folder: Where it lies.
        files: Names of the files written.
        sites: Names of the sites in it.
        masked: The masked ranch, or None for the crew's own copy.
    """

    folder: Path
    files: tuple[str, ...]
    sites: tuple[str, ...]
    masked: MaskedRanch | None
