"""The map of the sets chosen together: each with the land that it draws on, and where the crews' rounds begin."""

from __future__ import annotations

from functools import partial

from matplotlib.lines import Line2D

from boscage.model.findings import Together
from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.content import MapContent, MapKey
from boscage.sheets.features import Sketch
from boscage.sheets.flow import Block, set_lines
from boscage.sheets.furniture import draw_grid
from boscage.sheets.legend import Entry, entries
from boscage.sheets.mapblock import MapKeyed, legend_blocks
from boscage.sheets.mapdraw import draw_map, put_text
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import LegendRoom, MapPlan, left_out_words, plan_map
from boscage.sheets.style import INK, LAYER_ORDER, PAPER, SMALL, TextStyle
from boscage.sheets.typeset import Fitted, wrap
from boscage.values import Printer

SIDE_MM = 46.0
_BASE_MM = 3.4
_BASE = {"marker": "s", "ms": _BASE_MM / 25.4 * 72, "mfc": INK, "mec": PAPER, "mew": 0.8}
_NAME = TextStyle(size_pt=7.0, bold=True, align="center", valign="center", backing=True)
_OFF_MAP = "Where rounds begin lies off the map."


def sets_map(result: ScoutResult, overview: Backdrop, together: Together) -> MapKeyed:
    """The map with its legend."""
    page = Page(result.plan.paper)
    draft = plan_map(overview, Box(12.0, 30.0, 180.0, 150.0), LegendRoom())
    seen = _draw(page, result, overview, together, draft)
    printer = Printer(result.plan.ranch.units)

    def draw(page: Page, plan: MapPlan) -> tuple[str, ...]:
        return left_out_words(_draw(page, result, overview, together, plan))

    def key(width: float) -> list[Block]:
        rows = [Entry("rounds begin", _base_swatch)] if "base" in seen.shown else []
        reach = f"Reach: {printer.length(together.options.radius.m)}, as far as land with permission goes."
        off = _OFF_MAP if together.base is not None and "base" not in seen.shown else ""
        small = [t for text in (reach, off) for t in wrap(text, width, SMALL)]
        return [*legend_blocks([*rows, *entries(seen, printer)], width),
                *set_lines(Fitted(lines=tuple(small), style=SMALL))]  # fmt: skip

    return MapKeyed(draw=draw, key=key, side_mm=SIDE_MM)


def _draw(page: Page, result: ScoutResult, overview: Backdrop, together: Together, plan: MapPlan) -> MapKey:
    content = MapContent(
        backdrop=overview, sites=result.sites, units=result.plan.ranch.units, ring_radius_m=result.plan.net.radius_m,
        ground=False, sign=False, contours=False, sets=together.sets,
    )  # fmt: skip
    axes = page.map_axes(plan.map_box, plan.frame.bounds, overview.grid.crs)
    key = draw_map(axes, plan.frame, content, partial(_draw_base, together=together))
    draw_grid(page, plan.map_box, plan.frame)
    return key


def _draw_base(sketch: Sketch, *, together: Together) -> None:
    if together.base is None or not sketch.frame.holds(*together.base):
        return
    x, y = sketch.frame.to_mm(*together.base)
    sketch.placer.take(x, y, _BASE_MM, _BASE_MM)
    place = ([together.base[0]], [together.base[1]])
    sketch.axes.plot(*place, ls="none", scalex=False, scaley=False, zorder=LAYER_ORDER["site"] - 0.1, **_BASE)
    sketch.key.shown.add("base")
    name = Fitted(lines=("base",), style=_NAME)
    spot = sketch.placer.beside(x, y, name.width_mm + 0.9, name.height_mm + 0.4, off_mm=_BASE_MM / 2 + 0.2)
    if spot is not None:
        put_text(sketch, spot.x, spot.y, "base", _NAME)


def _base_swatch(page: Page, box: Box) -> None:
    at = ([box.x + box.width / 2], [box.y + box.height / 2])
    page.figure.add_artist(Line2D(*at, transform=page.transform, ls="none", **_BASE))  # type: ignore[arg-type]
