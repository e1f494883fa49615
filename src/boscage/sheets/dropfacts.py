"""What the back says of each drop: gap, trees, line, wires, the walk to the set, hazards, landing places."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boscage.model.brief import CarryOver, Landing
from boscage.model.drop import DropPoint
from boscage.model.journey import NoWay
from boscage.model.results import Hazard
from boscage.sheets.dropjob import DropGroup, Numbered
from boscage.sheets.dropwords import DropFigures, bearing, both_norths, count_words
from boscage.sheets.flow import Block, gap, heading, height_of, loud, pair, paragraph, set_lines
from boscage.sheets.style import BODY
from boscage.sheets.typeset import Fitted, wrap
from boscage.sheets.waytable import beside

_LABEL_MM, _GUTTER_MM, _MOST_MM = 17.0, 5.0, 150.0
_STEP_DEG, _LEAST_CLIMB_M = 15.0, 0.5
SUGGESTION = "a suggestion, the pilot decides"


def fact_blocks(group: DropGroup, width_mm: float) -> list[Block]:
    """Each drop's facts, two drops side by side where their parts are of a height that fits on a page."""
    half = (width_mm - _GUTTER_MM) / 2
    blocks: list[Block] = []
    for k in range(0, len(group.drops), 2):
        own = group.drops[k : k + 2]
        parts = [drop_facts(group, d, half) for d in own]
        if len(own) == 2 and all(height_of(p) <= _MOST_MM for drop in parts for p in drop):
            blocks += [beside(*pair_of, half + _GUTTER_MM) for pair_of in zip(*parts, strict=True)]
        else:
            blocks += [b for d in own for part in drop_facts(group, d, width_mm) for b in part]
        blocks.append(gap(2.5))
    return blocks[:-1]


def drop_facts(group: DropGroup, numbered: Numbered, width_mm: float) -> tuple[list[Block], ...]:
    """One drop in parts: the place and the walk; what is near; where to land."""
    drop, figures, number = numbered.drop, group.figures, numbered.number
    rows = [
        ("coordinate", f"{drop.place.ddm}  {drop.place.datum}"),
        ("land", ", ".join(t for t in (drop.parcel, drop.owner) if t)), ("gap", _gap(drop.point, figures)),
        ("trees", _trees(group, drop.point)), ("line", _line(group, drop.point)), ("wires", drop.point.wires.text),
        ("set", _set(numbered, figures)), ("carry", _carry(drop.carry, figures)),
    ]  # fmt: skip
    first = [heading(f"Drop {numbered.name}", width_mm)]
    for flag in drop.flags:
        first += loud(flag, width_mm)
    first += [pair(label, words, width_mm, label_mm=_LABEL_MM) for label, words in rows if words]
    for note in (n for n in drop.point.notes if n != drop.point.wires.text):
        first += paragraph(note, width_mm, BODY, bullet=True)
    near = [_hazard(h, drop.declination_deg, figures) for h in drop.hazards]
    landings = _landings(group, numbered)
    return first, _listed(f"near {number}", near, width_mm), _listed(f"landing {number}", landings, width_mm)


def _listed(label: str, texts: Sequence[str], width_mm: float) -> list[Block]:
    """Texts under one another, the label beside the first."""
    blocks = [pair(label, texts[0], width_mm, label_mm=_LABEL_MM)] if texts else []
    for text in texts[1:]:
        lines = tuple(wrap(text, width_mm - _LABEL_MM, BODY))
        blocks += [*set_lines(Fitted(lines=lines, style=BODY), indent_mm=_LABEL_MM), gap(0.25)]
    return blocks


def _gap(point: DropPoint, figures: DropFigures) -> str:
    slope = "slope not known" if point.slope_percent is None else f"floor slopes {point.slope_percent:.0f} %"
    height = "elevation not known" if point.elevation_m is None else figures.elevation(point.elevation_m)
    return f"{figures.printer.length(point.gap.diameter_m)} across, {slope}, {height}"


def _trees(group: DropGroup, point: DropPoint) -> str:
    figures = group.figures
    near = figures.printer.length(group.result.plan.gap.near.m)
    unknown = f"; no heights over {math.ceil(point.unknown_share * 100):.0f} %" if point.unknown_share > 0.0 else ""
    if point.tallest_near_m is None:
        return f"tallest within {near} not known"
    return f"tallest within {near}: {figures.printer.height(point.tallest_near_m)}{unknown}"


def _line(group: DropGroup, point: DropPoint) -> str:
    if point.line_m is None:
        return "not suggested: the tallest tree is not known"
    figures, given = group.figures, group.result.plan.gap
    margin, step = figures.printer.height(given.line_margin.m), figures.printer.height(given.line_step.m)
    return (
        f"{figures.printer.height(point.line_m)}, {SUGGESTION} (tallest tree and {margin}, up to the next {step})"
    )  # fmt: skip


