"""Can the ground be posted, staked, dug? One answer a place, each with its reason.

'yes' for posts must hold with the resistance one standard error higher, 'no' with it one lower. Ground that is not
known is never 'yes'.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.soil import (
    HOLDFASTS,
    BurialAnswer,
    GroundAnswer,
    Moisture,
    PostAnswer,
    SoilOptions,
    SoilUnit,
    StakeAnswer,
    Verdict,
)
from boscage.soil.components import (
    Profile,
    Tool,
    as_shares,
    depth_on_share,
    flood_class,
    ground_shares,
    reach,
    unit_strength,
)
from boscage.soil.strength import MOST_MPA

Array = NDArray[np.float64]
VERDICTS: tuple[Verdict, ...] = ("yes", "doubtful", "no", "unknown")
CLAY_FROM_PCT, GRAVELLY_FROM_PCT = 27.0, 15.0


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


def spade_tool(options: SoilOptions) -> Tool:
    """A spade and a pick down to the bottom of a pit."""
    deep = options.bury_depth.m * 100.0
    return Tool(
        easy_mpa=options.dig_stop_mpa, stop_mpa=options.dig_stop_mpa, least_cm=deep, wanted_cm=deep, needs_hold=False
    )


def assumption(options: SoilOptions) -> str:
    """The rule that maps penetration resistance to posts, as it must be printed with every answer."""
    return (
        f"Assumed, not published: a post can be driven by hand up to {options.post_easy_mpa:g} MPa, cannot from "
        f"{options.post_stop_mpa:g} MPa, doubtful between; doubtful from {options.rock_slow_pct:g} % rock fragments, "
        f"stopped from {options.rock_stop_pct:g} %. Test one."
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
    at, hard, soft = (
        verdicts(ground_shares(made, shift_ln + sign * error, tool, options.moisture, options), options)
        for sign in (0.0, 1.0, -1.0)
    )  # fmt: skip
    out = np.where((at == 0) & (hard != 0), 1, at)
    out = np.where((at == 2) & (soft != 2), 1, out)
    rock_alone = (at == 2) & (soft == 2)
    return np.where(known | rock_alone, out, 3)


def answer_posts(place: Place, options: SoilOptions) -> PostAnswer:
    """Whether posts can be driven at a place."""
    if place.unit is None or not place.made:
        return _posts_without_map(place, options)
    tool, share = post_tool(options), [p.share for p in place.made]
    shift, error = np.array([place.shift_ln]), np.array([_error(place, options)])
    index = int(post_verdicts(place.made, shift, error, options)[0])
    row = ground_shares(place.made, shift, tool, options.moisture, options)[0]
    found = [reach(p, shift, tool, options.moisture, options) for p in place.made]
    deepest = max((h.bottom_cm for p in place.made for h in p.component.horizons), default=0.0)
    sure = depth_on_share([min(float(f.sure_cm[0]), deepest) for f in found], share, options.yes_share)
    most = depth_on_share([min(float(f.most_cm[0]), deepest) for f in found], share, options.yes_share)
    if row[3] > 1.0 - options.yes_share + 1e-9:
        sure = most = math.nan
    why = _why_posts(index, row, tool, options)
    if place.stopped_cm < tool.wanted_cm:
        sure = min(sure, place.stopped_cm) if not math.isnan(sure) else sure
        if VERDICTS[index] == "yes":
            index, why = 1, f"The map allows it, but a probe was stopped at {place.stopped_cm:.0f} cm close by."
        else:
            why += f" A probe was stopped at {place.stopped_cm:.0f} cm close by."
    return PostAnswer(verdict=VERDICTS[index], shares=as_shares(row), depth_cm=sure, most_cm=most, why=why)


def _error(place: Place, options: SoilOptions) -> float:
    """The place's own error, else the map's."""
    if math.isfinite(place.error_ln):
        return place.error_ln
    return unit_strength(place.made, 0.0, options.post_depth.m * 100.0, options.moisture).estimate_ln


def unmapped_verdicts(shift_ln: Array, error_ln: Array, options: SoilOptions) -> NDArray[np.int64]:
    """(N,) index into `VERDICTS` where readings alone speak: of resistance and not of rock, so never 'yes'."""
    hard = shift_ln - error_ln >= math.log(options.post_stop_mpa)
    return np.where(np.isfinite(error_ln), np.where(hard, 2, 1), 3)


def _posts_without_map(place: Place, options: SoilOptions) -> PostAnswer:
    index = int(unmapped_verdicts(np.array([place.shift_ln]), np.array([place.error_ln]), options)[0])
    why = f"No soil map here; readings close by give about {math.exp(place.shift_ln):.1f} MPa, and rock is not known."
    if VERDICTS[index] == "unknown":
        why = "Nothing is known of the soil here."
    shares = as_shares(np.eye(4)[index])
    return PostAnswer(verdict=VERDICTS[index], shares=shares, depth_cm=math.nan, most_cm=math.nan, why=why)


def _why_posts(index: int, row: Array, tool: Tool, options: SoilOptions) -> str:
    yes, doubtful, no, unknown = (100.0 * v for v in row)
    said = f"driven to {tool.wanted_cm:.0f} cm on {yes:.0f} % of the ground"
    said += f", stopped above {tool.least_cm:.0f} cm on {no:.0f} %, doubtful on {doubtful:.0f} %"
    said += f", unknown on {unknown:.0f} % ({options.moisture})"
    if VERDICTS[index] == "doubtful" and (yes >= 100.0 * options.yes_share or no >= 100.0 * options.no_share):
        said += "; not sure within one standard error of the resistance"
    return said[0].upper() + said[1:] + "."


def answer_stakes(place: Place, pull_n: float, options: SoilOptions, month: int | None = None) -> StakeAnswer:
    """What holds a level pull.

    The cheapest published group of pickets whose strength in this ground is the margin times the pull, or as many of
    the strongest as it takes. The strength is halved where the ground is saturated: when wet is asked for, or where wet
    soil stands within the pickets' depth that month. Whether pickets can be driven is asked of moist ground then, since
    the halving already counts the mud.

    Args:
        place: Where.
        pull_n: Newtons, over 0.
        options: Margin and factors.
        month: 1 to 12, or None for the wettest.

    Raises:
        InputError: The pull is not over 0.
    """
    if not (math.isfinite(pull_n) and pull_n > 0.0):
        raise InputError(f"the pull is {pull_n:g} N", expected="a number over 0")
    factor, reasons = _stake_factor(place, options, month)
    options = replace(options, moisture="moist") if options.moisture == "wet" else options
    tool = picket_tool(options)
    row = ground_shares(place.made, np.array([place.shift_ln]), tool, options.moisture, options)[0]
    index = tool_verdict(place, tool, options)
    if place.stopped_cm < tool.wanted_cm and VERDICTS[index] == "yes":
        index = 1
    if VERDICTS[index] != "yes":
        deep = f"{tool.wanted_cm:.0f} cm deep here"
        how = {
            "doubtful": f"it is doubtful that pickets go {deep}", "no": f"pickets do not go {deep}",
            "unknown": f"nobody knows whether pickets go {deep}",
        }[VERDICTS[index]]  # fmt: skip
        why = f"No published strength: {how} (yes on {100 * row[0]:.0f} % of the ground). "
        why += "Use trees, boulders or deadmen, or test a stake."
        return StakeAnswer(pull_n=pull_n, holdfast=None, count=0, pickets=0, factor=factor, holds_n=0.0, why=why)
    wanted = options.holdfast_margin * pull_n / factor
    chosen = next((h for h in sorted(HOLDFASTS, key=lambda h: (h.pickets, -h.holds_n)) if h.holds_n >= wanted), None)
    count = 1
    if chosen is None:
        chosen = HOLDFASTS[-1]
        count = math.ceil(wanted / chosen.holds_n)
    why = f"Published for undisturbed loam, with a margin of {options.holdfast_margin:g}{reasons}."
    return StakeAnswer(
        pull_n=pull_n, holdfast=chosen, count=count, pickets=count * chosen.pickets, factor=factor,
        holds_n=count * chosen.holds_n * factor, why=why,
    )  # fmt: skip


def tool_verdict(place: Place, tool: Tool, options: SoilOptions) -> int:
    """Index into `VERDICTS` for any tool at one place, a 'yes' holding one standard error harder too."""
    if not place.made:
        return 3
    error = _error(place, options)
    if not math.isfinite(error):
        return 3
    shift = np.array([place.shift_ln, place.shift_ln + error])
    found = verdicts(ground_shares(place.made, shift, tool, options.moisture, options), options)
    return 1 if found[0] == 0 and found[1] != 0 else int(found[0])


def _stake_factor(place: Place, options: SoilOptions, month: int | None) -> tuple[float, str]:
    """What the ground leaves of the published strength, and why."""
    deep = options.picket_depth.m * 100.0
    if options.moisture == "wet":
        return options.saturated_factor, f", times {options.saturated_factor:g} for saturated ground"
    wet = sum(p.share for p in place.made if wet_top_cm(p, month) < deep)
    if wet >= options.flood_share:
        when = f", times {options.saturated_factor:g}: wet soil stands within {deep:.0f} cm on {100 * wet:.0f} % of it"
        return options.saturated_factor, when
    stony = sum(p.share for p in place.made if _is_stony_clay(p, deep))
    if stony >= 1.0 - options.yes_share:
        return options.stony_clay_factor, f", times {options.stony_clay_factor:g} for clay mixed with gravel"
    silent = sum(p.share for p in place.made if not p.component.wet_top_cm)
    return 1.0, "; how wet it gets is not mapped" if silent > 1.0 - options.yes_share else ""


def _is_stony_clay(profile: Profile, deep_cm: float) -> bool:
    return any(
        h.clay_pct >= CLAY_FROM_PCT and h.rock_pct >= GRAVELLY_FROM_PCT
        for h in profile.component.horizons
        if h.top_cm < deep_cm
    )


def wet_top_cm(profile: Profile, month: int | None) -> float:
    """Depth to wet soil in a month (1 to 12), or the year's least; NaN where it is not stated."""
    tops = profile.component.wet_top_cm
    if not tops:
        return math.nan
    return min(tops) if month is None else tops[month - 1]


