"""The way in to each ranked site with its own load, and who sees it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from boscage.model.journey import Load
from boscage.model.results import ScoutResult, Site
from boscage.model.scene import Scene
from boscage.siting.sites import RatedFactor

SAME_PLACE_M = 15.0


def with_ways(
    result: ScoutResult, scene: Scene, rated: Sequence[RatedFactor], loads: Sequence[tuple[float, float, float]]
) -> ScoutResult:
    """The result with a journey and the exposure of every site, as far as a factor finds them.

    Args:
        loads: East, north and kilograms of the gear lists that are there already.
    """
    places = [(s.place.x_m, s.place.y_m) for s in result.sites]
    if not places:
        return result
    carried = [_load_of(scene, site, loads) for site in result.sites]
    journeys = next((j for r in rated if (j := r.factor.journeys(scene, r.measure, places, carried))), ())
    exposures = next((e for r in rated if (e := r.factor.exposures(scene, r.options, places))), ())
    sites = tuple(
        replace(
            site, journey=journeys[n] if journeys else None, exposure=exposures[n] if exposures else None
        )
        for n, site in enumerate(result.sites)
    )  # fmt: skip
    return replace(result, sites=sites)


def _load_of(scene: Scene, site: Site, loads: Sequence[tuple[float, float, float]]) -> Load:
    """The gear list made for this place, else the net alone."""
    gaps = [(math.hypot(x - site.place.x_m, y - site.place.y_m), mass) for x, y, mass in loads]
    gap, mass = min(gaps, default=(math.inf, 0.0))
    if gap <= SAME_PLACE_M:
        return Load(mass_kg=mass, note="gear list of this place")
    return Load(mass_kg=scene.plan.net.mass.kg, note="net alone; no gear list of this place yet")
