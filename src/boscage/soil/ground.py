"""The ground of a whole ranch: map units and readings put together once, then asked place by place or cell by cell."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.soil import VERDICTS, ProbeReading, SoilOptions, SoilUnit
from boscage.soil.components import Profile, UnitStrength, flood_class, profiles, unit_limits
from boscage.soil.components import unit_strength as strength_of
from boscage.soil.correction import Correction, Shift, correct
from boscage.soil.place import Place
from boscage.soil.posts import post_verdicts, unmapped_verdicts

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
        own = np.array([self.strengths[k].estimate_ln if k in self.strengths else math.nan for k in keys])
        if self.correction is None:
            shift = Shift(
                shift_ln=np.zeros(len(points)), error_ln=own, stopped_cm=np.full(len(points), np.inf),
                basis=tuple("map" if math.isfinite(e) else "nothing" for e in own),
            )  # fmt: skip
        else:
            shift = self.correction.at(points, keys, own)
        return tuple(
            Place(
                unit=self.units.get(key), made=self.made.get(key, ()), shift_ln=float(shift.shift_ln[k]),
                error_ln=float(shift.error_ln[k]), stopped_cm=float(shift.stopped_cm[k]), basis=shift.basis[k],
            )
            for k, key in enumerate(keys)
        )  # fmt: skip

    def layers(self, points: Array, keys: Sequence[str]) -> GroundLayers:
        """The same for many places at once."""
        names, codes = np.unique(np.asarray(keys, dtype=str), return_inverse=True)
        return self.layers_of(points, codes, tuple(str(n) for n in names))

    def layers_of(self, points: Array, codes: NDArray[np.integer], names: Sequence[str]) -> GroundLayers:
        """The same where keys are given as numbers, as a map sheet or a factor needs them.

        Args:
            points: (M, 2) metres.
            codes: (M,) index into `names`.
            names: Map units; '' where no map reaches.
        """
        points = np.asarray(points, dtype=float).reshape(-1, 2)
        units = [self.strengths.get(name) for name in names]
        ln = np.array([math.nan if u is None else u.ln_mpa for u in units])
        known = np.array([0.0 if u is None or math.isnan(u.ln_mpa) else u.known_share for u in units])
        own, spot = (
            np.array([math.nan if u is None else getattr(u, name) for u in units])[codes]
            for name in ("estimate_ln", "error_ln")
        )
        if self.correction is None:
            alone = np.array([self._posts_alone(name) for name in names])
            return GroundLayers(
                resistance_mpa=np.exp(ln[codes]), error_ln=spot, posts=alone[codes], known_share=known[codes]
            )
        made = self.correction.at(points, np.asarray(names, dtype=object)[codes], own)
        mpa = np.exp(np.where(np.isnan(ln[codes]), 0.0, ln[codes]) + made.shift_ln)
        mpa[~np.isfinite(made.error_ln) & np.isnan(ln[codes])] = np.nan
        found = np.empty(len(points), dtype=np.int64)
        order = np.argsort(codes, kind="stable")
        ends = np.cumsum(np.bincount(codes, minlength=len(names)))[:-1]
        for name, here in zip(names, np.split(order, ends), strict=True):
            found[here] = self._posts(name, made.shift_ln[here], made.error_ln[here])
        held_up = (found == VERDICTS.index("yes")) & (made.stopped_cm < self.options.post_depth.m * 100.0)
        found[held_up] = VERDICTS.index("doubtful")
        error = np.where(made.error_ln == own, spot, made.error_ln)
        return GroundLayers(resistance_mpa=mpa, error_ln=error, posts=found, known_share=known[codes])

    def _posts(self, name: str, shift_ln: Array, error_ln: Array) -> NDArray[np.int64]:
        if self.made.get(name):
            return post_verdicts(self.made[name], shift_ln, error_ln, self.options)
        return unmapped_verdicts(shift_ln, error_ln, self.options)

    def _posts_alone(self, name: str) -> int:
        """The map's own verdict on posts, as an index into `VERDICTS`."""
        unit = self.strengths.get(name)
        error = math.nan if unit is None else unit.estimate_ln
        return int(self._posts(name, np.zeros(1), np.array([error]))[0])

@dataclass(frozen=True, kw_only=True)
class GroundLayers:
    """The ground at N places.

    Attributes:
        resistance_mpa: (N,) from the surface to the depth of a post, NaN for unknown.
        error_ln: (N,) its standard error for a spot as a natural logarithm, NaN for unknown.
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

    Resistance is that to the depth of a post when moist, NaN where over `unknown_share` of the unit is unknown; depth
    and rock fragments as `unit_limits` has them.
    """
    made = profiles(unit, options)
    strength, limits = strength_of(made, 0.0, options.post_depth.m * 100.0, "moist"), unit_limits(made, options)
    enough = strength.known_share >= 1.0 - options.unknown_share - 1e-9
    return {
        "resistance_mpa": math.exp(strength.ln_mpa) if enough else math.nan, "depth_cm": limits.depth_cm,
        "rock_pct": limits.rock_pct, "flood_class": flood_class(unit, options.flood_share),
    }  # fmt: skip
