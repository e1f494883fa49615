"""Cameras on the evidence sheet: what each saw in a table, dials of its visits, what was left out."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boscage.model.findings import CameraFound, Evidence
from boscage.sheets.dayplot import draw_day_plot
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, table
from boscage.sheets.groundwords import NOT_KNOWN, counted
from boscage.sheets.page import Page
from boscage.sheets.style import SMALL, TextStyle
from boscage.sheets.typeset import fit

NO_CAMERAS = "NO CAMERAS: no camera package is in the plan. What passes unseen is not known."
NO_VISIT = "No visit recorded is NOT the same as no animals"
DIALS = (
    "Dials: visits by the hour they began in, by the camera's own clock; midnight at the top, noon at the bottom. The "
    "area of a sector is its number of visits; its largest hour fills each dial, and the inner ring is half of that."
)
_CELL, _STRONG = TextStyle(size_pt=7.0), TextStyle(size_pt=7.0, bold=True)
_FIXED = (9.0, 13.0, 12.0, 16.0, 33.0, 22.0, 20.0, 25.0)
_DIALS, _RADIUS_MM, _DIAL_MM = 5, 10.5, 29.0
_SHOWN_ROWS = 6


def camera_blocks(evidence: Evidence, width: float) -> list[Block]:
    """Everything on cameras."""
    cameras = evidence.cameras
    if not cameras:
        return [heading("Cameras", width), *loud(NO_CAMERAS, width), *_left_out(evidence, width)]
    blocks = [*_table(cameras, width), gap(1.0)]
    blind = [f"C{k}" for k, c in enumerate(cameras, start=1) if c.use.visits == 0]
    if blind:
        blocks += loud(f"{NO_VISIT}: {', '.join(blind)}.", width)
        blocks.append(gap(1.0))
    seen = [(k, c) for k, c in enumerate(cameras, start=1) if c.use.visits > 0]
    if seen:
        blocks += _dials(seen, width)
    return [*blocks, *_left_out(evidence, width)]


def _table(cameras: Sequence[CameraFound], width: float) -> list[Block]:
    titles = ("no.", "nights", "visits", "a night", "last visit", "most at once", "bait used", "end of the camera")
    names = [titles[0], "name", *titles[1:]]
    widths = [_FIXED[0], width - sum(_FIXED), *_FIXED[1:]]
    columns = [
        Column(title=t, width_mm=w, style=_STRONG if t in ("no.", "name") else _CELL)
        for t, w in zip(names, widths, strict=True)
    ]
    rows = [_row(k, c) for k, c in enumerate(cameras, start=1)]
    return table(columns, rows, title=heading(f"Cameras: {len(cameras)}", width))


def _row(number: int, camera: CameraFound) -> tuple[str, ...]:
    use = camera.use
    rate = NOT_KNOWN if math.isnan(use.visits_per_night) else f"{use.visits_per_night:.2f}"
    bait = {True: "yes", False: "no", None: "not written down"}[camera.bait]
    end = "not stated, taken as still out" if camera.end_is_assumed else "stated"
    most = str(use.largest) if use.largest else "none seen"
    return (f"C{number}", camera.name, f"{use.nights:.0f}", str(use.visits), rate, _last(camera), most, bait, end)


def _last(camera: CameraFound) -> str:
    """Date of the last night with a visit and how long ago that is."""
    if not camera.use.nights_seen:
        return "no visit recorded"
    days = "" if math.isnan(camera.last_days) else f", {counted(round(camera.last_days), 'day', 'days')} ago"
    return f"{camera.use.nights_seen[-1].isoformat()}{days}"


def _dials(seen: Sequence[tuple[int, CameraFound]], width: float) -> list[Block]:
    title = heading("Hours of visits", width)
    rows = [seen[k : k + _DIALS] for k in range(0, len(seen), _DIALS)]
    return [title, *[_dial_row(row, width, title) for row in rows], *paragraph(DIALS, width, SMALL), gap(1.5)]


def _dial_row(row: Sequence[tuple[int, CameraFound]], width: float, again: Block) -> Block:
    room = width / _DIALS
    names = [fit(f"C{k} {c.name}", room - 3.0, _STRONG, lines=2) for k, c in row]
    named = max(n.height_mm for n in names)

    def draw(page: Page, x: float, y: float) -> None:
        for column, ((_, camera), name) in enumerate(zip(row, names, strict=True)):
            left = x + column * room
            page.lines(left, y + 0.4, name)
            below = y + named + 0.4 + _DIAL_MM
            draw_day_plot(page, left + room / 2 - 1.5, y + named + 0.4 + _DIAL_MM / 2, _RADIUS_MM, camera.use.by_hour)
            visits = counted(camera.use.visits, "visit", "visits")
            words = f"{visits}, at most {max(camera.use.by_hour)} in one hour"
            page.lines(left, below, fit(words, room - 3.0, SMALL))

    return Block(height_mm=named + _DIAL_MM + SMALL.line_mm + 1.8, draw=draw, again=again)


def _left_out(evidence: Evidence, width: float) -> list[Block]:
    """People, bad rows, the version of the standard, and notes."""
    blocks: list[Block] = []
    if evidence.people:
        rows = counted(evidence.people, "row", "rows")
        blocks += paragraph(f"{rows} of people and vehicles left out of everything; they are shown nowhere.", width)
    if evidence.version:
        blocks += paragraph(
            f"Camera tables checked against version {evidence.version} of their standard.", width, SMALL
        )
    if evidence.bad_rows:
        title = heading(f"Rows of camera tables left out: {len(evidence.bad_rows)}", width)
        blocks += [gap(1.0), title]
        for text in evidence.bad_rows[:_SHOWN_ROWS]:
            blocks += paragraph(text, width, bullet=True, again=title)
        left = len(evidence.bad_rows) - _SHOWN_ROWS
        if left > 0:
            blocks += paragraph(f"{counted(left, 'further row', 'further rows')}.", width)
    return [*blocks, gap(2.0)] if blocks else []
