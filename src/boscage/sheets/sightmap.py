"""The small map of who sees a set: sampled places by the share of sight left, and the worst of them."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import shapely
from matplotlib.lines import Line2D
from matplotlib.patches import Circle

from boscage.model.exposure import SEEN, Exposure
from boscage.model.results import Backdrop, ScoutResult, Site
from boscage.sheets.content import MapContent
from boscage.sheets.features import Sketch
from boscage.sheets.flow import Block
from boscage.sheets.frame import MapFrame, fitting_scale
from boscage.sheets.mapdraw import draw_disc, draw_map, draw_ring, mark_along, name_site
from boscage.sheets.page import Box, Page
from boscage.sheets.shapes import array_path, draw_line
from boscage.sheets.style import INK, LAYER_ORDER, PAPER, AreaLook, LineLook, TextStyle
from boscage.sheets.symbols import DISC_MM
from boscage.sheets.typeset import Fitted
from boscage.sheets.waymap import STRIP_MM, draw_strip
from boscage.sheets.waytable import LEAST_PT
from boscage.values import Bounds, Printer

KEY_MM = 8.0
_EDGE_MM = 2.0
# Least share of sight, diameter in mm, fill, words of the key. A size and a grey for each.
_STEPS = (
    (0.5, 2.3, INK, "50 % and more"),
    (0.1, 1.7, "#3c3c3c", "10 to 50 %"),
    (SEEN, 1.15, "#777777", "under 10 %"),
    (-np.inf, 0.7, PAPER, "0 %"),
)


def sight_frame(site: Site, exposure: Exposure, box: Box) -> MapFrame:
    """The frame round the set that holds all that was looked over."""
    x, y, reach = site.place.x_m, site.place.y_m, exposure.radius_m
    extent = Bounds(x - reach, y - reach, x + reach, y + reach)
    scale = fitting_scale(extent, box.width - 2 * _EDGE_MM, box.height - 2 * _EDGE_MM)
    return MapFrame.centred(x, y, scale=scale, width_mm=box.width, height_mm=box.height)


def draw_sight_map(page: Page, result: ScoutResult, site: Site, overview: Backdrop, box: Box) -> None:
    """The map with its strip and its key below."""
    assert site.exposure is not None
    units = result.plan.ranch.units
    map_box = Box(box.x, box.y, box.width, box.height - STRIP_MM)
    frame = sight_frame(site, site.exposure, map_box)
    content = MapContent(
        backdrop=overview, units=units, sign=False, contours=False, names=False, least_pt=LEAST_PT,
        ring_radius_m=result.plan.net.radius_m,
    )  # fmt: skip
    axes = page.map_axes(map_box, frame.bounds, overview.grid.crs)
    key = draw_map(axes, frame, content, partial(_draw_sight, site=site, exposure=site.exposure))
    page.area(map_box, AreaLook(outline=LineLook(width_pt=0.9)))
    lacking = [w for w, there in (("terrain", key.has_relief), ("canopy", key.canopy)) if not there]
    words = f"1:{frame.scale:,.0f}, grid north up" + "".join(f", no {w}" for w in lacking)
    draw_strip(page, frame, units, Box(box.x, map_box.bottom + 0.8, box.width, STRIP_MM - 0.8), words)


def _draw_sight(sketch: Sketch, *, site: Site, exposure: Exposure) -> None:
    place, axes = (site.place.x_m, site.place.y_m), sketch.axes
    order = LAYER_ORDER["sign"]
    for look in (LineLook(colour=PAPER, width_pt=2.2), LineLook(width_pt=0.9, dashes=(6.0, 3.0))):
        axes.add_patch(
            Circle(place, exposure.radius_m, fc="none", ec=look.colour, lw=look.width_pt,
                   ls=(0, look.dashes) if look.dashes else "-", zorder=order)
        )  # fmt: skip
    lines = [np.array([place, (s.x_m, s.y_m)]) for s in exposure.worst]
    draw_line(axes, array_path(lines), (LineLook(colour=PAPER, width_pt=2.4), LineLook(width_pt=1.1)), order + 0.1)
    for line in lines:
        mark_along(sketch, shapely.LineString(line))
    _draw_watchers(sketch, exposure)
    draw_ring(sketch, site)
    for number, seen in enumerate(exposure.worst, start=1):
        at = sketch.frame.to_mm(seen.x_m, seen.y_m)
        spot = sketch.placer.beside(*at, DISC_MM, DISC_MM, off_mm=1.6) or sketch.placer.must_place(*at, DISC_MM)
        if spot:
            draw_disc(sketch, spot, number, (seen.x_m, seen.y_m))
    name_site(sketch, site)


def _draw_watchers(sketch: Sketch, exposure: Exposure) -> None:
    """Places that have the least sight first, so that those with more stay on top."""
    left = np.nan_to_num(exposure.shares, nan=0.0)
    above = np.inf
    steps = []
    for least, wide, fill, _ in _STEPS:
        steps.append((exposure.watchers[(left >= least) & (left < above)], wide, fill))
        above = least
    for k, (places, wide, fill) in enumerate(reversed(steps)):
        if len(places):
            sketch.axes.plot(
                places[:, 0], places[:, 1], ls="none", marker="o", ms=wide / 25.4 * 72, mfc=fill,
                mec=INK if fill == PAPER else PAPER, mew=0.4, zorder=LAYER_ORDER["sign"] + 0.2 + 0.01 * k,
                scalex=False, scaley=False,
            )  # fmt: skip


def key_block(exposure: Exposure, result: ScoutResult, width: float) -> Block:
    """The key of the map: four sizes of dot, and the circle."""
    reach = Printer(result.plan.ranch.units).length(exposure.radius_m)
    words = TextStyle(size_pt=LEAST_PT)

    def draw(page: Page, x: float, y: float) -> None:
        page.text(x, y + 2.9, "Map: sight left at each sampled place", replace(words, bold=True))
        page.text(x + width, y + 2.9, f"looked within {reach}", replace(words, align="right"))
        end = x + width - Fitted(lines=(f"looked within {reach}",), style=words).width_mm - 1.2
        page.line((end - 7.0, end), (y + 2.0, y + 2.0), LineLook(width_pt=0.9, dashes=(6.0, 3.0)))
        for k, (_, wide, fill, text) in enumerate(_STEPS):
            left = x + 1.2 + k * width / len(_STEPS)
            page.figure.add_artist(
                Line2D([left], [y + 6.0], transform=page.transform, ls="none", marker="o", ms=wide / 25.4 * 72,
                       mfc=fill, mec=INK if fill == PAPER else PAPER, mew=0.4)
            )  # fmt: skip
            page.text(left + 2.2, y + 6.9, text, words)

    return Block(height_mm=KEY_MM, draw=draw)
