"""One place whose ground is asked about: what is driven or dug there, and how shares of the ground become one word."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boscage.model.soil import SoilOptions, SoilUnit
from boscage.soil.components import Profile, Tool, ground_shares, unit_strength
from boscage.values import Printer

Array = NDArray[np.float64]
METRIC = Printer("metric")
"""Units of sentences where the plan's are not asked for."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """One place that is asked about.

    Attributes:
        unit: Its map unit, or None.
        made: The unit's soils.
        shift_ln: What readings add to the map's logarithm; without a map the logarithm of the resistance.
        error_ln: Standard error of the sum; NaN for the map's own.
        stopped_cm: Depth at which a probe close by was stopped; inf for none.
        basis: Where the figures come from.
    """

    unit: SoilUnit | None
    made: tuple[Profile, ...] = ()
    shift_ln: float = 0.0
    error_ln: float = math.nan
    stopped_cm: float = math.inf
    basis: str = "map"


def post_tool(options: SoilOptions) -> Tool:
    """A post as the limits say."""
    return Tool(
        easy_mpa=options.post_easy_mpa, stop_mpa=options.post_stop_mpa, least_cm=options.least_post_depth.m * 100.0,
        wanted_cm=options.post_depth.m * 100.0, needs_hold=True,
    )  # fmt: skip


def picket_tool(options: SoilOptions) -> Tool:
    """A picket driven as deep as the published ones."""
    deep = options.picket_depth.m * 100.0
    return Tool(
        easy_mpa=options.post_easy_mpa, stop_mpa=options.post_stop_mpa, least_cm=deep, wanted_cm=deep, needs_hold=True
    )


def stake_tool(options: SoilOptions) -> Tool:
    """An apron stake."""
    return replace(
        picket_tool(options), least_cm=options.stake_depth.m * 100.0, wanted_cm=options.stake_depth.m * 100.0
    )


def spade_tool(options: SoilOptions) -> Tool:
    """A spade and a pick down to the bottom of a pit."""
    deep = options.bury_depth.m * 100.0
    return Tool(
        easy_mpa=options.dig_stop_mpa, stop_mpa=options.dig_stop_mpa, least_cm=deep, wanted_cm=deep, needs_hold=False
    )


def verdicts(shares: Array, options: SoilOptions) -> NDArray[np.int64]:
    """(N,) index into `VERDICTS` from (N, 4) shares.

    yes from `yes_share`; no from `no_share`; unknown over `unknown_share`; doubtful otherwise.
    """
    near = 1e-9
    rules = (
        shares[:, 0] >= options.yes_share - near, shares[:, 2] >= options.no_share - near,
        shares[:, 3] > options.unknown_share + near,
    )  # fmt: skip
    return np.select(rules, (0, 2, 3), default=1)


def error_of(place: Place, options: SoilOptions) -> float:
    """The place's own error, else the map's."""
    if math.isfinite(place.error_ln):
        return place.error_ln
    return unit_strength(place.made, 0.0, options.post_depth.m * 100.0, options.moisture).estimate_ln


def tool_verdict(place: Place, tool: Tool, options: SoilOptions) -> int:
    """Index into `VERDICTS` for any tool at one place, a 'yes' holding one standard error harder too."""
    if not place.made:
        return 3
    error = error_of(place, options)
    if not math.isfinite(error):
        return 3
    shift = np.array([place.shift_ln, place.shift_ln + error])
    found = verdicts(ground_shares(place.made, shift, tool, options.moisture, options), options)
    return 1 if found[0] == 0 and found[1] != 0 else int(found[0])


def wet_top_cm(profile: Profile, month: int | None) -> float:
    """Depth to wet soil in a month (1 to 12), or the year's least; NaN where it is not stated."""
    tops = profile.component.wet_top_cm
    if not tops:
        return math.nan
    return min(tops) if month is None else tops[month - 1]


