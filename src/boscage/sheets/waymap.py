"""The map of the whole way in, at the largest round scale that its box allows."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import numpy as np
import shapely

from boscage.model.journey import CHANGE_WORDS, Journey, Leg
from boscage.model.results import Backdrop, ScoutResult, Site
from boscage.sheets.content import MapContent, MapKey
from boscage.sheets.features import Sketch
from boscage.sheets.frame import MapFrame, fitting_scale
from boscage.sheets.furniture import scale_words
from boscage.sheets.legend import ROW_MM, Entry, draw_ring_swatch, entries
from boscage.sheets.mapdraw import draw_map, draw_ring, mark_along, name_site
from boscage.sheets.page import Box, Page
from boscage.sheets.shapes import clip, draw_line, line_path
from boscage.sheets.style import INK, LAYER_ORDER, LINES, PAPER, AreaLook, LineLook
from boscage.sheets.typeset import fit
from boscage.sheets.wayfurniture import (
    DIAMOND,
    SQUARE,
    draw_mark,
    draw_mark_swatch,
    draw_north_in,
    draw_scale_bar,
    label_beside,
)
from boscage.sheets.waytable import LEAST_PT, NOTE
from boscage.values import Bounds, Printer

STRIP_MM = 6.4
_ROUND_MM = (12.0, 9.0)


def way_frame(journey: Journey, site: Site, box: Box) -> MapFrame:
    """The frame that holds every leg in and the set, with room for their labels."""
    xy = np.vstack([*[leg.line[:, :2] for leg in journey.inward], (site.place.x_m, site.place.y_m)])
    (west, south), (east, north) = xy.min(axis=0), xy.max(axis=0)
    extent = Bounds(float(west), float(south), float(east), float(north))
    scale = fitting_scale(extent, box.width - 2 * _ROUND_MM[0], box.height - 2 * _ROUND_MM[1])
    middle = (extent.west + extent.east) / 2, (extent.south + extent.north) / 2
    return MapFrame.centred(*middle, scale=scale, width_mm=box.width, height_mm=box.height)


def draw_way_map(page: Page, result: ScoutResult, site: Site, overview: Backdrop, box: Box) -> list[Entry]:
    """The map with a strip on scale and north below it; the answer is the rows of its key."""
    assert isinstance(site.journey, Journey)
    map_box = Box(box.x, box.y, box.width, box.height - STRIP_MM)
    frame, units = way_frame(site.journey, site, map_box), result.plan.ranch.units
    content = MapContent(
        backdrop=replace(overview, cover=None, canopy_top=None), units=units, sign=False, contours=False,
        ring_radius_m=result.plan.net.radius_m, least_pt=LEAST_PT,
    )  # fmt: skip
    axes = page.map_axes(map_box, frame.bounds, overview.grid.crs)
    key = draw_map(axes, frame, content, partial(_draw_way, site=site, journey=site.journey))
    page.area(map_box, AreaLook(outline=LineLook(width_pt=0.9)))
    words = f"{scale_words(frame.scale, units)}, grid north up{'' if key.has_relief else ', no terrain layer'}"
    draw_strip(page, frame, units, Box(map_box.x, map_box.bottom + 0.8, map_box.width, STRIP_MM - 0.8), words)
    return _key_rows(key, site.journey, Printer(units))


def key_mm(rows: list[Entry]) -> float:
    """Height that the key of a map asks for in two columns."""
    return -(-len(rows) // 2) * ROW_MM


def draw_strip(page: Page, frame: MapFrame, units: str, box: Box, words: str) -> None:
    """Scale bar and words on scale and north."""
    x = draw_scale_bar(page, box.x, box.y, min(60.0, box.width * 0.5), frame, units) + 4.0
    fitted = fit(words, box.right - x, NOTE, lines=2, floor_pt=LEAST_PT)
    page.lines(x, box.y + (1.6 if len(fitted.lines) == 1 else 0.0), fitted)


def _draw_way(sketch: Sketch, *, site: Site, journey: Journey) -> None:
    """Legs, the set, the start and the change-over places."""
    for leg in journey.inward:
        _draw_leg(sketch, leg)
    draw_ring(sketch, site)
    sketch.key.shown.discard("ring")
    marks = [(SQUARE, INK, "start", journey.inward[0])] if journey.inward else []
    marks += [(DIAMOND, PAPER, CHANGE_WORDS[g.kind], g) for g in journey.inward[1:]]
    for path, fill, _, leg in marks:
        draw_mark(sketch, path, float(leg.line[0, 0]), float(leg.line[0, 1]), fill=fill)
    name_site(sketch, site)
    for _, _, words, leg in marks:
        label_beside(sketch, float(leg.line[0, 0]), float(leg.line[0, 1]), words)
    draw_north_in(sketch)


def _draw_leg(sketch: Sketch, leg: Leg) -> None:
    if len(leg.line) < 2:
        return
    frame, line = sketch.frame, shapely.LineString(leg.line[:, :2])
    draw_line(sketch.axes, line_path(clip([line], frame)), LINES[f"way_{leg.kind}"], LAYER_ORDER["way_in"])
    sketch.key.shown.add(f"way_{leg.kind}")
    mark_along(sketch, line)


def _key_rows(key: MapKey, journey: Journey, printer: Printer) -> list[Entry]:
    rows = [Entry("start", partial(draw_mark_swatch, path=SQUARE, fill=INK))]
    if len(journey.inward) > 1:
        rows.append(Entry("change-over", partial(draw_mark_swatch, path=DIAMOND, fill=PAPER)))
    return [*rows, Entry("the set", draw_ring_swatch), *entries(key, printer)]
