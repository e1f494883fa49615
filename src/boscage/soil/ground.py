"""The ground of a whole ranch: map units and readings put together once, then asked place by place or cell by cell."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.soil import ProbeReading, SoilOptions, SoilUnit
from boscage.soil.answers import VERDICTS, Place, post_verdicts, unmapped_verdicts
from boscage.soil.components import Profile, UnitStrength, depth_on_share, flood_class, profiles, stop_depth_cm
from boscage.soil.components import unit_strength as strength_of
from boscage.soil.correction import Correction, correct

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Ground:
    """All that is known of a ranch's soil.

    Attributes:
        units: By key.
        made: Their soils with strengths, by key.
        strengths: From the surface to the depth of a post, by key, in the state that `options` asks for.
        correction: What readings add, or None without any.
        options: Limits.
    """

    units: Mapping[str, SoilUnit]
    made: Mapping[str, tuple[Profile, ...]]
    strengths: Mapping[str, UnitStrength]
    correction: Correction | None
    options: SoilOptions

    def places(self, points: Array, keys: Sequence[str]) -> tuple[Place, ...]:
        """Places to ask about.

        Args:
            points: (M, 2) metres.
            keys: (M,) map unit of each, '' where no map reaches.
        """
        points = np.asarray(points, dtype=float).reshape(-1, 2)
        shift, error, stopped, basis = self._shift(points, keys)
        return tuple(
            Place(
                unit=self.units.get(key), made=self.made.get(key, ()), shift_ln=float(shift[k]),
                error_ln=float(error[k]), stopped_cm=float(stopped[k]), basis=basis[k],
            )
            for k, key in enumerate(keys)
        )  # fmt: skip

    def layers(self, points: Array, keys: Sequence[str]) -> GroundLayers:
        """The same for many places at once, as a map sheet or a factor needs them."""
        points = np.asarray(points, dtype=float).reshape(-1, 2)
        shift, error, stopped, _ = self._shift(points, keys)
        names = np.asarray(keys, dtype=object)
        mpa, found = np.full(len(points), np.nan), np.full(len(points), VERDICTS.index("unknown"))
        known = np.zeros(len(points))
        for key in dict.fromkeys(keys):
            here = names == key
            unit = self.strengths.get(key)
            if unit is None or math.isnan(unit.ln_mpa):
                mpa[here] = np.where(np.isfinite(error[here]), np.exp(shift[here]), np.nan)
            else:
                mpa[here], known[here] = np.exp(unit.ln_mpa + shift[here]), unit.known_share
            if self.made.get(key):
                found[here] = post_verdicts(self.made[key], shift[here], error[here], self.options)
            else:
                found[here] = unmapped_verdicts(shift[here], error[here], self.options)
        held_up = (found == VERDICTS.index("yes")) & (stopped < self.options.post_depth.m * 100.0)
        found[held_up] = VERDICTS.index("doubtful")
        return GroundLayers(resistance_mpa=mpa, error_ln=error, posts=found, known_share=known)

    def _shift(self, points: Array, keys: Sequence[str]) -> tuple[Array, Array, Array, tuple[str, ...]]:
        own = np.array([self.strengths[k].estimate_ln if k in self.strengths else math.nan for k in keys])
        if self.correction is None:
            basis = tuple("map" if math.isfinite(e) else "nothing" for e in own)
            return np.zeros(len(points)), own, np.full(len(points), np.inf), basis
        made = self.correction.at(points, keys, own)
        return made.shift_ln, made.error_ln, made.stopped_cm, made.basis


@dataclass(frozen=True, kw_only=True)
class GroundLayers:
    """The ground at N places.

    Attributes:
        resistance_mpa: (N,) from the surface to the depth of a post, NaN for unknown.
        error_ln: (N,) its standard error as a natural logarithm, NaN for unknown.
        posts: (N,) index into `VERDICTS`.
        known_share: (N,) share of the map unit that the figure speaks of, 0 where readings alone speak.
    """

    resistance_mpa: Array
    error_ln: Array
    posts: NDArray[np.int64]
    known_share: Array


def know_ground(
    units: Mapping[str, SoilUnit], readings: Sequence[ProbeReading], keys: Sequence[str], options: SoilOptions
) -> Ground:
    """Put map units and readings together.

    Args:
        units: By key.
        readings: Any number.
        keys: (N,) map unit that each reading lies in, '' where no map reaches.
        options: Limits.
    """
    made = {key: profiles(unit, options) for key, unit in units.items()}
    deep = options.post_depth.m * 100.0
    return Ground(
        units=units, made=made, strengths={k: strength_of(m, 0.0, deep, options.moisture) for k, m in made.items()},
        correction=correct(readings, made, keys, options) if readings else None, options=options,
    )  # fmt: skip


def unit_columns(unit: SoilUnit, options: SoilOptions) -> dict[str, float | str | None]:
    """A map unit in the columns of plain soil polygons.

    Resistance is that to the depth of a post when moist. Depth and rock fragments are limits: the depth that the hard
    layer keeps under on `yes_share` of the ground that is known, and the rock fragments (the most in any horizon down
    to the depth of a post) that are not exceeded there. All are NaN where over `unknown_share` of the unit is unknown.
    """
    made, deep = profiles(unit, options), options.post_depth.m * 100.0
    strength = strength_of(made, 0.0, deep, "moist")
    depths = [(_depth_cm(p), p.share) for p in made]
    rocks = [(-_most_rock(p, deep), p.share) for p in made]
    rock = -_known_limit(rocks, options)
    enough = strength.known_share >= 1.0 - options.unknown_share - 1e-9
    return {
        "resistance_mpa": math.exp(strength.ln_mpa) if enough else math.nan,
        "depth_cm": _known_limit(depths, options),
        "rock_pct": rock if math.isnan(rock) else max(0.0, rock),
        "flood_class": flood_class(unit, options.flood_share),
    }


def _depth_cm(profile: Profile) -> float:
    """Depth to the hard layer, or to the end of the description where there is none."""
    depth = stop_depth_cm(profile.component)
    ends = max((h.bottom_cm for h in profile.component.horizons), default=math.nan)
    return ends if math.isinf(depth) else depth


def _most_rock(profile: Profile, deep_cm: float) -> float:
    """Most rock fragments of any mineral horizon above a depth and above the hard layer; 100 % for bare rock."""
    stop = stop_depth_cm(profile.component)
    if stop == 0.0:
        return 100.0 if profile.component.ground else math.nan
    layers = [h for h in profile.component.horizons if h.top_cm < deep_cm and not h.top_cm >= stop and not h.organic]
    rocks = [h.rock_pct for h in layers]
    return max(rocks) if rocks and not any(math.isnan(r) for r in rocks) else math.nan


def _known_limit(values: Sequence[tuple[float, float]], options: SoilOptions) -> float:
    """What is reached on `yes_share` of the known ground; NaN where too little is known."""
    known = [(v, s) for v, s in values if not math.isnan(v)]
    share = sum(s for _, s in known)
    if share <= 0.0 or share < 1.0 - options.unknown_share - 1e-9:
        return math.nan
    return depth_on_share([v for v, _ in known], [s for _, s in known], options.yes_share * share)