def _set(numbered: Numbered, figures: DropFigures) -> str:
    drop = numbered.drop
    away = figures.printer.length(drop.point.gap.reach_m)
    return f"{away} at {both_norths(drop.set_bearing_deg, drop.declination_deg)}, under trees: NOT the drop point"


def _carry(carry: CarryOver | NoWay | None, figures: DropFigures) -> str:
    if carry is None:
        return "not worked out"
    if isinstance(carry, NoWay):
        return carry.reason
    is_flat = math.isnan(carry.climb_m) or carry.climb_m < _LEAST_CLIMB_M
    climb = "" if is_flat else f", climbs {figures.printer.height(carry.climb_m)}"
    return (
        f"{figures.printer.length(carry.distance_m)} to the set, {minutes(carry.minutes)} loaded{climb}; "
        f"{count_words(carry.trips, 'trip')} of the crew, {figures.massed(carry.share_kg)} on a back, "
        f"{minutes(carry.all_min)} in all"
    )


def minutes(value: float) -> str:
    """Minutes: to a tenth below ten, whole from there.

    >>> minutes(1.46), minutes(34.4)
    ('1.5 min', '34 min')
    """
    return f"{value:.1f} min" if value < 9.95 else f"{value:.0f} min"


def _hazard(hazard: Hazard, declination_deg: float, figures: DropFigures) -> str:
    if hazard.distance_m is None:
        return f"{hazard.title}: {hazard.detail or 'not known'} ({hazard.source})"
    turn = "" if hazard.bearing_deg is None else f" at {both_norths(hazard.bearing_deg, declination_deg)}"
    what = f", {hazard.detail}" if hazard.detail else ""
    return f"{hazard.title}: {figures.ground(hazard.distance_m)}{turn}{what} ({hazard.source})"


def _landings(group: DropGroup, numbered: Numbered) -> list[str]:
    drop, given, figures = numbered.drop, group.result.plan.drop, group.figures
    reach = given.landing_reach.m
    if reach <= 0.0:
        return ["not looked for"]
    if not drop.landings:
        return [f"none found within {figures.printer.length(reach)} in the heights there are (Type {given.helicopter})"]
    return [
        _landing(f"{numbered.number}{letter}", landing, numbered, figures)
        for letter, landing in zip("abcdefghij", drop.landings, strict=False)
    ]


def _landing(name: str, landing: Landing, numbered: Numbered, figures: DropFigures) -> str:
    found, place, length = landing.found, landing.place, figures.printer.length
    kind = found.helicopter
    slope = "slope not known" if found.slope_percent is None else f"slopes {found.slope_percent:.0f} %"
    turn = both_norths(landing.bearing_deg, numbered.drop.declination_deg)
    return (
        f"{name}: {place.ddm}, USNG {place.usng}; {figures.ground(landing.away_m)} at {turn} from the drop. "
        f"{kind.name}: pad {length(kind.pad_m)} square, circle {length(kind.circle_m)}; "
        f"open ground {length(found.gap.diameter_m)} across, {slope}. {approach_words(landing)}"
    )


def approach_words(landing: Landing) -> str:
    """Outward bearings on which the known ground stays below the 8 to 1 surface; a screen, and said to be one."""
    found, turn = landing.found, landing.place.convergence_deg
    lead = "8:1 approach surface, a screen only"
    if all(a.over_m is None for a in found.approaches):
        return f"{lead}: not known, heights are missing."
    kept = sorted(a.bearing_deg for a in found.below_surface)
    if not kept:
        return f"{lead}: on no bearing is all ground known and below it."
    return f"{lead}: ground known and below it outward at {', '.join(_runs(kept, turn))}."


def _runs(kept: Sequence[float], turn_deg: float) -> list[str]:
    """Bearings next to one another joined, as true bearings; a run may pass north."""
    runs: list[list[float]] = []
    for degrees in kept:
        if runs and abs(degrees - runs[-1][-1] - _STEP_DEG) < 1e-6:
            runs[-1].append(degrees)
        else:
            runs.append([degrees])
    if len(runs) > 1 and runs[0][0] == 0.0 and abs(runs[-1][-1] + _STEP_DEG - 360.0) < 1e-6:
        runs[0] = [*runs.pop(), *runs[0]]
    named = [[bearing(d + turn_deg) for d in (run[0], run[-1])] for run in runs]
    return [f"{a} T" if len(run) == 1 else f"{a} to {b} T" for run, (a, b) in zip(runs, named, strict=True)]
