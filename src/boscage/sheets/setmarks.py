"""Chosen sets on a map: a second, thick ring round the rank, and the land that each draws on as a fine dashed line."""

from __future__ import annotations

from matplotlib.patches import Circle

from boscage.sheets.features import Sketch
from boscage.sheets.labels import Spot
from boscage.sheets.page import Box, Page
from boscage.sheets.shapes import area_path, clip, draw_line
from boscage.sheets.style import INK, LAYER_ORDER, LINES, PAPER
from boscage.sheets.symbols import DISC_MM

CHOSEN_MM = DISC_MM + 2.0
_RING_MM, _RING_PT = DISC_MM / 2 + 0.55, 2.0


def draw_reach(sketch: Sketch) -> None:
    """The land within reach of each chosen set, as it was clipped."""
    for circle in clip([s.circle for s in sketch.content.sets], sketch.frame):
        path = area_path([circle])
        if path is not None:
            draw_line(sketch.axes, path, LINES["reach"], LAYER_ORDER["reach"])
            sketch.key.shown.add("reach")


def draw_second_ring(sketch: Sketch, spot: Spot) -> None:
    """The thick ring round the disc of a chosen site."""
    radius = _RING_MM * sketch.frame.metres_per_mm
    at = sketch.frame.to_ground(spot.x, spot.y)
    order = LAYER_ORDER["site"] + 0.1
    sketch.axes.add_patch(Circle(at, radius, facecolor=PAPER, edgecolor=INK, lw=_RING_PT, zorder=order))
    sketch.key.shown.add("chosen")


def draw_chosen_swatch(page: Page, box: Box) -> None:
    """The double ring in a legend."""
    at = (box.x + box.width / 2, box.y + box.height / 2)
    for radius, width in ((1.55, 1.5), (0.85, 0.9)):
        page.figure.add_artist(Circle(at, radius, fc=PAPER, ec=INK, lw=width, transform=page.transform))
