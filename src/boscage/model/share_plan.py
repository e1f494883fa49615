"""Options of what is shared: `[share]`."""

from __future__ import annotations

from dataclasses import dataclass

from boscage.model.options import option
from boscage.values import Length


@dataclass(frozen=True, kw_only=True)
class ShareOptions:
    """`[share]`: what others get to see."""

    square: Length = option(
        Length(1000.0), help="Side of the squares that stand for places in a masked copy.", low=500.0, high=20000.0,
        grade="C",
    )  # fmt: skip
    snap: Length = option(
        Length(100.0), help="Corners of land are moved to multiples of this in a masked copy.", low=10.0, high=2000.0,
        grade="C",
    )  # fmt: skip
