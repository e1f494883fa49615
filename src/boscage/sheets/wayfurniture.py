"""What the maps of the way in and of the sight lines carry themselves: north, scale bar, point marks."""

from __future__ import annotations

import numpy as np
from matplotlib.lines import Line2D
from matplotlib.path import Path

from boscage.sheets.features import Sketch
from boscage.sheets.frame import MapFrame
from boscage.sheets.furniture import bar_length, draw_quarters
from boscage.sheets.labels import Spot
from boscage.sheets.mapdraw import put_text
from boscage.sheets.page import Box, Page
from boscage.sheets.shapes import array_path, draw_line
from boscage.sheets.style import INK, LAYER_ORDER, PAPER, LineLook, TextStyle
from boscage.sheets.typeset import Fitted
from boscage.sheets.waytable import LEAST_PT

SQUARE = Path(np.array([(-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1)], dtype=float), closed=True)
DIAMOND = Path(np.array([(0, -1.25), (1.25, 0), (0, 1.25), (-1.25, 0), (0, -1.25)], dtype=float), closed=True)
MARK_HALF_MM = 1.5
LABEL_STYLE = TextStyle(size_pt=LEAST_PT, bold=True, align="center", valign="center", backing=True)
_NORTH_MM = (6.0, 11.0)
_HALVED_MM = 15.0
_SMALL = TextStyle(size_pt=LEAST_PT)


def draw_north_in(sketch: Sketch) -> None:
    """An arrow to grid north in the corner where it covers the least."""
    wide, high = _NORTH_MM
    frame, place = sketch.frame, sketch.placer
    right, low = frame.width_mm - wide / 2 - 1.0, frame.height_mm - high / 2 - 1.0
    left, top = wide / 2 + 1.0, high / 2 + 1.0
    corners = ((right, top), (left, top), (right, low), (left, low))
    spot = place.place(corners, wide, high) or Spot(*corners[0])
    order = LAYER_ORDER["label"]
    ground = [
        frame.to_ground(spot.x + i * wide / 2, spot.y + j * high / 2) for i, j in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]
    sketch.axes.fill(*zip(*ground, strict=True), fc=PAPER, alpha=0.85, lw=0, zorder=order)
    foot, tip = frame.to_ground(spot.x, spot.y + high / 2 - 0.8), frame.to_ground(spot.x, spot.y - high / 2 + 3.8)
    draw_line(sketch.axes, array_path([np.array([foot, tip])]), (LineLook(width_pt=1.2),), order + 0.1)
    barb = [frame.to_ground(spot.x + dx, spot.y - high / 2 + dy) for dx, dy in ((-1.3, 6.8), (0.0, 3.6), (1.3, 6.8))]
    sketch.axes.fill(*zip(*barb, strict=True), fc=INK, lw=0, zorder=order + 0.1)
    put_text(sketch, spot.x, spot.y - high / 2 + 2.0, "N", TextStyle(size_pt=8.0, bold=True, align="center"))


def draw_scale_bar(page: Page, x: float, y: float, width_mm: float, frame: MapFrame, units: str) -> float:
    """One bar in the plan's units, its figures above it; the answer is the x behind them."""
    number, unit_m, unit = bar_length(width_mm - 12.0, frame, units)
    long = number * unit_m / frame.metres_per_mm
    draw_quarters(page, Box(x + 1.0, y + 3.2, long, 1.4))
    page.text(x + 1.0, y + 2.5, "0", TextStyle(size_pt=LEAST_PT, align="center"))
    if long >= _HALVED_MM:
        page.text(x + 1.0 + long / 2, y + 2.5, f"{number / 2:,g}", TextStyle(size_pt=LEAST_PT, align="center"))
    words = Fitted(lines=(f"{number:,g} {unit}",), style=_SMALL)
    page.text(x + long, y + 2.5, words.lines[0], words.style)
    return x + long + words.width_mm


def draw_mark(sketch: Sketch, path: Path, x_m: float, y_m: float, *, fill: str) -> None:
    """A point mark on a map; labels stay off it."""
    sketch.axes.plot(
        [x_m], [y_m], ls="none", marker=path, ms=2 * MARK_HALF_MM / 25.4 * 72 * 1.25, mfc=fill,
        mec=PAPER if fill == INK else INK, mew=1.1, zorder=LAYER_ORDER["site"] + 0.3, scalex=False, scaley=False,
    )  # fmt: skip
    sketch.placer.take(*sketch.frame.to_mm(x_m, y_m), 2 * MARK_HALF_MM + 0.8, 2 * MARK_HALF_MM + 0.8)


def draw_mark_swatch(page: Page, box: Box, *, path: Path, fill: str) -> None:
    """The same mark in a legend."""
    page.figure.add_artist(
        Line2D(
            [box.x + box.width / 2], [box.y + box.height / 2], transform=page.transform, ls="none", marker=path,
            ms=7.0, mfc=fill, mec=INK, mew=0.9,
        )
    )  # fmt: skip


def label_beside(sketch: Sketch, x_m: float, y_m: float, words: str, style: TextStyle = LABEL_STYLE) -> bool:
    """Words beside a point where there is room; whether there was."""
    fitted = Fitted(lines=(words,), style=style)
    at = sketch.frame.to_mm(x_m, y_m)
    spot = sketch.placer.beside(*at, fitted.width_mm + 1.2, fitted.height_mm + 0.4, off_mm=MARK_HALF_MM + 0.7)
    if spot:
        put_text(sketch, spot.x, spot.y, words, style)
    return spot is not None
