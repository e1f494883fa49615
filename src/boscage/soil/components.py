"""From the soils of a map unit to the ground: shares that sum to one, with the unnamed part kept as unknown.

A hard layer is a limit, not a mean: what counts is on which share of the ground a thing can be driven so deep, not how
deep on the average.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from boscage.model.rules import FLOOD_CLASSES
from boscage.model.soil import Component, Horizon, Moisture, Shares, SoilOptions, SoilUnit
from boscage.soil.strength import Strength, horizon_strength

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Profile:
    """One soil made ready for questions.

    Attributes:
        component: The soil.
        share: Of the unit, 0..1.
        strengths: One a horizon.
    """

    component: Component
    share: float
    strengths: tuple[Strength, ...]

    @property
    def layers(self) -> Sequence[tuple[Horizon, Strength]]:
        """Horizons with their strengths, from the surface down."""
        return tuple(zip(self.component.horizons, self.strengths, strict=True))


def profiles(unit: SoilUnit, options: SoilOptions) -> tuple[Profile, ...]:
    """The soils of a unit with the strength of each horizon."""
    return tuple(
        Profile(
            component=c, share=c.percent / 100.0, strengths=tuple(horizon_strength(h, options) for h in c.horizons)
        )
        for c in unit.components
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class UnitStrength:
    """Resistance of a map unit over some depths.

    Attributes:
        ln_mpa: Mean of the natural logarithm over the known soils, by share; NaN where none is known.
        error_ln: Standard error for a spot of the unit: that of the estimate, and how far the soils differ.
        estimate_ln: Standard error of the estimate alone, for questions that go through the soils one by one.
        known_share: Share of the unit that the figure speaks of, 0..1.
    """

    ln_mpa: float
    error_ln: float
    estimate_ln: float
    known_share: float


def unit_strength(made: Sequence[Profile], top_cm: float, bottom_cm: float, moisture: Moisture) -> UnitStrength:
    """Resistance between two depths (or at one, where they are equal).

    Each soil counts by the mean logarithm over its known horizons in that reach, by thickness. Hard rock has no
    resistance and is left out: it is a limit, not a number in a mean.
    """
    shares, values, errors = [], [], []
    for profile in made:
        found = _mean_ln(profile, top_cm, bottom_cm, moisture)
        if found is not None and profile.share > 0.0:
            shares.append(profile.share)
            values.append(found[0])
            errors.append(found[1])
    if not shares:
        return UnitStrength(ln_mpa=math.nan, error_ln=math.nan, estimate_ln=math.nan, known_share=0.0)
    weights = np.array(shares) / sum(shares)
    mean = float(weights @ np.array(values))
    own, between = float(weights @ np.square(errors)), float(weights @ (np.array(values) - mean) ** 2)
    return UnitStrength(
        ln_mpa=mean, error_ln=math.sqrt(own + between), estimate_ln=math.sqrt(own), known_share=min(1.0, sum(shares))
    )


def _mean_ln(profile: Profile, top_cm: float, bottom_cm: float, moisture: Moisture) -> tuple[float, float] | None:
    thickness, lns, errors = [], [], []
    for horizon, strength in profile.layers:
        mpa = strength.mpa[moisture]
        inside = min(horizon.bottom_cm, bottom_cm) - max(horizon.top_cm, top_cm)
        if top_cm == bottom_cm and horizon.top_cm <= top_cm < horizon.bottom_cm:
            inside = 1.0
        if inside > 0.0 and mpa > 0.0:
            thickness.append(inside)
            lns.append(math.log(mpa))
            errors.append(strength.error_ln)
    if not thickness:
        return None
    return float(np.average(lns, weights=thickness)), float(np.average(errors, weights=thickness))


@dataclass(frozen=True, kw_only=True)
class Reach:
    """How deep a driven thing gets in one soil, for N shifts of its resistance.

    Attributes:
        doubt_cm: (N,) the first doubtful or hard thing on the way down; inf where there is none.
        most_cm: (N,) here it is stopped; inf where nothing known stops it.
        unknown_cm: Depth from which nothing is known; inf where all is.
        soft_share: (N,) share of the wanted depth that is mud or organic.
    """

    doubt_cm: Array
    most_cm: Array
    unknown_cm: float
    soft_share: Array

    @property
    def sure_cm(self) -> Array:
        """(N,) down to here nothing doubtful, hard or unknown."""
        return np.minimum(np.minimum(self.doubt_cm, self.most_cm), self.unknown_cm)


@dataclass(frozen=True, kw_only=True)
class Tool:
    """What is driven or dug: its limits and how deep it must go.

    Attributes:
        easy_mpa, stop_mpa: Up to the one it goes, from the other it does not.
        least_cm, wanted_cm: Depth below which it is no use, and the depth that it should have.
        needs_hold: Whether mud counts against it.
    """

    easy_mpa: float
    stop_mpa: float
    least_cm: float
    wanted_cm: float
    needs_hold: bool


def reach(profile: Profile, shift_ln: Array, tool: Tool, moisture: Moisture, options: SoilOptions) -> Reach:
    """How deep a tool gets in one soil when the resistance is the map's times exp(shift).

    Rock fragments and restrictions are limits of their own. Rock fragments that are not known make a horizon doubtful,
    a resistance that is not known makes it unknown, and so does the end of the description. Organic material lets
    everything through and holds nothing.
    """
    doubt, most, soft = (np.full(len(shift_ln), start) for start in (np.inf, np.inf, 0.0))
    unknown, below = math.inf, 0.0
    for horizon, strength in profile.layers:
        if horizon.top_cm > below + 1e-9:
            unknown = min(unknown, below)
        below = horizon.bottom_cm
        inside = max(0.0, min(horizon.bottom_cm, tool.wanted_cm) - horizon.top_cm)
        if horizon.organic:
            soft += inside
            continue
        mpa, rock = strength.mpa[moisture] * np.exp(shift_ln), horizon.rock_pct
        if math.isnan(strength.mpa[moisture]):
            unknown = min(unknown, horizon.top_cm)
        else:
            soft += np.where(mpa < options.soft_mpa, inside, 0.0)
        slows = (mpa > tool.easy_mpa) | (rock >= options.rock_slow_pct)
        slows |= math.isnan(rock) and not math.isnan(strength.mpa[moisture])
        stops = (mpa >= tool.stop_mpa) | (rock >= options.rock_stop_pct)
        doubt = np.where(slows, np.minimum(doubt, horizon.top_cm), doubt)
        most = np.where(stops, np.minimum(most, horizon.top_cm), most)
    for restriction in profile.component.restrictions:
        if restriction.hardness != "passes":
            doubt = np.minimum(doubt, restriction.top_cm)
        if restriction.hardness == "stops":
            most = np.minimum(most, restriction.top_cm)
            below = math.inf if restriction.top_cm <= below + 1e-9 else below  # what lies under it is of no matter
    unknown = min(unknown, below)
    if not profile.component.ground:
        unknown, doubt, most = math.inf, np.zeros_like(doubt), np.zeros_like(most)
    return Reach(doubt_cm=doubt, most_cm=most, unknown_cm=unknown, soft_share=soft / tool.wanted_cm)


def judge(found: Reach, tool: Tool) -> Array:
    """(N, 4) of yes, doubtful, no, unknown for one soil, a single 1 in each row."""
    no = found.most_cm < tool.least_cm
    yes = found.sure_cm >= tool.wanted_cm
    if tool.needs_hold:
        yes &= found.soft_share <= 0.5
    first = np.minimum(np.minimum(found.doubt_cm, found.most_cm), tool.wanted_cm)
    unknown = ~no & ~yes & (found.unknown_cm < first)
    doubtful = ~no & ~yes & ~unknown
    return np.column_stack([yes, doubtful, no, unknown]).astype(float)


def rock_is_hidden(profile: Profile, deep_cm: float) -> bool:
    """Whether a horizon above a depth has a resistance and nothing that tells of rock fragments."""
    return any(
        h.top_cm < deep_cm and math.isnan(h.rock_pct) and not math.isnan(s.mpa["moist"]) and not h.organic
        for h, s in profile.layers
    )


def ground_shares(
    made: Sequence[Profile], shift_ln: Array, tool: Tool, moisture: Moisture, options: SoilOptions
) -> Array:
    """(N, 4) shares of the unit's ground: yes, doubtful, no, unknown; each row sums to 1."""
    out = np.zeros((len(shift_ln), 4))
    for profile in made:
        out += profile.share * judge(reach(profile, shift_ln, tool, moisture, options), tool)
    out[:, 3] += np.maximum(0.0, 1.0 - out.sum(axis=1))
    return out


