"""How much water a soil holds when dry, moist and wet, from its texture, organic matter and bulk density.

Dry is the wilting point (1500 kPa), moist is field capacity (33 kPa), wet is saturation: the project's own reading of
the three words. Water contents are volume fractions.

References:
    K. E. Saxton and W. J. Rawls (2006), Soil water characteristic estimates by texture and organic matter for
    hydrologic solutions, Soil Sci. Soc. Am. J. 70:1569-1578, equations 1 to 3, 5, 6 and 8 to 10.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from boscage.model.soil import Moisture

PARTICLE_DENSITY = 2.65
"""Megagrams a cubic metre, as in the equations."""
MOST_ORGANIC_PCT, MOST_CLAY_PCT = 8.0, 60.0
"""Bounds of the samples behind the equations, recalled from the paper; more counts as this."""
_LEAST = 0.01


@dataclass(frozen=True, kw_only=True)
class WaterContents:
    """Volume fractions, and the bulk density that goes with them.

    Attributes:
        wilting, capacity, saturated: At 1500 kPa, 33 kPa and saturation.
        normal_density: Bulk density that the equations give to such a soil.
    """

    wilting: float
    capacity: float
    saturated: float
    normal_density: float

    def by_moisture(self) -> Mapping[Moisture, float]:
        """As `Horizon.water` holds them."""
        return {"dry": self.wilting, "moist": self.capacity, "wet": self.saturated}


def water_contents(
    sand_pct: float, clay_pct: float, organic_pct: float, bulk_density: float | None = None
) -> WaterContents:
    """Water that a soil holds.

    Args:
        sand_pct, clay_pct, organic_pct: Per cent by mass of the fine earth.
        bulk_density: Dry; without it the density that the equations call normal is used.
    """
    s, c, om = sand_pct / 100.0, min(clay_pct, MOST_CLAY_PCT) / 100.0, min(organic_pct, MOST_ORGANIC_PCT)
    wilting = -0.024 * s + 0.487 * c + 0.006 * om + 0.005 * s * om - 0.013 * c * om + 0.068 * s * c + 0.031
    wilting += 0.14 * wilting - 0.02
    capacity = -0.251 * s + 0.195 * c + 0.011 * om + 0.006 * s * om - 0.027 * c * om + 0.452 * s * c + 0.299
    capacity += 1.283 * capacity**2 - 0.374 * capacity - 0.015
    free = 0.278 * s + 0.034 * c + 0.022 * om - 0.018 * s * om - 0.027 * c * om - 0.584 * s * c + 0.078
    free += 0.636 * free - 0.107
    saturated = capacity + free - 0.097 * s + 0.043
    normal = (1.0 - saturated) * PARTICLE_DENSITY
    if bulk_density is not None:
        own = max(1.0 - bulk_density / PARTICLE_DENSITY, 2.0 * _LEAST)
        capacity, saturated = min(capacity - 0.2 * (saturated - own), own), own
    wilting = max(min(wilting, capacity), _LEAST)
    return WaterContents(wilting=wilting, capacity=max(capacity, _LEAST), saturated=saturated, normal_density=normal)
