"""The operator's choices in the ranch's CRS."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from pyproj import Transformer

from boscage.model.choices import Choice, PlacedChoice
from boscage.readers.crs import WGS84


def place_choices(choices: Sequence[Choice], crs: str) -> tuple[PlacedChoice, ...]:
    """Bring each choice from longitude and latitude into a projected CRS, in the plan's order."""
    if not choices:
        return ()
    degrees = np.array([c.at for c in choices])
    x, y = Transformer.from_crs(WGS84, crs, always_xy=True).transform(degrees[:, 0], degrees[:, 1])
    return tuple(
        PlacedChoice(choice=choice, row=row, x_m=float(x[row - 1]), y_m=float(y[row - 1]))
        for row, choice in enumerate(choices, start=1)
    )
