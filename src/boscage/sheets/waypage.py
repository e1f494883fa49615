"""The third page of a site's sheet: the way in, and who sees the set."""

from __future__ import annotations

from collections.abc import Sequence

from boscage.model.journey import Journey, Leg
from boscage.model.results import Backdrop, ScoutResult, Site
from boscage.sheets.flow import draw_all, heading, paragraph, pour
from boscage.sheets.legend import Entry, draw_legend
from boscage.sheets.page import Box, Page
from boscage.sheets.running import draw_foot, draw_plain_head
from boscage.sheets.sheet import Sheet, flowing_sheets
from boscage.sheets.sightmap import draw_sight_map
from boscage.sheets.style import BOLD, TextStyle
from boscage.sheets.waylayout import GAP_MM, WayLayout, plan_way_page
from boscage.sheets.waymap import draw_way_map, key_mm
from boscage.sheets.wayprofile import NO_TERRAIN, draw_profile, plan_profile, plot_box
from boscage.sheets.waytable import LEAST_PT

_LEAST_PROFILE_MM, _MOST_PROFILE_MM = 40.0, 78.0


def draw_way_page(page: Page, result: ScoutResult, laid: WayLayout, overview: Backdrop, further: int) -> None:
    """Draw the page; what it has no room for stands so many pages on."""
    site, body, units = laid.site, laid.body, result.plan.ranch.units
    draw_plain_head(page, body, f"{site.site}: way in and who sees it", f"rank {site.rank}, {result.plan.ranch.name}")
    draw_all(page, laid.placed)
    if laid.map_box is not None and laid.side_box is not None and isinstance(site.journey, Journey):
        rows = draw_way_map(page, result, site, overview, laid.map_box)
        _draw_side(page, laid.side_box, site.journey.inward, rows, units)
    heading("Who sees it", body.width).draw(page, body.x, laid.seen_top)
    if laid.sight_box is not None:
        draw_sight_map(page, result, site, overview, laid.sight_box)
    if laid.rest:
        style = TextStyle(size_pt=LEAST_PT, italic=True, align="right")
        page.text(body.right, body.bottom - 0.8, f"more on page {page.number + further}", style)
    draw_foot(page, result)


def _draw_side(page: Page, box: Box, legs: Sequence[Leg], rows: list[Entry], units: str) -> None:
    """The profile, or why there is none, above the key of the map."""
    high = min(max(_LEAST_PROFILE_MM, box.height - key_mm(rows) - GAP_MM), _MOST_PROFILE_MM)
    top = Box(box.x, box.y, box.width, high)
    plot = plot_box(top)
    profile = plan_profile(legs, units, plot.width, plot.height)
    if profile is None:
        words = [heading("Profile of the way in", box.width), *paragraph(NO_TERRAIN, box.width, BOLD)]
        draw_all(page, pour(words, [top])[0][0])
    else:
        draw_profile(page, top, profile, legs, units)
    key = min(key_mm(rows), box.bottom - top.bottom - GAP_MM)
    draw_legend(page, Box(box.x, box.bottom - key, box.width, key), rows, columns=2, least_pt=LEAST_PT)


def way_sheets(result: ScoutResult, site: Site, overview: Backdrop, *, between: int = 0) -> list[Sheet]:
    """The page on the way in and who sees the set, and further pages only when it cannot take all of the text.

    Args:
        between: Pages of the site that stand between this one and its own further pages.
    """
    laid = plan_way_page(result, site)
    title = (f"{site.site}: way in, continued", f"rank {site.rank}, {result.plan.ranch.name}")
    kind = Sheet("further", lambda page: None, site.site)
    pages = flowing_sheets(result, laid.rest, title, columns=1, sheet=kind) if laid.rest else []
    draw = Sheet("way", lambda page: draw_way_page(page, result, laid, overview, 1 + between), site.site)
    return [draw, *pages]