def as_shares(row: Array) -> Shares:
    """One row as a value."""
    return Shares(yes=float(row[0]), doubtful=float(row[1]), no=float(row[2]), unknown=float(row[3]))


def depth_on_share(depths_cm: Sequence[float], shares: Sequence[float], wanted: float) -> float:
    """Greatest depth that is reached on at least a wanted share of the ground; 0 where no depth is.

    >>> depth_on_share([30.0, 100.0], [0.3, 0.7], 0.6), depth_on_share([30.0, 100.0], [0.3, 0.7], 0.8)
    (100.0, 30.0)
    """
    total = 0.0
    for depth, share in sorted(zip(depths_cm, shares, strict=True), reverse=True):
        total += share
        if total >= wanted - 1e-9:
            return depth
    return 0.0


def stop_depth_cm(component: Component) -> float:
    """Depth to what stops a post, 0 for what is no ground; inf where none is recorded above the end of the description.

    NaN where the soil is not described at all.
    """
    stops = [r.top_cm for r in component.restrictions if r.hardness == "stops"]
    if not component.ground:
        return 0.0
    if not component.horizons and not stops:
        return math.nan
    return min(stops, default=math.inf)


def share_stopped_above(unit: SoilUnit, depth_cm: float) -> tuple[float, float]:
    """Share of the ground whose hard layer lies above a depth, and share of which that is not known."""
    stopped = unknown = 0.0
    for component in unit.components:
        depth = stop_depth_cm(component)
        ends = max((h.bottom_cm for h in component.horizons), default=0.0)
        if depth < depth_cm:
            stopped += component.percent
        elif math.isnan(depth) or (math.isinf(depth) and ends < depth_cm):
            unknown += component.percent
    return stopped / 100.0, (unknown + unit.unnamed_pct) / 100.0


