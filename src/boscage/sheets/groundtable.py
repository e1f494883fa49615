"""The text of the ground sheet: map units in a table, how the maps were made, what to mind before digging."""

from __future__ import annotations

import math

from boscage.model.ground import GroundField, UnitRow
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, table
from boscage.sheets.groundwords import (
    ASSUMED,
    NOT_KNOWN,
    TEST_FIRST,
    counted,
    depth_words,
    flood_words,
    part_words,
    resistance_words,
    rock_words,
    verdict_words,
)
from boscage.sheets.style import BODY, SMALL, TextStyle
from boscage.values import Printer

CAUTIONS = (
    "Ask for buried lines to be marked before driving or digging: in the United States call 811 some days before "
    "(common practice, no source). A mark on the ground, not this map, says where they run.",
    "Burial: local law, wells and water decide. The soil map only says whether a pit can be dug.",
    "A map unit is a mix of soils: the map does not say which of them lies under one spot.",
)
DIGGING = (
    "Classes of resistance and how ground is dug: Soil Survey Manual (USDA Handbook 18), chapter 3. That a class of "
    "resistance is dug like the excavation class of its rank is the project's own assumption."
)
NO_READINGS = "NO READINGS: this is the soil map alone."
NO_MAP = "NO SOIL MAP: there is no map unit to list. That is NOT the same as soft ground."
_FIXED = (13.0, 14.5, 11.5, 33.0, 14.5, 19.5, 15.5, 14.5, 14.5)
_CELL, _STRONG = TextStyle(size_pt=7.0), TextStyle(size_pt=7.0, bold=True)


def standing(field: GroundField, unknown: float, width: float) -> list[Block]:
    """What must not be overlooked: readings or none, what is not known, a stake first.

    Args:
        field: The ground.
        unknown: Share of the ranch without a figure.
        width: Of the body, mm.
    """
    first = f"{readings_words(field)}. " if field.places else f"{NO_READINGS} "
    lacking = ""
    if unknown >= 0.005:
        lacking = f"NOT KNOWN on {part_words(unknown)} of the ranch: that is NOT the same as soft ground. "
    return loud(f"{first}{lacking}{TEST_FIRST}", width)


def readings_words(field: GroundField) -> str:
    """How many readings at how many places."""
    stopped = sum(math.isfinite(p.stopped_cm) for p in field.places)
    total = sum(p.readings for p in field.places)
    words = f"{counted(total, 'reading', 'readings')} at {counted(len(field.places), 'place', 'places')}"
    return f"{words}, the probe stopped at {stopped:,} of them" if stopped else words


def unit_table(field: GroundField, printer: Printer, width: float) -> list[Block]:
    """A row for each map unit, widest first."""
    title = heading(f"Map units: {len(field.rows)} (the soil map alone, without readings)", width)
    if not field.rows:
        return [title, *loud(NO_MAP, width)]
    titles = ("symbol", "area", "named", "resistance, class: figure", "hard layer", "rock at most", "flooding", "posts",
              "burial")  # fmt: skip
    styles = (_STRONG, *[_CELL] * 6, _STRONG, _STRONG)
    columns = [Column(title=t, width_mm=w, style=s) for t, w, s in zip(titles, _FIXED, styles, strict=True)]
    columns.insert(1, Column(title="name", width_mm=width - sum(_FIXED), style=_CELL))
    note = (
        "Named: share of the unit of which anything is known. Resistance: from the surface to the depth of a post, "
        f"{field.moisture} ground; likely: one standard error either way. Hard layer: at this depth or deeper on most "
        "of the unit, or the end of the description. Rock: fragments by volume on most of it, with the manual's word."
    )
    return [*table(columns, [_unit_row(r, printer) for r in field.rows], title=title), gap(0.6),
            *paragraph(note, width, SMALL)]  # fmt: skip


def _unit_row(row: UnitRow, printer: Printer) -> tuple[str, ...]:
    return (
        row.symbol, row.name, printer.area(row.hectares), part_words(row.named_share),
        resistance_words(row.resistance_mpa, row.error_ln, printer), depth_words(row.depth_cm, printer),
        rock_words(row.rock_pct), flood_words(row.flood_class), verdict_words(row.posts), verdict_words(row.burial),
    )  # fmt: skip


def how_made(field: GroundField, width: float) -> list[Block]:
    """Moisture, readings, the rule, what leaving places out gives, the assumption, notes."""
    title = heading("How it was made", width)
    blocks: list[Block] = [title]
    lines = [f"All figures and answers are for {field.moisture} ground."]
    if field.places:
        lines.append(f"Readings: {readings_words(field)}. {_sentence(field.rule or f'how they count is {NOT_KNOWN}')}")
        lines.append(
            field.left_out or f"How far off the map is where nobody probed could not be worked out: {NOT_KNOWN}."
        )
    for line in lines:
        blocks += paragraph(line, width, BODY, bullet=True, again=title)
    if not field.places:
        blocks += loud(f"{NO_READINGS} Nothing here was measured on this ranch. {TEST_FIRST}", width)
    if field.assumption:
        blocks += loud(f"{ASSUMED}: {field.assumption}", width)
    else:
        blocks += loud(f"{ASSUMED} on posts: not stated.", width)
    for note in (DIGGING, *field.notes):
        blocks += paragraph(note, width, BODY, bullet=True, again=title)
    return [*blocks, gap(2.0)]


def _sentence(text: str) -> str:
    text = text.rstrip(". ")
    return f"{text[:1].upper()}{text[1:]}."


def cautions(width: float) -> list[Block]:
    """What to mind before anything is driven, hung or dug."""
    title = heading("Before anything is driven, hung or dug", width)
    blocks = [title, *loud(TEST_FIRST, width)]
    for text in CAUTIONS:
        blocks += paragraph(text, width, BODY, bullet=True, again=title)
    return blocks
