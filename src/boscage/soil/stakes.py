"""What holds a pull, and what holds the apron down."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from boscage.errors import InputError
from boscage.model.soil import HOLDFASTS, VERDICTS, ApronStakes, SoilOptions, StakeAnswer
from boscage.soil.components import Profile, ground_shares
from boscage.soil.place import METRIC, Place, picket_tool, stake_tool, tool_verdict, wet_top_cm
from boscage.values import Printer

CLAY_FROM_PCT, GRAVELLY_FROM_PCT = 27.0, 15.0


def answer_stakes(
    place: Place, pull_n: float, options: SoilOptions, month: int | None = None, printer: Printer = METRIC
) -> StakeAnswer:
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
        printer: Units of the reason.

    Raises:
        InputError: The pull is not over 0.
    """
    if not (math.isfinite(pull_n) and pull_n > 0.0):
        raise InputError(f"the pull is {pull_n:g} N", expected="a number over 0")
    factor, reasons = stake_factor(place, options, month, printer)
    options = replace(options, moisture="moist") if options.moisture == "wet" else options
    tool = picket_tool(options)
    row = ground_shares(place.made, np.array([place.shift_ln]), tool, options.moisture, options)[0]
    index = tool_verdict(place, tool, options)
    if place.stopped_cm < tool.wanted_cm and VERDICTS[index] == "yes":
        index = 1
    if VERDICTS[index] != "yes":
        deep = f"{printer.small(options.picket_depth.m)} deep here"
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


def answer_apron(
    place: Place, options: SoilOptions, month: int | None = None, printer: Printer = METRIC
) -> ApronStakes:
    """Which ground stakes hold the apron: the project's own assumption, common practice, no source.

    Firm ground takes a stake, more of them where it is wet or stony clay, in the measure in which a holdfast loses its
    strength there. Mud takes long stakes, two for one. Hard or stony ground takes driven steel pins. Where nothing
    goes in, the apron is weighed down. Ground that is not known is none of these: stakes and pins both are brought.
    """
    factor, reasons = stake_factor(place, options, month, printer)
    options = replace(options, moisture="moist") if options.moisture == "wet" else options
    deep, tool = printer.small(options.stake_depth.m), stake_tool(options)
    found = VERDICTS[tool_verdict(place, tool, options)]
    if found == "yes" and place.stopped_cm < tool.wanted_cm:
        return ApronStakes(kind="steel pin", times=1.0, why=f"A probe was stopped above {deep} close by: drive pins.")
    if found == "yes":
        why = f"Stakes go {deep} deep{reasons}."
        return ApronStakes(kind="stake", times=1.0 / factor, why=why)
    if found == "doubtful" and VERDICTS[tool_verdict(place, replace(tool, needs_hold=False), options)] == "yes":
        why = f"Mud over most of {deep}: long stakes, more of them."
        return ApronStakes(kind="long stake", times=1.0 / options.saturated_factor, why=why)
    if found == "doubtful":
        why = f"Too hard or stony, or too little known, to be sure of {deep}: drive pins."
        return ApronStakes(kind="steel pin", times=1.0, why=why)
    if found == "no":
        return ApronStakes(kind="weight", times=1.0, why=f"Nothing goes {deep} deep: weigh the apron down.")
    why = f"Nobody knows whether a stake goes {deep} deep: bring stakes and pins, test one of each."
    return ApronStakes(kind="stake", times=1.0, why=why, also=("steel pin",))


def stake_factor(
    place: Place, options: SoilOptions, month: int | None, printer: Printer = METRIC
) -> tuple[float, str]:
    """What the ground leaves of the published strength, and why."""
    deep = options.picket_depth.m * 100.0
    if options.moisture == "wet":
        return options.saturated_factor, f", times {options.saturated_factor:g} for saturated ground"
    wet = sum(p.share for p in place.made if wet_top_cm(p, month) < deep)
    if wet >= options.flood_share:
        share, within = f"{100 * wet:.0f} % of it", printer.small(options.picket_depth.m)
        when = f", times {options.saturated_factor:g}: wet soil stands within {within} on {share}"
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


