"""Blocks 7 to 10 of the front: radio, crash-rescue, protective equipment, go or no-go."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boscage.model.results import Place
from boscage.sheets.dropjob import DropGroup
from boscage.sheets.dropkit import LABEL, LEAST_PT, PLAIN, TITLE_MM, Field, draw_tab, field_row, titled
from boscage.sheets.flow import Block
from boscage.sheets.page import Page
from boscage.sheets.style import LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, text_width_mm, wrap

FLYERS = "flight helmet, fire-resistant clothing, leather boots, gloves, eye protection."
GROUND = (
    "fire-resistant clothing, hard hat with chin strap, eye and ear protection, gloves, leather boots, extinguisher."
)
CHECKS = (
    "pilot current", "aircraft carded", "wind, gusts", "ceiling, visibility", "load calculation", "radios checked",
    "hazards walked", "stock, people away", "briefing attended", "GO: pilot alone",
)  # fmt: skip
_CHECK_MM, _BOX_MM, _INITIALS_MM = 4.7, 3.6, 13.0


def comms_blocks(group: DropGroup, width_mm: float, *, lines: int = 2) -> list[Block]:
    """Frequencies, flight following, what is done when the radio fails; values on so many lines at the most."""
    brief = group.result.plan.brief
    rows = (
        (Field(label="receive", value=brief.receive), Field(label="transmit", value=brief.transmit)),
        (Field(label="tone", value=brief.tone), Field(label="air to air", value=brief.air_to_air)),
        (Field(label="flight following", value=brief.following),),
        (Field(label="lost comms", value=brief.lost_comms),),
        (Field(label="hand signals agreed", value=None),),
    )
    return [titled(7, "Comms", width_mm), *_rows(rows, width_mm, lines)]


def rescue_blocks(group: DropGroup, width_mm: float, *, lines: int = 2) -> list[Block]:
    """Who is called, from where, and where to; everything not stated is a line to write on."""
    result, brief = group.result, group.result.plan.brief
    rows = (
        (Field(label="trauma / burn", value=brief.hospital),),
        (Field(label="phone", value=brief.hospital_phone),),
        (Field(label="its place", value=place_words(result.hospital, brief.hospital_place)),),
        (Field(label="med-evac spot", value=place_words(result.evacuation, brief.evacuation)),),
        (Field(label="road end", value=place_words(result.road_end, brief.road_end)),),
        (Field(label="county", value=brief.county), Field(label="who calls", value=brief.caller, share=1.5)),
        (Field(label="extinguisher, kit", value=brief.kit),),
    )
    call = "emergency: 911" if group.figures.units == "us" else "emergency: the local number"
    return [titled(8, "Crash-rescue", width_mm, call), *_rows(rows, width_mm, lines)]


def _rows(rows: Sequence[Sequence[Field]], width_mm: float, lines: int) -> list[Block]:
    return [field_row([replace(f, lines=lines) for f in row], width_mm) for row in rows]


def place_words(place: Place | None, stated: tuple[float, float] | None) -> str | None:
    """Degrees and decimal minutes; decimal degrees as the plan states them where the place was not worked out."""
    if place is not None:
        return place.ddm
    if stated is None:
        return None
    lon, lat = stated
    return f"{abs(lat):.5f} {'S' if lat < 0 else 'N'}  {abs(lon):.5f} {'W' if lon < 0 else 'E'}"


def ppe_block(width_mm: float) -> Block:
    """Who wears what, in one strip."""
    lead = 17.0
    room = width_mm - lead
    parts = [(who, wrap(words, room - text_width_mm(who, LABEL) - 1.5, PLAIN)) for who, words in
             (("flyers", FLYERS), ("ground", GROUND))]  # fmt: skip
    height = sum(len(lines) for _, lines in parts) * PLAIN.line_mm + 1.6

    def draw(page: Page, x: float, y: float) -> None:
        page.line((x, x + width_mm), (y, y), LineLook(width_pt=1.0))
        draw_tab(page, x, y + 0.8, 9)
        page.text(x + 6.2, y + 4.3, "PPE", TextStyle(size_pt=9.5, bold=True))
        top = y + 0.8
        for who, lines in parts:
            page.text(x + lead, top + PLAIN.ascent_mm, who, LABEL)
            fitted = Fitted(lines=tuple(lines), style=PLAIN)
            top = page.lines(x + lead + text_width_mm(who, LABEL) + 1.5, top, fitted)

    return Block(height_mm=max(height, TITLE_MM), draw=draw)


def go_blocks(width_mm: float) -> list[Block]:
    """Boxes to tick in two columns, each with room for initials."""
    half = (width_mm - 4.0) / 2
    rows = -(-len(CHECKS) // 2)
    room = half - _BOX_MM - 1.5 - _INITIALS_MM - 1.5
    words = [fit(c, room, TextStyle(size_pt=8.0), lines=1, floor_pt=LEAST_PT) for c in CHECKS]

    def draw(page: Page, x: float, y: float) -> None:
        for k, fitted in enumerate(words):
            column, row = divmod(k, rows)
            left, top = x + column * (half + 4.0), y + row * _CHECK_MM
            page.tick_box(left, top + 0.9, size_mm=_BOX_MM)
            page.text(left + _BOX_MM + 1.5, top + 3.7, fitted.lines[0], fitted.style)
            page.blank(left + half - _INITIALS_MM, top + 4.5, _INITIALS_MM)

    return [
        titled(10, "Go / no-go", width_mm, "tick, initials on the line"), Block(height_mm=rows * _CHECK_MM, draw=draw)
    ]  # fmt: skip