def flood_class(unit: SoilUnit, least_share: float) -> str | None:
    """The worst flood class that soils of at least a share of the unit have together; None where too little is stated.

    A class is given when the soils that flood so often or more make up the share. `none` (or the best class stated) is
    given only when the soils that say nothing make up less than that share.
    """
    worst_first = FLOOD_CLASSES[::-1]
    by_class = {name: sum(c.percent for c in unit.components if c.flood_class == name) / 100.0 for name in worst_first}
    silent = 1.0 - sum(by_class.values())
    total = 0.0
    for name in worst_first:
        total += by_class[name]
        if total >= least_share and by_class[name] > 0.0:
            bad = name in FLOOD_CLASSES[3:]
            return name if bad or silent < max(least_share, 1e-9) + 1e-9 else None
    return None


@dataclass(frozen=True, kw_only=True)
class UnitLimits:
    """What a driven thing meets on `yes_share` of the known ground; NaN where over `unknown_share` is unknown.

    Attributes:
        depth_cm: Depth that the hard layer, or the end of the description, keeps under.
        rock_pct: The most rock fragments of any horizon down to the depth of a post, not exceeded there.
    """

    depth_cm: float
    rock_pct: float


def unit_limits(made: Sequence[Profile], options: SoilOptions) -> UnitLimits:
    """Depth and rock fragments of a map unit as limits, not means."""
    deep = options.post_depth.m * 100.0
    rock = -_known_limit([(-_most_rock(p, deep), p.share) for p in made], options)
    return UnitLimits(
        depth_cm=_known_limit([(_depth_cm(p, deep), p.share) for p in made], options),
        rock_pct=rock if math.isnan(rock) else max(0.0, rock),
    )


def _depth_cm(profile: Profile, deep_cm: float) -> float:
    """Depth to the hard layer; where there is none, to the end of the description if that is deep enough, else NaN."""
    depth = stop_depth_cm(profile.component)
    ends = max((h.bottom_cm for h in profile.component.horizons), default=math.nan)
    if math.isinf(depth):
        return ends if ends >= deep_cm - 1e-9 else math.nan
    return depth


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
