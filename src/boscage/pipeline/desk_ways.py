"""The way in to any place, and who sees it: what the factors lay out for the whole ranch is laid out once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from boscage.factors.access import Access
from boscage.factors.concealment import Concealment
from boscage.model.exposure import Exposure
from boscage.model.factor import Places
from boscage.model.journey import Journey, Load, NoWay
from boscage.model.scene import Scene
from boscage.model.sight_plan import ConcealmentOptions
from boscage.sight.exposure import expose
from boscage.sight.ground import make_sight_ground
from boscage.sight.watchers import place_watchers
from boscage.siting.sites import RatedFactor
from boscage.ways.route import Ways, find_journey, gather_ways


class Guide:
    """Answers for places of one scene.

    The built-in factors lay the whole grid out for every question, which serves a run that asks once. Here that is kept
    between questions; a factor of another kind is asked as a run asks it.
    """

    def __init__(self, scene: Scene) -> None:
        self._scene = scene
        self._ways: Ways | str | None = "not laid out"
        self._sight: tuple[Any, ...] | None = None

    def journey(self, rated: Sequence[RatedFactor], x_m: float, y_m: float, load: Load) -> Journey | NoWay | None:
        """The way to a place with a load, or None where no factor finds any."""
        place: Places = [(x_m, y_m)]
        for one in rated:
            if type(one.factor) is Access:
                ways = self._laid_out(one)
                if ways is not None:
                    return find_journey(ways, x_m, y_m, load)
                continue
            found = one.factor.journeys(self._scene, one.measure, place, [load])
            if found:
                return found[0]
        return None

    def exposure(self, rated: Sequence[RatedFactor], x_m: float, y_m: float) -> Exposure | None:
        """Who sees a place, or None where no factor looks."""
        place: Places = [(x_m, y_m)]
        for one in rated:
            if type(one.factor) is Concealment:
                found = self._looked(one, place)
            else:
                found = one.factor.exposures(self._scene, one.options, place)
            if found:
                return found[0]
        return None

    def _laid_out(self, one: RatedFactor) -> Ways | None:
        if isinstance(self._ways, str):
            kept, figures = one.measure.kept, one.measure.figures
            self._ways = gather_ways(self._scene, kept, figures["minutes_in"]) if "foot_from" in kept else None
        return self._ways

    def _looked(self, one: RatedFactor, places: Places) -> tuple[Exposure, ...]:
        options = one.options
        assert isinstance(options, ConcealmentOptions), "the options of this factor"
        if self._sight is None:
            known = [n for n in one.factor.needs if n in self._scene.vectors and len(self._scene.vectors[n].frame)]
            laid = (make_sight_ground(self._scene, options), place_watchers(self._scene, options)) if known else ()
            self._sight = laid
        if not self._sight:
            return ()
        ground, watchers = self._sight
        return tuple(expose(self._scene, ground, watchers, options, place) for place in places)
