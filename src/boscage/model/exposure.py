"""Who sees a place: results of the lines of sight to it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SEEN = 1e-4  # a smaller share of sight counts as none on lists and maps
NOT_KNOWN = "No road, track or dwelling is mapped: who sees it is not known."


@dataclass(frozen=True, kw_only=True)
class Sighting:
    """One place from where a set can be seen.

    Attributes:
        kind: `public road`, `road`, `track`, `trail`, `dwelling` or `parcel line`.
        name: Name of the road or dwelling, or ''.
        x_m, y_m: Where the person stands.
        distance_m, bearing_deg: From the set; the bearing is from grid north.
        share: Share of sight that is left to the net's top, 0..1.
        looks: Sightings a day that this stretch adds, of the net's top.
    """

    kind: str
    name: str
    x_m: float
    y_m: float
    distance_m: float
    bearing_deg: float
    share: float
    looks: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Exposure:
    """How a place is seen from where people are.

    Attributes:
        net_looks: Expected sightings a day of the net's top.
        activity_looks: Expected sightings a day of the crew at the set.
        worst: The places that see it best, at most three, apart from one another.
        watchers: (N, 2) every sampled place within reach.
        shares: (N,) share of sight left from each of them to the net's top.
        radius_m: How far was looked.
    """

    net_looks: float
    activity_looks: float
    worst: tuple[Sighting, ...]
    watchers: NDArray[np.float64]
    shares: NDArray[np.float64]
    radius_m: float
