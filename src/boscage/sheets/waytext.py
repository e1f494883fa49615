"""The way in and out in words and figures: times, load and trips, legs, what is crossed."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boscage.model.journey import LEG_WORDS, NOT_KNOWN, Journey, Leg, NoWay
from boscage.model.layers import LAYER_TITLES
from boscage.model.plan import Plan
from boscage.model.results import ScoutResult
from boscage.sheets.flow import Block, gap, heading, loud, paragraph
from boscage.sheets.style import BODY, BOLD, TextStyle
from boscage.sheets.waytable import Card, Column, Row, beside, cards, table
from boscage.values import Printer

NOT_ASKED = "The way in was not worked out in this run, so it is not known: the factor `access` is left out."
_GUTTER_MM = 6.0
_LOUD = TextStyle(size_pt=14.0, bold=True)
_START = TextStyle(size_pt=9.0, bold=True)
_SHARES = (9.0, 17.0, 14.5, 13.5, 13.5, 13.7, 13.7)
_TITLES = ("", "leg", "distance", "climb", "fall", "moving", "change before")


def minutes(value: float) -> str:
    """Whole minutes.

    >>> minutes(12.4), minutes(0.2)
    ('12 min', 'under 1 min')
    """
    return f"{value:,.0f} min" if value >= 0.5 or value == 0.0 else "under 1 min"


def rise(value_m: float, printer: Printer) -> str:
    """A sum of rises or falls, or that there is no terrain for it."""
    return "no data" if math.isnan(value_m) else printer.height(value_m + 0.0)


def way_in_blocks(journey: Journey | NoWay | None, result: ScoutResult, width: float) -> list[Block]:
    """The part of the page on the way in, for a column of that width in mm."""
    title = heading("Way in", width)
    if journey is None:
        text = NOT_KNOWN if "access" in result.factor_weights else NOT_ASKED
        return [title, *paragraph(text, width, _LOUD), gap(1.6)]
    if isinstance(journey, NoWay):
        return [title, *_no_way(journey, width), gap(1.6)]
    plan = result.plan
    printer = Printer(plan.ranch.units)
    blocks = [title, *paragraph(f"Start: {journey.start}.", width, _START), _figures(journey, plan, width), gap(1.4)]
    if journey.inward or journey.outward:
        half = (width - _GUTTER_MM) / 2
        inward = _legs("In, with the first load", journey.inward, journey.minutes_in, printer, half)
        outward = _legs("Out, with a load", journey.outward, journey.minutes_out, printer, half)
        blocks += [beside(inward, outward, half + _GUTTER_MM), gap(1.6)]
    return [*blocks, *_crossed(journey.crossings, result, width), gap(1.0)]


def _no_way(journey: NoWay, width: float) -> list[Block]:
    blocks = paragraph(journey.reason, width, _LOUD)
    for barrier in journey.barriers:
        blocks += paragraph(barrier, width, TextStyle(size_pt=10.0, bold=True), bullet=True)
    note = "No way in is drawn, and no times are given. The front and the back of this sheet show the ground round it."
    return [*blocks, gap(0.8), *paragraph(note, width, BODY)]


def _figures(journey: Journey, plan: Plan, width: float) -> Block:
    """In, out, load, trips, carry, time until all of it is there, energy."""
    printer, carry = Printer(plan.ranch.units), journey.carry
    items = [
        Card(label="in", value=minutes(journey.minutes_in), note="from the start, with the first load"),
        Card(label="out", value=minutes(journey.minutes_out), note="back to the start, with a load"),
        Card(label="load", value=printer.mass(journey.load_kg), note=journey.load_note, share=1.2),
    ]
    if carry is None:
        ride = f"{LEG_WORDS[journey.inward[-1].kind]} up to the set" if journey.inward else "the start is at the set"
        return cards([*items, Card(label="carry on foot", value="none", note=ride)], width)
    count, people = journey.trips, plan.travel.people
    who = f"of {people} people" if people > 1 else "of one person"
    climb, fall = (rise(v, printer).replace(" ", "\u00a0") for v in (carry.climb_m, carry.descent_m))
    items += [
        Card(
            label="trips", value="1 trip" if count == 1 else f"{count} trips",
            note=f"{who}, {printer.mass(journey.share_kg)} each",
        ),
        Card(label="carry", value=printer.length(carry.distance_m), note=f"climb {climb}, fall {fall}"),
        Card(
            label="carrying", value=minutes(journey.carry_min),
            note="until the whole load is there" + ("" if count == 1 else ", with the empty walks back"),
        ),
        Card(
            label="energy", value=f"about {_tens(journey.kcal)}", note="kcal each, for the carrying",
            share=1.12,
        ),
    ]  # fmt: skip
    return cards(items, width)


def _tens(kcal: float) -> str:
    return f"{max(10.0, round(kcal, -1)):,.0f}"


def _legs(title: str, legs: Sequence[Leg], total_min: float, printer: Printer, width: float) -> list[Block]:
    """A table of legs with the whole way in its last row."""
    whole = sum(_SHARES)
    columns = [
        Column(title=name, width_mm=width * share / whole, right=k > 1)
        for k, (name, share) in enumerate(zip(_TITLES, _SHARES, strict=True))
    ]
    rows = [
        Row(
            cells=(
                "", LEG_WORDS[leg.kind], printer.length(leg.distance_m), rise(leg.climb_m, printer),
                rise(leg.descent_m, printer), minutes(leg.minutes),
                minutes(leg.change_min) if leg.change_min else "none",
            ),
            line=f"way_{leg.kind}",
        )
        for leg in legs
    ]  # fmt: skip
    far, up, down, moving, change = (
        sum(values)
        for values in (
            [leg.distance_m for leg in legs], [leg.climb_m for leg in legs], [leg.descent_m for leg in legs],
            [leg.minutes for leg in legs], [leg.change_min for leg in legs],
        )
    )  # fmt: skip
    cells = ("", "all", printer.length(far), rise(up, printer), rise(down, printer), minutes(moving), minutes(change))
    head = paragraph(f"{title}: {minutes(total_min)}", width, BOLD)
    return [*head, *table(columns, [*rows, Row(cells=cells, bold=True)])]


def is_locked(crossing: str) -> bool:
    """Whether a crossing's words say that something is locked.

    >>> is_locked("gate Mill (locked: get the key or the code)"), is_locked("gate Locked Hollow")
    (True, False)
    """
    return "(locked" in crossing


def _crossed(crossings: Sequence[str], result: ScoutResult, width: float) -> list[Block]:
    """What the way in crosses, in order; what is locked stands out, what is not mapped is said."""
    blocks: list[Block] = []
    for words in filter(is_locked, crossings):
        blocks += loud(words.replace("(locked", "(LOCKED"), width)
    rest = [words for words in crossings if not is_locked(words)]
    lacking = [LAYER_TITLES[name] for name in ("gates", "fences", "water") if name in result.missing_layers]
    text = f"{'Also' if blocks else 'On the way in'}: {'; '.join(rest)}." if rest else ""
    if not crossings:
        text = "On the way in: nothing that is mapped has to be opened or crossed. Look on the ground."
    if lacking:
        text += f" NOT MAPPED: {', '.join(lacking)}. Whether the way meets any is not known."
    return [*blocks, *paragraph(text, width, BODY)]
