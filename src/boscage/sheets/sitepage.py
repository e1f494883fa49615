"""The front of a site's sheet: who and where, the map at 1:2,500, coordinates, reasons, hazards."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from boscage.model.results import Backdrop, ScoutResult, Site
from boscage.sheets import sitetext
from boscage.sheets.backpage import draw_back, plan_back
from boscage.sheets.content import MapContent, MapKey
from boscage.sheets.evidencewords import rank_words
from boscage.sheets.flow import Block, Placed, draw_all, gap, height_of, pour
from boscage.sheets.frame import MapFrame
from boscage.sheets.furniture import (
    TICK_ROOM_MM,
    draw_grid,
    draw_north,
    draw_scale_bars,
    draw_words,
    north_words,
    scale_words,
)
from boscage.sheets.legend import draw_legend, entries
from boscage.sheets.mapdraw import draw_map
from boscage.sheets.page import Box, Page
from boscage.sheets.running import body_box, draw_foot
from boscage.sheets.sheet import Sheet, column_width_mm, columns_of, flowing_sheets
from boscage.sheets.style import BODY, GREY, LABEL, AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit
from boscage.sheets.waypage import way_sheets
from boscage.values import Printer

SITE_SCALE = 2500.0
_MAP_MM, _LEAST_MAP_MM = 118.0, 84.0
_STRIP_MM = 19.0
_HEAD_LEFT_MM = 104.0
_MORE_MM = 3.6
_EVEN_MM = 3.0
_BIG = TextStyle(size_pt=20.0, bold=True, align="center")


@dataclass(frozen=True, kw_only=True)
class Front:
    """The front of a site's sheet, laid out.

    Attributes:
        map_box: The map.
        head: Label and fitted text of each line at the right of the head.
        head_mm: Height of the head.
        columns: The two boxes under the map.
        placed: What stands in each.
        rest: What is left of each.
    """

    site: Site
    body: Box
    map_box: Box
    head: tuple[tuple[str, Fitted], ...]
    head_mm: float
    columns: tuple[Box, ...]
    placed: tuple[list[Placed], ...]
    rest: tuple[list[Block], ...]

    def carried(self) -> list[Block]:
        """What is left over, each part under its own heading again."""
        return [b for part in self.rest for b in Block.opening(part)]


def plan_front(result: ScoutResult, site: Site, crs: str) -> Front:
    """Lay out the front: the map gives way, within limits, to the text under it."""
    blank = Page(result.plan.paper)
    body = body_box(blank.width_mm, blank.height_mm)
    head = _head_lines(result, site, body.width - _HEAD_LEFT_MM)
    head_mm = max(22.0, sum(f.height_mm for _, f in head) + 1.0)
    texts = _columns(result, site, crs, column_width_mm(body, 2))
    around = head_mm + 1.6 + TICK_ROOM_MM + 1.6 + _STRIP_MM + 1.0
    free = body.height - around
    wanted = free - max(height_of(t) for t in texts)
    map_mm = min(max(wanted, _LEAST_MAP_MM), _MAP_MM + max(0.0, body.height - 253.0))
    map_box = Box(body.x + TICK_ROOM_MM, body.y + head_mm + 1.6 + TICK_ROOM_MM, body.width - TICK_ROOM_MM, map_mm)
    more = _MORE_MM if wanted < _LEAST_MAP_MM else 0.0
    boxes = columns_of(body, 2, top=map_box.bottom + 1.6 + _STRIP_MM + 1.0)
    boxes = [Box(b.x, b.y, b.width, b.height - more) for b in boxes]
    poured = [pour(text, [box]) for text, box in zip(texts, boxes, strict=True)]
    return Front(
        site=site, body=body, map_box=map_box, head=tuple(head), head_mm=head_mm, columns=tuple(boxes),
        placed=tuple(p[0][0] for p in poured), rest=tuple(p[1] for p in poured),
    )  # fmt: skip


def draw_front(page: Page, result: ScoutResult, front: Front, closeup: Backdrop, further: int) -> None:
    """Draw the front; what it has no room for stands so many pages on."""
    _draw_head(page, result, front)
    _draw_map(page, result, front.site, closeup, front.map_box)
    for box, placed, rest in zip(front.columns, front.placed, front.rest, strict=True):
        draw_all(page, placed)
        if rest:
            style = TextStyle(size_pt=7.0, italic=True, align="right")
            page.text(box.right, box.bottom + 3.0, f"more on page {page.number + further}", style)
    draw_foot(page, result)


def site_sheets(result: ScoutResult, site: Site, closeup: Backdrop, overview: Backdrop) -> list[Sheet]:
    """The pages of one site: front, back, way in, and further pages only when these cannot take what is left."""
    front = plan_front(result, site, closeup.grid.crs)
    carried = front.carried()
    back = plan_back(result, site, front.body)
    filled, rest = pour(carried, back.room)
    on_back = [] if rest else [placed for column in filled for placed in column]
    left = [*(carried if rest else []), *([gap(3.0)] if rest and back.ground.rest else []), *back.ground.rest]
    title = (f"{site.site}, continued", f"rank {site.rank}, {result.plan.ranch.name}")
    kind = Sheet("further", lambda page: None, site.site)
    pages = flowing_sheets(result, left, title, columns=2, sheet=kind)
    further = 3 if rest else 1
    way, *more = way_sheets(result, site, overview, between=len(pages))
    return [
        Sheet("front", lambda page: draw_front(page, result, front, closeup, further), site.site),
        Sheet("back", lambda page: draw_back(page, result, back, overview, on_back), site.site),
        way,
        *pages,
        *more,
    ]


def _columns(result: ScoutResult, site: Site, crs: str, width: float) -> tuple[list[Block], list[Block]]:
    """The two columns: coordinates left, bars right, the rest below them so that the columns come out even.

    Cameras come last, under the shorter column: of what does not fit they go on to the next page first.
    """
    printer = Printer(result.plan.ranch.units)
    left, right = sitetext.coordinates(site, crs, printer, width), sitetext.factor_bars(site, width)
    why = [*sitetext.flags(site, width), *sitetext.reasons(site, width)]
    near = sitetext.hazards(site, printer, width)
    holds = sitetext.support(site, width)
    ways = (
        ([why, holds], [near]), ([why], [near, holds]), ([why, near], [holds]), ([near, holds], [why]),
        ([near], [why, holds]), ([holds], [why, near]),
    )  # fmt: skip
    tried = [([*left, *itertools.chain(*a)], [*right, *itertools.chain(*b)]) for a, b in ways]
    least = min(max(map(height_of, pair)) for pair in tried)
    best = next(pair for pair in tried if max(map(height_of, pair)) <= least + _EVEN_MM)
    min(best, key=height_of).extend(sitetext.cameras_near(site, width))
    return best


def _head_lines(result: ScoutResult, site: Site, width: float) -> list[tuple[str, Fitted]]:
    """Ranch, parcel and owner in full, as small as they must be."""
    facts = (("ranch", result.plan.ranch.name), ("parcel", site.parcel), ("owner", site.owner or "not stated"))
    fitted = []
    for label, value in facts:
        once = fit(value, width - 14.0, BODY, lines=2, floor_pt=7.0)
        fitted.append((label, fit(value, width - 14.0, TextStyle(size_pt=6.5), lines=9) if once.cut else once))
    date = f"{result.plan.date.isoformat()}"
    return [*fitted, ("date", fit(date, width - 14.0, BODY))]


def _draw_head(page: Page, result: ScoutResult, front: Front) -> None:
    site, box = front.site, Box(front.body.x, front.body.y, front.body.width, front.head_mm)
    name = fit(site.site, 58.0, TextStyle(size_pt=38.0, bold=True), floor_pt=12.0)
    page.text(box.x, box.y + 15.5, name.lines[0], name.style)
    outline = AreaLook(outline=LineLook(width_pt=0.9))
    rank = rank_words(site.rank, site.standing)
    facts = (("rank", rank, f"of {len(result.sites)}"), ("score", str(site.score), "of 100"))
    for k, (label, value, of) in enumerate(facts):
        card = Box(box.x + 61.0 + k * 19.5, box.y + 1.0, 17.5, 19.0)
        page.area(card, outline)
        middle = card.x + card.width / 2
        page.text(middle, card.y + 3.6, label, TextStyle(size_pt=6.5, bold=True, colour=GREY, align="center"))
        page.text(middle, card.y + 12.2, value, _BIG)
        page.text(middle, card.y + 16.8, of, TextStyle(size_pt=7.5, align="center"))
    x, y = box.x + _HEAD_LEFT_MM, box.y
    for label, fitted in front.head:
        page.text(x, y + BODY.ascent_mm, label, LABEL)
        y = page.lines(x + 14.0, y, fitted)
    number = f"page {page.number} of {page.of}"
    page.text(box.right, y - BODY.line_mm + BODY.ascent_mm, number, TextStyle(bold=True, align="right"))
    page.line((box.x, box.right), (box.bottom, box.bottom), LineLook(width_pt=1.2))


def site_frame(site: Site, map_box: Box) -> MapFrame:
    """The frame of a site's map: the middle of the ring in the middle of the box, at 1:2,500."""
    return MapFrame.centred(
        site.place.x_m, site.place.y_m, scale=SITE_SCALE, width_mm=map_box.width, height_mm=map_box.height
    )


