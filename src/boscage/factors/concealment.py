"""Concealment: how often a set would be seen from where people are."""

from __future__ import annotations

import math
from collections.abc import Mapping

from boscage.model.exposure import NOT_KNOWN, Exposure
from boscage.model.factor import Factor, FactorOptions, Measure, Places, no_data, rate
from boscage.model.scene import Scene
from boscage.model.sight_plan import ConcealmentOptions
from boscage.sight.exposure import count_sightings, expose
from boscage.sight.ground import make_sight_ground
from boscage.sight.watchers import place_watchers
from boscage.values import Printer

FIGURES = ("net_looks", "activity_looks")


class Concealment(Factor):
    """Expected sightings a day, from public roads, ranch roads, tracks, trails, dwellings and the parcel line.

    Every sampled place counts its looks a day times the share of sight that is left: none where the ground stands
    between, else exp(-k * length of the sight line through vegetation below its canopy top). k hides nine tenths at
    200 ft under full cover and falls with canopy cover.

    References: J. W. Thomas et al. (1979), Wildlife Habitats in Managed Forests, USDA Agriculture Handbook 553, for the
    definition of hiding cover.
    """

    name = "concealment"
    title = "Out of sight"
    unit = "sightings a day"
    needs = ("tracks", "dwellings")
    reads = ("tracks", "dwellings", "parcels", "sight")
    is_dated = False
    Options = ConcealmentOptions

    def measure(self, scene: Scene, options: FactorOptions) -> Measure:
        """Sum the sightings over the whole grid."""
        assert isinstance(options, ConcealmentOptions)
        missing = [w for w in self.needs if w not in scene.vectors or scene.vectors[w].frame.empty]
        if len(missing) == len(self.needs):
            return no_data(scene, *FIGURES)
        ground, watchers = make_sight_ground(scene, options), place_watchers(scene, options)
        field = count_sightings(scene, ground, watchers, options)
        notes = ground.notes
        if missing:
            word = "roads, tracks or trails" if missing[0] == "tracks" else "dwellings"
            notes += (f"No {word} mapped: who looks from there is not counted in concealment.",)
        if watchers.off_grid:
            notes += (
                f"{watchers.off_grid} sampled places lie too far off the ranch and are not counted in concealment.",
            )
        figures = {"net_looks": field.net, "activity_looks": field.activity}
        return Measure(values=rate(field.net + field.activity, options.value), figures=figures, notes=notes)

    def sentence(self, figures: Mapping[str, float], options: FactorOptions, printer: Printer) -> str:
        """Say how often it would be seen, or that nobody's places are mapped."""
        assert isinstance(options, ConcealmentOptions)
        net, crew = figures["net_looks"], figures["activity_looks"]
        if math.isnan(net):
            return NOT_KNOWN
        within = printer.length(options.within.m)
        if net + crew == 0.0:
            return f"No sampled place on mapped roads, tracks, at dwellings or the parcel line within {within} sees it."
        return (
            f"Seen {_count(net)} times a day (net) and {_count(crew)} times (crew there) from mapped roads, "
            f"tracks, dwellings and the parcel line within {within}."
        )

    def exposures(self, scene: Scene, options: FactorOptions, places: Places) -> tuple[Exposure, ...]:
        """Who sees each place."""
        assert isinstance(options, ConcealmentOptions)
        if all(w not in scene.vectors or scene.vectors[w].frame.empty for w in self.needs):
            return ()
        ground, watchers = make_sight_ground(scene, options), place_watchers(scene, options)
        return tuple(expose(scene, ground, watchers, options, place) for place in places)


def _count(looks: float) -> str:
    if looks < 0.1:
        return "under 0.1"
    return f"about {looks:.1f}" if looks < 9.95 else f"about {looks:.0f}"
