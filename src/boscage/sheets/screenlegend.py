"""The legend of the map on a screen: words and a picture for each row, by the sheets' own legend."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from boscage.model.desk import TILE_DPI
from boscage.sheets.content import MapKey
from boscage.sheets.legend import Entry, entries
from boscage.sheets.page import Box, Page
from boscage.sheets.screen import page_pixels, recolour
from boscage.sheets.screencolours import COLOURS, ScreenColours, Tint
from boscage.sheets.style import CANOPY_DOTS, COVER_STEPS_PERCENT, HEIGHT_STEPS_M
from boscage.values import Printer

SWATCH_MM = (9.0, 4.6)
_PITCH_MM, _EDGE_MM, _COLUMN_MM = 6.4, 5.0, 20.0
LegendPixels = list[tuple[str, NDArray[np.uint8]]]


def legend_pixels(key: MapKey, *, units: str, palette: str, has_score: bool, scale: float = 1.0) -> LegendPixels:
    """Words and picture, (rows, cols, 4), of each row: classes of score and canopy first, then what is drawn on them.

    Args:
        key: What the map shows.
        units: `us` or `metric`.
        palette: One of `boscage.model.desk.PALETTES`.
        has_score: Whether the score is shown.
        scale: Device pixels per pixel.
    """
    colours = COLOURS[palette]
    shape = round(SWATCH_MM[1] / 25.4 * TILE_DPI * scale), round(SWATCH_MM[0] / 25.4 * TILE_DPI * scale)
    rows = _score_rows(colours, shape) if has_score else []
    rows += _canopy_rows(key, colours, shape, units=units, grey=has_score)
    plain = replace(key, canopy="", canopy_unknown=False)
    return [*rows, *_drawn(entries(plain, Printer(units)), colours, shape, scale)]


def _score_rows(colours: ScreenColours, shape: tuple[int, int]) -> LegendPixels:
    words = _class_words("score", [f"{s:g}" for s in colours.score_steps], "")
    return [(w, _flat(t, shape)) for w, t in zip(words, colours.score, strict=True)]


def _canopy_rows(
    key: MapKey, colours: ScreenColours, shape: tuple[int, int], *, units: str, grey: bool
) -> LegendPixels:
    if not key.canopy:
        return []
    if key.canopy == "height":
        unit, per = ("ft", 0.3048) if units == "us" else ("m", 1.0)
        words = _class_words("canopy", [f"{h / per:.0f}" for h in HEIGHT_STEPS_M], f" {unit}")
    else:
        words = _class_words("canopy cover", [f"{s:g}" for s in COVER_STEPS_PERCENT], " %")
    tints = colours.canopy_grey if grey else colours.canopy
    rows = [(w, _dotted(t, shape, d, colours)) for w, t, d in zip(words, tints[:-1], CANOPY_DOTS, strict=True)]
    gap = _flat(tints[-1], shape)
    row, col = np.ogrid[: shape[0], : shape[1]]
    gap[(row + col) % 14 == 0, :3] = colours.gaps
    return [*rows, ("canopy not known", gap)]


def _class_words(what: str, steps: Sequence[str], unit: str) -> list[str]:
    """Words of the classes between steps.

    >>> _class_words("score", ["20", "30"], "")
    ['score under 20', 'score 20 to 30', 'score 30 and over']
    """
    between = [f"{what} {a} to {b}{unit}" for a, b in pairwise(steps)]
    return [f"{what} under {steps[0]}{unit}", *between, f"{what} {steps[-1]}{unit} and over"]


def _flat(tint: Tint, shape: tuple[int, int]) -> NDArray[np.uint8]:
    out = np.full((*shape, 4), 255, dtype=np.uint8)
    out[..., :3] = tint
    return out


def _dotted(tint: Tint, shape: tuple[int, int], spacing: int, colours: ScreenColours) -> NDArray[np.uint8]:
    out = _flat(tint, shape)
    if spacing:
        row, col = np.ogrid[: shape[0], : shape[1]]
        shifted = (col + (row // spacing % 2) * (spacing // 2)) % spacing
        out[(row % spacing == 0) & (shifted == 0), :3] = colours.dots
    return out


def _drawn(rows: Sequence[Entry], colours: ScreenColours, shape: tuple[int, int], scale: float) -> LegendPixels:
    """Rows of the sheets' legend, drawn on one page and cut out of it."""
    page = Page("letter")
    most = int((page.height_mm - 2 * _EDGE_MM) / _PITCH_MM)
    boxes = [Box(_EDGE_MM + k // most * _COLUMN_MM, _EDGE_MM + k % most * _PITCH_MM, *SWATCH_MM)
             for k in range(len(rows))]  # fmt: skip
    for row, box in zip(rows, boxes, strict=True):
        row.draw(page, box)
    for artist in page.figure.get_children()[1:]:  # the first is the page's own ground
        recolour(artist, colours)
    image = page_pixels(page, TILE_DPI * scale)
    per_mm = TILE_DPI * scale / 25.4
    cut = []
    for row, box in zip(rows, boxes, strict=True):
        top, left = round(box.y * per_mm), round(box.x * per_mm)
        cut.append((row.words, image[top : top + shape[0], left : left + shape[1]].copy()))
    return cut
