"""The first page of the report: what was done, caught and covered, what is left, what comes next. Always one page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from boscage.model.ledger import ANIMAL_CLASSES
from boscage.model.report import NextStep, ReportResult, counted, listed
from boscage.sheets.flow import Block, Column, draw_all, gap, height_of, paragraph, pour, set_lines, table
from boscage.sheets.page import Box, Page
from boscage.sheets.reportwords import (
    CAUTIONS,
    area_words,
    caught_words,
    copy_words,
    damage_words,
    done_words,
    left_words,
    missing_words,
    nights_words,
    others_words,
    percent,
    state_words,
    two,
    where_words,
)
from boscage.sheets.running import body_box, draw_foot
from boscage.sheets.sheet import Sheet
from boscage.sheets.style import GREY, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import fit
from boscage.values import Printer

_TILE_MM, _TILE_GAP_MM = 17.0, 3.0
Row = tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Room:
    """How much of each list is shown, and in which size of type."""

    size_pt: float
    catches: int
    owners: int
    groups: int
    steps: int
    lines: int = 3

    @property
    def body(self) -> TextStyle:
        """Running text."""
        return TextStyle(size_pt=self.size_pt)

    @property
    def bold(self) -> TextStyle:
        """What must be seen."""
        return TextStyle(size_pt=self.size_pt, bold=True)


ROOMS = (
    Room(size_pt=9.5, catches=6, owners=5, groups=7, steps=8),
    Room(size_pt=9.0, catches=5, owners=5, groups=6, steps=7),
    Room(size_pt=8.5, catches=4, owners=4, groups=5, steps=6),
    Room(size_pt=8.0, catches=3, owners=3, groups=4, steps=5, lines=2),
    Room(size_pt=7.0, catches=2, owners=2, groups=3, steps=4, lines=1),
)
"""From the roomiest to the tightest; the first that fits on the page is taken."""


def plan_front(result: ReportResult) -> Sheet:
    """The front page, laid out but not drawn."""
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    title = result.plan.ranch.name
    name = fit(title, body.width - 26.0, TextStyle(size_pt=19.0, bold=True), lines=2, floor_pt=9.0)
    top = body.y + name.height_mm + 9.4
    for room in ROOMS:
        blocks = front_blocks(result, body.width, room)
        if height_of(blocks) <= body.bottom - top:
            break
    placed, _ = pour(blocks, [Box(body.x, top, body.width, body.bottom - top)])

    def draw(page: Page) -> None:
        y = page.lines(body.x, body.y, name) + 0.8
        number = TextStyle(bold=True, align="right")
        page.text(body.right, body.y + 4.0, f"page {page.number} of {page.of}", number)
        words = f"Trapping report, {nights_words(result)}; as of {result.plan.date}; times in {result.zone}"
        words += f"; land of {result.owner}" if result.owner else ""
        page.lines(body.x, y, fit(words, body.width, TextStyle(size_pt=10.0)))
        page.line((body.x, body.right), (y + 5.4, y + 5.4), LineLook(width_pt=1.4))
        draw_all(page, placed[0])
        draw_foot(page, result)

    return Sheet("front", draw)


def front_blocks(result: ReportResult, width: float, room: Room) -> list[Block]:
    """All of the page below its head."""
    style = room.body
    return [
        *paragraph(copy_words(result), width, room.bold), gap(0.8), _tiles(result, width), gap(2.0),
        *_part("What was done", [done_words(result)], width, style),
        *_part("What was caught", [caught_words(result), others_words(result)], width, style),
        *_catches(result, width, room),
        *_part("Where", [where_words(result)], width, style), *_owners(result, width, room),
        *_part("What is left", [left_words(result)], width, style), *_groups(result, width, room),
        *_part("Damage", [damage_words(result)], width, style),
        *_part("What comes next", [], width, style), *_steps(result, width, room),
        *_part("Mind", [], width, style),
        *[b for text in CAUTIONS for b in paragraph(text, width, replace(style, size_pt=style.size_pt - 0.5),
                                                    bullet=True)],
    ]  # fmt: skip


def _part(title: str, texts: Sequence[str], width: float, style: TextStyle) -> list[Block]:
    """A heading and sentences under it."""
    big = fit(title, width, TextStyle(size_pt=style.size_pt + 1.5, bold=True))
    head = set_lines(big)[0]
    inner = head.draw

    def draw(page: Page, x: float, y: float) -> None:
        page.line((x, x + width), (y, y), LineLook(colour=GREY, width_pt=0.5))
        inner(page, x, y + 0.5)

    blocks = [replace(head, height_mm=head.height_mm + 0.9, draw=draw, keep_next=True)]
    return [gap(1.0), *blocks, *[b for text in texts if text for b in paragraph(text, width, style)]]


def _tiles(result: ReportResult, width: float) -> Block:
    """Four figures to be seen at a glance."""
    land, printer = result.covered, Printer(result.plan.ranch.units)
    share = percent(land.covered_ha / land.granted_ha) if land.granted_ha else "none known"
    groups = result.groups
    alive = (f"{groups.minimum_alive:,}", "known to be left, at least") if groups.known else ("?", "left: not known")
    tiles = (
        (f"{result.effort.armed_nights:,}", "armed nights, all sets"),
        (f"{result.captures.total:,}", "animals caught"),
        alive,
        (area_words(land.covered_ha, printer), f"covered, {share} of land with permission"),
    )
    each = (width - (len(tiles) - 1) * _TILE_GAP_MM) / len(tiles)

    def draw(page: Page, x: float, y: float) -> None:
        for k, (figure, words) in enumerate(tiles):
            left = x + k * (each + _TILE_GAP_MM)
            page.area(Box(left, y, each, _TILE_MM), AreaLook(outline=LineLook(width_pt=0.9)))
            page.lines(left + 2.0, y + 1.4, fit(figure, each - 4.0, TextStyle(size_pt=19.0, bold=True)))
            page.lines(left + 2.0, y + 9.9, fit(words, each - 4.0, TextStyle(size_pt=7.5), lines=2))

    return Block(height_mm=_TILE_MM, draw=draw)


def _table(heads: Sequence[tuple[str, float]], rows: Sequence[Row], width: float, room: Room) -> list[Block]:
    """A table whose columns share the width; the first column is bold."""
    whole = sum(share for _, share in heads)
    small = replace(room.body, size_pt=room.size_pt - 0.5)
    columns = [
        Column(title=title, width_mm=width * share / whole, style=replace(small, bold=k == 0), lines=room.lines)
        for k, (title, share) in enumerate(heads)
    ]
    return [*table(columns, rows), gap(0.8)]


def _more(count: int, word: str, width: float, room: Room) -> list[Block]:
    text = f"{counted(count, word)} more: see the annex."
    return paragraph(text, width, replace(room.body, size_pt=room.size_pt - 1.0, colour=GREY)) if count > 0 else []


def _catches(result: ReportResult, width: float, room: Room) -> list[Block]:
    nights = result.captures.nights
    if not nights:
        return []
    rows = [
        (n.night.isoformat(), n.site, listed(n.groups, 2) or "no group written", *[str(c) for c in n.counts],
         str(n.animals), two(n.days_from_bait))
        for n in nights[-room.catches :]
    ]  # fmt: skip
    heads = (("night (evening date)", 34.0), ("set", 24.0), ("group", 50.0), *[(c, 15.0) for c in ANIMAL_CLASSES],
             ("all", 11.0), ("days from bait", 24.0))  # fmt: skip
    return [*_table(heads, rows, width, room), *_more(len(nights) - room.catches, "earlier catch", width, room)]


def _owners(result: ReportResult, width: float, room: Room) -> list[Block]:
    owners = sorted(result.covered.owners, key=lambda o: -o.covered_ha)
    if not owners:
        return []
    printer = Printer(result.plan.ranch.units)
    unit = "acre" if printer.units == "us" else "hectare"
    rows = [
        (o.owner or "owner not stated", printer.area(o.hectares), area_words(o.covered_ha, printer),
         percent(o.covered_share), two(o.hectare_nights / o.covered_ha) if o.covered_ha else "none")
        for o in owners[: room.owners]
    ]  # fmt: skip
    heads = (("owner", 60.0), ("land with permission", 36.0), ("covered", 26.0), ("share", 22.0),
             (f"armed nights a covered {unit}", 46.0))  # fmt: skip
    return [*_table(heads, rows, width, room), *_more(len(owners) - room.owners, "owner", width, room)]


def _groups(result: ReportResult, width: float, room: Room) -> list[Block]:
    groups = sorted(result.groups.groups, key=lambda g: -(g.missing or 0))
    if not groups:
        return []
    rows = [
        (g.group, NOT_COUNTED if g.known is None else str(g.known), str(g.taken),
         NOT_COUNTED if g.missing is None else str(g.missing), missing_words(g) if g.missing is not None else "",
         state_words(g), g.night.isoformat() if g.night else "no date")
        for g in groups[: room.groups]
    ]  # fmt: skip
    heads = (("group", 46.0), ("known", 19.0), ("taken", 14.0), ("still out", 19.0), ("of them", 48.0),
             ("state", 26.0), ("counted on", 24.0))  # fmt: skip
    return [*_table(heads, rows, width, room), *_more(len(groups) - room.groups, "group", width, room)]


NOT_COUNTED = "no count"


def _steps(result: ReportResult, width: float, room: Room) -> list[Block]:
    steps = result.steps
    if not steps:
        return paragraph("Nothing that the log asks for.", width, room.body)
    rows = [(step.who, _what(step), step.by.isoformat() if step.by else "no day") for step in steps[: room.steps]]
    heads = (("who", 20.0), ("does what", 142.0), ("by", 22.0))
    return [*_table(heads, rows, width, room), *_more(len(steps) - room.steps, "step", width, room)]


def _what(step: NextStep) -> str:
    return f"NOW: {step.what}" if step.urgent else step.what