def _draw_map(page: Page, result: ScoutResult, site: Site, closeup: Backdrop, map_box: Box) -> None:
    units = result.plan.ranch.units
    frame = site_frame(site, map_box)
    content = MapContent(
        backdrop=closeup, stops=result.stops, sites=result.sites, focus=site, units=units,
        ring_radius_m=result.plan.net.radius_m,
    )  # fmt: skip
    key = draw_map(page.map_axes(map_box, frame.bounds, closeup.grid.crs), frame, content)
    draw_grid(page, map_box, frame)
    strip = Box(map_box.x - TICK_ROOM_MM, map_box.bottom + 1.6, map_box.width + TICK_ROOM_MM, _STRIP_MM)
    _draw_strip(page, result, site, frame, strip, key)


def _draw_strip(page: Page, result: ScoutResult, site: Site, frame: MapFrame, box: Box, key: MapKey) -> None:
    units = result.plan.ranch.units
    draw_scale_bars(page, box.x, box.y, 46.0, frame, units)
    scale = scale_words(frame.scale, units)
    lacking = [w for w, there in (("terrain", key.has_relief), ("canopy", key.canopy)) if not there]
    missing = [f"no {' and no '.join(lacking)} layer"] if lacking else []
    draw_words(page, box.x, box.y + 13.2, 46.0, [scale, *missing])
    convergence = site.place.convergence_deg
    draw_north(page, box.x + 52.0, box.y - 0.5, convergence)
    words = north_words(convergence)
    draw_words(page, box.x + 57.0, box.y + 1.0, 26.0, words)
    start = 57.0 + 28.0
    legend = Box(box.x + start, box.y, box.width - start, box.height - 1.0)
    rows = entries(key, Printer(units))
    draw_legend(page, legend, rows, columns=2 if len(rows) <= 8 else 3)
