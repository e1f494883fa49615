"""Can a pit be dug and used?"""

from __future__ import annotations

import math

import numpy as np

from boscage.model.soil import VERDICTS, BurialAnswer, SoilOptions
from boscage.soil.components import as_shares, flood_class, ground_shares
from boscage.soil.place import METRIC, Place, spade_tool, verdicts, wet_top_cm
from boscage.values import Printer


def answer_burial(place: Place, options: SoilOptions, printer: Printer = METRIC) -> BurialAnswer:
    """Whether a pit can be dug and used: by depth, by water at any time of the year, by flood class.

    A soil says no where any of the three does, yes where all three are known to allow it, else unknown or doubtful.
    """
    if place.unit is None or not place.made:
        none = as_shares(np.array([0.0, 0.0, 0.0, 1.0]))
        return BurialAnswer(verdict="unknown", shares=none, why=("Nothing is known of the soil here.",))
    tool, shift = spade_tool(options), np.array([place.shift_ln])
    rows, blame = np.zeros(4), {"rock or a hard layer": 0.0, "water": 0.0, "flooding": 0.0}
    for profile in place.made:
        part = ground_shares((profile,), shift, tool, options.moisture, options)[0] / max(profile.share, 1e-12)
        part[3] = max(0.0, 1.0 - part[:3].sum())
        wet, floods = wet_top_cm(profile, None), profile.component.flood_class
        too_wet = wet < tool.wanted_cm + options.water_gap.m * 100.0
        blame["rock or a hard layer"] += profile.share * part[2]
        blame["water"] += profile.share * too_wet
        blame["flooding"] += profile.share * (floods in options.no_burial)
        if too_wet or floods in options.no_burial:
            part = np.array([0.0, 0.0, 1.0, 0.0])
        elif part[2] < 0.5 and (math.isnan(wet) or floods is None):
            part = np.array([0.0, 0.0, 0.0, 1.0])
        rows += profile.share * part
    rows[3] += max(0.0, 1.0 - rows.sum())
    index = int(verdicts(rows[None, :], options)[0])
    why = _why_burial(place, blame, float(rows[3]), options, printer)
    return BurialAnswer(verdict=VERDICTS[index], shares=as_shares(rows), why=why)


def _why_burial(
    place: Place, blame: dict[str, float], unknown: float, options: SoilOptions, printer: Printer
) -> tuple[str, ...]:
    deep = printer.small(options.bury_depth.m)
    why = [f"{name} within reach of a pit {deep} deep on {100 * s:.0f} % of the ground."
           for name, s in blame.items() if s > 0.0 and name != "flooding"]  # fmt: skip
    floods = flood_class(place.unit, options.flood_share) if place.unit is not None else None
    if blame["flooding"] > 0.0:
        why.append(f"floods ({floods or 'some of it'}) on {100 * blame['flooding']:.0f} % of the ground.")
    if unknown > 0.0:
        why.append(f"depth, water or flooding is not known on {100 * unknown:.0f} % of the ground.")
    if not why:
        why.append(f"no rock, water or flooding mapped within reach of a pit {deep} deep.")
    why.append("wells, streams and the law are not looked at here.")
    return tuple(w[0].upper() + w[1:] for w in why)


