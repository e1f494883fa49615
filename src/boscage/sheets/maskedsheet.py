"""The masked map: squares that hold sites, the outline of the land, and what was left out. One page for others."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import shapely
from matplotlib.axes import Axes
from matplotlib.patches import Rectangle

from boscage.model.masked import LEFT_OUT, MaskedRanch, MaskedSquare
from boscage.sheets.flow import Block, Column, draw_all, gap, heading, height_of, paragraph, pour, table
from boscage.sheets.frame import MapFrame, fitting_scale
from boscage.sheets.furniture import draw_scale_bars, draw_words, scale_words
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.running import body_box, draw_foot, draw_plain_head
from boscage.sheets.shapes import area_path, draw_line
from boscage.sheets.sheet import HEAD_MM
from boscage.sheets.style import INK, PALE, PAPER, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import printable
from boscage.values import Bounds, Printer

_STRIP_MM, _LEAST_MAP_MM, _ROUND = 16.0, 70.0, 0.12


def print_masked_sheet(masked: MaskedRanch, target: Path) -> None:
    """Write the one page, and more where the list of squares is long."""
    with own_settings():
        pages = plan_masked_pages(masked)
        write_pdf(
            pages, target, title=f"Masked map, {printable(masked.plan.ranch.name)}", date=masked.plan.date
        )  # fmt: skip


def plan_masked_pages(masked: MaskedRanch) -> list[Page]:
    """The pages, drawn."""
    page = Page(masked.plan.paper)
    body = body_box(page.width_mm, page.height_mm)
    top = body.y + HEAD_MM
    blocks = masked_blocks(masked, body.width)
    high = max(_LEAST_MAP_MM, body.bottom - top - height_of(blocks) - _STRIP_MM - 4.0)
    map_box = Box(body.x, top, body.width, high)
    below = map_box.bottom + _STRIP_MM + 4.0
    boxes = [Box(body.x, below, body.width, body.bottom - below)]
    filled = []
    while blocks:
        placed, blocks = pour(blocks, boxes)
        filled.append(placed[0])
        boxes = [Box(body.x, top, body.width, body.bottom - top)]
        blocks = Block.opening(blocks)
    pages = []
    for n, placed_blocks in enumerate(filled, start=1):
        page = Page(masked.plan.paper, number=n, of=len(filled))
        draw_plain_head(page, body, "Where sets are planned, masked", f"plan of {masked.plan.date.isoformat()}")
        if n == 1:
            _draw_map(page, masked, map_box)
        draw_all(page, placed_blocks)
        draw_foot(page, masked)  # type: ignore[arg-type]
        pages.append(page)
    return pages


def masked_blocks(masked: MaskedRanch, width: float) -> list[Block]:
    """What the squares mean, what is in each, what was left out."""
    side = Printer(masked.plan.ranch.units).length(masked.side_m)
    columns = [
        Column(title="square", width_mm=18.0), Column(title="sites", width_mm=width - 78.0),
        Column(title="best rank", width_mm=24.0), Column(title="support expected", width_mm=36.0),
    ]  # fmt: skip
    rows = [
        (str(s.number), ", ".join(s.sites), str(min(s.ranks)), ", ".join(sorted(set(s.supports))))
        for s in masked.squares
    ]
    told = f"Each square is {side} wide. A set is planned somewhere in it; its middle is no place of a set."
    return [
        *paragraph(told, width), gap(1.0), *table(columns, rows, title=heading("Squares", width)), gap(2.0),
        heading("What this copy leaves out", width), *paragraph(LEFT_OUT, width),
        *paragraph("Corners of the land are moved. It is no survey and no permission to enter.", width),
    ]  # fmt: skip


def _extent(masked: MaskedRanch) -> Bounds:
    shapes = [masked.land, *(s.shape for s in masked.squares)]
    west, south, east, north = shapely.union_all([s for s in shapes if not s.is_empty]).bounds
    room = _ROUND / 2.0 * max(east - west, north - south)
    return Bounds(west - room, south - room, east + room, north + room)


def _draw_map(page: Page, masked: MaskedRanch, box: Box) -> None:
    extent, units = _extent(masked), masked.plan.ranch.units
    scale = fitting_scale(extent, box.width, box.height)
    middle = (extent.west + extent.east) / 2.0, (extent.south + extent.north) / 2.0
    frame = MapFrame.centred(*middle, scale=scale, width_mm=box.width, height_mm=box.height)
    axes = page.map_axes(box, frame.bounds, masked.crs)
    b = frame.bounds
    axes.set_xlim(b.west, b.east)
    axes.set_ylim(b.south, b.north)
    land = [g for g in shapely.get_parts(masked.land) if g.geom_type == "Polygon"]
    if land:
        draw_line(axes, area_path(land), (LineLook(width_pt=1.2),), 2.0)
    for square in masked.squares:
        _draw_square(axes, square)
    page.area(box, AreaLook(outline=LineLook(width_pt=0.9)))
    draw_scale_bars(page, box.x, box.bottom + 2.0, 60.0, frame, units)
    words = [scale_words(frame.scale, units), "grid north up", "outline: land with permission, corners moved"]
    draw_words(page, box.x + 68.0, box.bottom + 2.6, box.width - 70.0, words)


def _draw_square(axes: Axes, square: MaskedSquare) -> None:
    side = square.side_m
    axes.add_patch(
        Rectangle(
            (square.x_m, square.y_m), side, side, facecolor="none", edgecolor=PALE, hatch="//", lw=0.0, zorder=3.0
        )
    )
    axes.add_patch(
        Rectangle((square.x_m, square.y_m), side, side, facecolor="none", edgecolor=INK, lw=1.6, zorder=3.1)
    )
    style = TextStyle(size_pt=11.0, bold=True)
    x, y = np.array([square.x_m, square.y_m]) + side / 2.0
    axes.text(
        x, y, str(square.number), fontsize=style.size_pt, weight="bold", ha="center", va="center", zorder=4.0,
        color=INK, family="DejaVu Sans", bbox={"boxstyle": "circle,pad=0.25", "fc": PAPER, "ec": INK, "lw": 0.8},
        clip_on=True,
    )  # fmt: skip
