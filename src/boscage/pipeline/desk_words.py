"""What is known of a place, in sentences."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boscage.model.exposure import NOT_KNOWN as SIGHT_NOT_KNOWN
from boscage.model.exposure import Exposure
from boscage.model.journey import LEG_WORDS, Journey, NoWay
from boscage.model.journey import NOT_KNOWN as WAY_NOT_KNOWN
from boscage.model.layers import LAYER_TITLES
from boscage.model.results import StopArea
from boscage.model.soil import APRON_STAKES, GroundAnswer
from boscage.sheets.groundwords import ASSUMED, resistance_words, verdict_words
from boscage.sheets.sighttext import NOBODY, looks_words, share_words
from boscage.sheets.sighttext import NOT_ASKED as SIGHT_NOT_ASKED
from boscage.sheets.sitetext import compass_point
from boscage.sheets.waytext import NOT_ASKED as WAY_NOT_ASKED
from boscage.sheets.waytext import minutes, rise
from boscage.values import Printer

NO_GROUND = "Ground: no soil map and no readings. Test a stake."


def way_sentences(
    journey: Journey | NoWay | None, *, asked: bool, missing: Sequence[str], printer: Printer
) -> tuple[str, ...]:
    """The way in.

    Args:
        journey: As found, or None where none was looked for.
        asked: Whether a factor takes part that finds ways.
        missing: Layers that are not there.
        printer: In the plan's units.
    """
    if journey is None:
        return (WAY_NOT_KNOWN if asked else WAY_NOT_ASKED,)
    if isinstance(journey, NoWay):
        return (journey.reason, *journey.barriers)
    lines = [f"Start: {journey.start}."]
    for leg in journey.inward:
        change = f", after {minutes(leg.change_min)} to change over" if leg.change_min else ""
        climb = rise(leg.climb_m, printer)
        words = f"{LEG_WORDS[leg.kind]}: {printer.length(leg.distance_m)}, climb {climb}, {minutes(leg.minutes)}"
        lines.append(f"{words[:1].upper()}{words[1:]}{change}.")
    lines.append(f"In {minutes(journey.minutes_in)} with the first load, out {minutes(journey.minutes_out)}.")
    load = f"Load {printer.mass(journey.load_kg)} ({journey.load_note})"
    if journey.carry is None:
        lines.append(f"{load}; no carry on foot.")
    else:
        trips = "1 trip" if journey.trips == 1 else f"{journey.trips} trips"
        lines.append(f"{load}: {trips} on foot, {minutes(journey.carry_min)} until all of it is there.")
    crossed = "; ".join(journey.crossings)
    lines.append(f"On the way: {crossed}." if crossed else "Nothing that is mapped has to be opened or crossed.")
    lacking = [LAYER_TITLES[name] for name in ("gates", "fences", "water") if name in missing]
    if lacking:
        lines.append(f"NOT MAPPED: {', '.join(lacking)}. Whether the way meets any is not known.")
    return tuple(lines)


def sight_sentences(
    exposure: Exposure | None, *, asked: bool, missing: Sequence[str], printer: Printer
) -> tuple[str, ...]:
    """Who sees the place; arguments as for `way_sentences`."""
    if exposure is None:
        return (SIGHT_NOT_KNOWN if asked else SIGHT_NOT_ASKED,)
    reach = printer.length(exposure.radius_m)
    if len(exposure.watchers) == 0:
        return (
            f"No road, track, dwelling or parcel line is mapped within {reach}: no line of sight was looked along. "
            "That is NOT the same as none.",
        )
    lines = [
        f"The net's top is seen {looks_words(exposure.net_looks)} times a day, the crew at the set "
        f"{looks_words(exposure.activity_looks)} times."
    ]
    for seen in exposure.worst:
        who = f"{seen.kind} {seen.name}" if seen.name else seen.kind
        away, toward = printer.length(seen.distance_m), compass_point(seen.bearing_deg)
        lines.append(
            f"From the {who}, {away} {toward}: {share_words(seen.share)} of the sight is left, "
            f"{looks_words(seen.looks)} times a day."
        )
    if not exposure.worst:
        lines.append(NOBODY)
    lacking = [LAYER_TITLES[name] for name in ("tracks", "dwellings") if name in missing]
    if lacking:
        lines.append(f"NOT MAPPED: {', '.join(lacking)}. Who looks from there is not counted. NOT the same as nobody.")
    count = len(exposure.watchers)
    lines.append(
        f"Looked at from {count} sampled place{'s' if count != 1 else ''} within {reach}; others do not count."
    )
    return tuple(lines)


def ground_sentences(answer: GroundAnswer | None, printer: Printer) -> tuple[str, ...]:
    """What the ground allows."""
    if answer is None:
        return (NO_GROUND,)
    name = f"{answer.unit.name} ({answer.unit.symbol})" if answer.unit else "No map unit here"
    resistance = resistance_words(answer.resistance_mpa, answer.error_ln, printer)
    lines = [f"{name}: resistance {resistance}, {answer.moisture} ground, from {answer.basis}."]
    if math.isfinite(answer.stopped_cm):
        lines.append(f"A probe close by was STOPPED at {printer.small(answer.stopped_cm / 100.0)}.")
    stakes = " and ".join(APRON_STAKES[kind].title for kind in (answer.apron.kind, *answer.apron.also))
    lines.append(f"Posts: {verdict_words(answer.posts.verdict)}. {answer.posts.why}")
    lines.append(f"Apron: {stakes}. {answer.apron.why}")
    if answer.stakes is not None:
        lines.append(f"Guys: {answer.stakes.why}")
    lines.append(f"Burial: {verdict_words(answer.burial.verdict)}. {' '.join(answer.burial.why)}")
    return (*lines, *answer.bring, f"{ASSUMED}: {answer.assumption}")


def stop_reason(stop: StopArea, printer: Printer) -> str:
    """How far a stop reaches and what to know of it, one sentence; '' where there is nothing to say."""
    reach = f"reaches {printer.length(stop.distance_m)}" if stop.distance_m else ""
    note = stop.note.rstrip(". ")
    text = "; ".join(part for part in (reach, note) if part)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def not_applied(stop: StopArea) -> str:
    """A sentence that cannot be read as good news."""
    why = (stop.note or "no layer given").rstrip(". ")
    return f"{stop.title.upper()}: STOP NOT APPLIED. {why[:1].upper()}{why[1:]}. That is NOT the same as none."