def answer_burial(place: Place, options: SoilOptions) -> BurialAnswer:
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
    return BurialAnswer(verdict=VERDICTS[index], shares=as_shares(rows), why=_why_burial(place, blame, rows, options))


def _why_burial(place: Place, blame: dict[str, float], rows: Array, options: SoilOptions) -> tuple[str, ...]:
    deep = options.bury_depth.m * 100.0
    why = [f"{name} within reach of a pit {deep:.0f} cm deep on {100 * s:.0f} % of the ground."
           for name, s in blame.items() if s > 0.0 and name != "flooding"]  # fmt: skip
    floods = flood_class(place.unit, options.flood_share) if place.unit is not None else None
    if blame["flooding"] > 0.0:
        why.append(f"floods ({floods or 'some of it'}) on {100 * blame['flooding']:.0f} % of the ground.")
    if rows[3] > 0.0:
        why.append(f"depth, water or flooding is not known on {100 * rows[3]:.0f} % of the ground.")
    if not why:
        why.append(f"no rock, water or flooding mapped within reach of a pit {deep:.0f} cm deep.")
    why.append("wells, streams and the law are not looked at here.")
    return tuple(w[0].upper() + w[1:] for w in why)


def answer(
    place: Place, options: SoilOptions, *, pull_n: float | None = None, month: int | None = None
) -> GroundAnswer:
    """All that the ground at one place allows.

    Args:
        place: Where, with what readings add there.
        options: Limits.
        pull_n: Level pull to be held by stakes, newtons; None leaves stakes out.
        month: 1 to 12, for wet soil round stakes; None for the wettest.
    """
    mpa, error, known = _figures(place, options.moisture, options)
    return GroundAnswer(
        unit=place.unit, moisture=options.moisture, resistance_mpa=mpa, error_ln=error,
        shift_ln=place.shift_ln if place.basis in ("map and readings", "readings") else 0.0, basis=place.basis,
        named_share=known, stopped_cm=place.stopped_cm if math.isfinite(place.stopped_cm) else math.nan,
        posts=answer_posts(place, options),
        stakes=None if pull_n is None else answer_stakes(place, pull_n, options, month),
        burial=answer_burial(place, options), assumption=assumption(options), notes=_notes(place),
    )  # fmt: skip


def _figures(place: Place, moisture: Moisture, options: SoilOptions) -> tuple[float, float, float]:
    """Resistance from the surface to the depth of a post, its error, and the share of ground it speaks of."""
    if place.basis == "readings":
        return math.exp(place.shift_ln), place.error_ln, 0.0
    found = unit_strength(place.made, 0.0, options.post_depth.m * 100.0, moisture)
    if math.isnan(found.ln_mpa):
        return math.nan, math.nan, 0.0
    error = place.error_ln if place.basis == "map and readings" else found.error_ln
    return math.exp(found.ln_mpa + place.shift_ln), error, found.known_share


def _notes(place: Place) -> tuple[str, ...]:
    """What was filled in or held to a bound, each once, with the soils that it concerns."""
    by_text: dict[str, list[str]] = {}
    for profile in place.made:
        for text in dict.fromkeys(text for strength in profile.strengths for text in strength.notes):
            by_text.setdefault(text, []).append(profile.component.name)
    notes = [f"{text} ({', '.join(names)})" for text, names in by_text.items()]
    return (*notes, f"estimates are held to {MOST_MPA:g} MPa at most") if notes else ()
