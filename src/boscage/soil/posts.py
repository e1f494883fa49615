"""Can a post be driven? 'yes' must hold with the resistance one standard error higher, 'no' with it one lower."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from boscage.model.soil import VERDICTS, PostAnswer, SoilOptions
from boscage.soil.components import Profile, Tool, as_shares, depth_on_share, ground_shares, reach, rock_is_hidden
from boscage.soil.place import METRIC, Array, Place, error_of, post_tool, verdicts
from boscage.values import Printer


def assumption(options: SoilOptions, printer: Printer = METRIC) -> str:
    """The rule that maps penetration resistance to posts, as it must be printed with every answer."""
    easy, stop = printer.pressure(options.post_easy_mpa), printer.pressure(options.post_stop_mpa)
    return (
        f"Assumed, not published: a post can be driven by hand up to {easy}, cannot from {stop}, doubtful between; "
        f"doubtful from {options.rock_slow_pct:g} % rock fragments, "
        f"stopped from {options.rock_stop_pct:g} %. Test one."
    )


def post_verdicts(made: Sequence[Profile], shift_ln: Array, error_ln: Array, options: SoilOptions) -> NDArray[np.int64]:
    """(N,) index into `VERDICTS` for N places of one map unit: the map sheet's question.

    Args:
        made: The unit's soils.
        shift_ln, error_ln: (N,) shift of the resistance and standard error; a NaN error makes a place unknown.
        options: Limits; `moisture` is the state that is asked for.
    """
    tool = post_tool(options)
    known = np.isfinite(error_ln)
    error = np.where(known, error_ln, 0.0)
    shifts = np.concatenate([shift_ln, shift_ln + error, shift_ln - error])
    at, hard, soft = np.split(verdicts(ground_shares(made, shifts, tool, options.moisture, options), options), 3)
    out = np.where((at == 0) & (hard != 0), 1, at)
    out = np.where((at == 2) & (soft != 2), 1, out)
    rock_alone = (at == 2) & (soft == 2)
    return np.where(known | rock_alone, out, 3)


def answer_posts(place: Place, options: SoilOptions, printer: Printer = METRIC) -> PostAnswer:
    """Whether posts can be driven at a place."""
    if place.unit is None or not place.made:
        return _posts_without_map(place, options, printer)
    tool, share = post_tool(options), [p.share for p in place.made]
    shift, error = np.array([place.shift_ln]), np.array([error_of(place, options)])
    index = int(post_verdicts(place.made, shift, error, options)[0])
    row = ground_shares(place.made, shift, tool, options.moisture, options)[0]
    hidden = sum(p.share for p in place.made if rock_is_hidden(p, tool.wanted_cm))
    found = [reach(p, shift, tool, options.moisture, options) for p in place.made]
    deepest = max((h.bottom_cm for p in place.made for h in p.component.horizons), default=0.0)
    sure = depth_on_share([min(float(f.sure_cm[0]), deepest) for f in found], share, options.yes_share)
    most = depth_on_share([min(float(f.most_cm[0]), deepest) for f in found], share, options.yes_share)
    if row[3] > 1.0 - options.yes_share + 1e-9:
        sure = most = math.nan
    why = _why_posts(index, row, tool, options, printer)
    why += f" Rock fragments are not known on {100 * hidden:.0f} %." if hidden >= 0.005 else ""
    if place.stopped_cm < tool.wanted_cm:
        stopped = f"a probe was stopped at {printer.small(place.stopped_cm / 100.0)} close by."
        sure = min(sure, place.stopped_cm) if not math.isnan(sure) else sure
        if VERDICTS[index] == "yes":
            index, why = 1, f"The map allows it, but {stopped}"
        else:
            why += f" {stopped[0].upper()}{stopped[1:]}"
    return PostAnswer(verdict=VERDICTS[index], shares=as_shares(row), depth_cm=sure, most_cm=most, why=why)


def unmapped_verdicts(shift_ln: Array, error_ln: Array, options: SoilOptions) -> NDArray[np.int64]:
    """(N,) index into `VERDICTS` where readings alone speak: of resistance and not of rock, so never 'yes'."""
    hard = shift_ln - error_ln >= math.log(options.post_stop_mpa)
    return np.where(np.isfinite(error_ln), np.where(hard, 2, 1), 3)


def _posts_without_map(place: Place, options: SoilOptions, printer: Printer) -> PostAnswer:
    index = int(unmapped_verdicts(np.array([place.shift_ln]), np.array([place.error_ln]), options)[0])
    read = printer.pressure(math.exp(place.shift_ln))
    why = f"No soil map here; readings close by give about {read}, and rock is not known."
    if VERDICTS[index] == "unknown":
        why = "Nothing is known of the soil here."
    shares = as_shares(np.eye(4)[index])
    return PostAnswer(verdict=VERDICTS[index], shares=shares, depth_cm=math.nan, most_cm=math.nan, why=why)


def _why_posts(index: int, row: Array, tool: Tool, options: SoilOptions, printer: Printer) -> str:
    yes, doubtful, no, unknown = (100.0 * v for v in row)
    said = f"driven to {printer.small(tool.wanted_cm / 100.0)} on {yes:.0f} % of the ground"
    said += f", stopped above {printer.small(tool.least_cm / 100.0)} on {no:.0f} %" if no >= 0.5 else ""
    said += f", doubtful on {doubtful:.0f} %" if doubtful >= 0.5 else ""
    said += f", unknown on {unknown:.0f} %" if unknown >= 0.5 else ""
    said += f" ({options.moisture})"
    if VERDICTS[index] == "doubtful" and (yes >= 100.0 * options.yes_share or no >= 100.0 * options.no_share):
        said += "; not sure within one standard error of the resistance"
    return said[0].upper() + said[1:] + "."


