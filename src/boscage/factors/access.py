"""Access: time from the gate to the place with the gear, by vehicle, ATV and on foot."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.factor import Factor, FactorOptions, Journeys, Measure, Places, no_data, rate
from boscage.model.journey import NOT_KNOWN, Load
from boscage.model.options import ValuePoints, option
from boscage.model.scene import Scene
from boscage.values import Printer
from boscage.ways.between import minutes_between
from boscage.ways.network import make_network
from boscage.ways.reach import make_reach
from boscage.ways.route import find_journey, gather_ways
from boscage.ways.terrain import make_ground

FIGURES = ("minutes_in", "drive_min", "atv_min", "foot_min")


@dataclass(frozen=True, kw_only=True)
class AccessOptions(FactorOptions):
    """`[factors.access]`; how the crew travels stands in `[travel]`."""

    weight: float = option(2.0, help="Weight in the score.", low=0.0, high=1000.0, grade="C")
    value: ValuePoints = option(
        ((0.0, 1.0), (15.0, 1.0), (30.0, 0.7), (60.0, 0.3), (120.0, 0.0)),
        help="Value by minutes in with the first load, change-overs included.",
        grade="C",
    )


class Access(Factor):
    """Least time to get the net to the place: vehicle on roads and tracks, then ATV, then on foot with the load.

    Three legs that only ever go one way. The vehicle starts at entry gates, else on public roads. The ATV keeps to its
    slope limits along and across, and out of water, creeks, fences and thick timber. On foot: Tobler's function on the
    slope of each step, slower off the path and under a load. Land without permission bars all three.

    References: W. Tobler (1993), NCGIA Technical Report 93-1.
    """

    name = "access"
    title = "Way in with the gear"
    unit = "min"
    needs = ("tracks",)
    reads = ("tracks", "parcels", "water", "gates", "fences", "rings", "travel")
    is_dated = False
    Options = AccessOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """The three passes over the whole grid."""
        network = make_network(scene, scene.plan.travel)
        if network is None:
            return no_data(scene, *FIGURES)
        ground = make_ground(scene, scene.plan.travel)
        reach = make_reach(scene, ground, network, scene.plan.travel)
        figures = dict(zip(FIGURES, (reach.minutes, reach.drive_min, reach.atv_min, reach.foot_min), strict=True))
        return Measure(
            values=rate(reach.minutes, options.value), figures=figures, notes=network.notes + ground.notes,
            kept={"atv_from": reach.atv_from, "foot_from": reach.foot_from},
        )  # fmt: skip

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say the minutes and the legs, or that there is no way or no data."""
        minutes = figures["minutes_in"]
        if math.isnan(minutes):
            return NOT_KNOWN
        if math.isinf(minutes):
            return "Not reachable over permitted land from a mapped road or track."
        legs = [
            f"{_minutes(figures[key])} {word}"
            for key, word in (("drive_min", "driving"), ("atv_min", "by ATV"), ("foot_min", "on foot with the load"))
            if figures[key] > 0.0
        ]
        return f"About {_minutes(minutes)} in with the net" + (f": {', '.join(legs)}." if legs else ".")

    def journeys(self, scene: Scene, measure: Measure, places: Places, loads: Sequence[Load]) -> Journeys:
        """The way to each place and back."""
        if "foot_from" not in measure.kept:
            return ()
        ways = gather_ways(scene, measure.kept, measure.figures["minutes_in"])
        if ways is None:
            return ()
        return tuple(find_journey(ways, x, y, load) for (x, y), load in zip(places, loads, strict=True))

    def rounds(self, scene: Scene, measure: Measure, places: Places, journeys: Journeys) -> NDArray[np.float64] | None:
        """Minutes between the base and the sets, see `ways.between.minutes_between`."""
        if "foot_from" not in measure.kept or not journeys:
            return None
        ways = gather_ways(scene, measure.kept, measure.figures["minutes_in"])
        return None if ways is None else minutes_between(ways, places, journeys)


def _minutes(minutes: float) -> str:
    return "under 1 min" if minutes < 1.0 else f"{minutes:.0f} min"
