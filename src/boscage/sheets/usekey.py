"""The legend of the map of use: each pattern with its limits and the land within, then lines, cameras and features."""

from __future__ import annotations

import math
from functools import partial

from boscage.model.findings import Evidence
from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.flow import Block, gap
from boscage.sheets.groundkey import feature_entries, pattern_row
from boscage.sheets.legend import Entry
from boscage.sheets.mapblock import MapKeyed, legend_blocks
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import LegendRoom, MapPlan, left_out_words, plan_map
from boscage.sheets.usemap import Levels, UseSeen, draw_mark_swatch, draw_use_map
from boscage.sheets.usepatterns import NOT_LOOKED, USE_PATTERNS
from boscage.values import Printer

SIDE_MM = 53.0
_MARKS = {
    "camera": "C: camera",
    "camera_bait": "C: camera at a bait place",
    "bait": "B: bait place",
}
_NO_LINE = "no searched line in the plan: NOT the same as no sign"


def use_map(result: ScoutResult, overview: Backdrop) -> MapKeyed:
    """The map of use with its legend."""
    seen = _try_out(result, overview)
    printer = Printer(result.plan.ranch.units)

    def draw(page: Page, plan: MapPlan) -> tuple[str, ...]:
        drawn = draw_use_map(page, result, overview, plan)
        names = (f"no room for the name of {', '.join(drawn.left_out)}",) if drawn.left_out else ()
        return (*left_out_words(drawn.key), *names)

    def key(width: float) -> list[Block]:
        assert result.evidence is not None
        return [*_pattern_blocks(result.evidence, seen, printer, width), gap(0.8),
                *legend_blocks(_rows(seen, printer), width)]  # fmt: skip

    return MapKeyed(draw=draw, key=key, side_mm=SIDE_MM)


def _try_out(result: ScoutResult, overview: Backdrop) -> UseSeen:
    """What will be on the map, from a draft of it that is thrown away."""
    page = Page(result.plan.paper)
    return draw_use_map(page, result, overview, plan_map(overview, Box(12.0, 30.0, 180.0, 150.0), LegendRoom()))


def class_words(evidence: Evidence, printer: Printer) -> dict[str, tuple[str, str]]:
    """Limits and a text for each pattern of the map."""
    levels = Levels.of(evidence)
    words = {
        "high use": ("", f"inside the 50 % line: {_per(levels.high, printer)} and more{_on(evidence, 0.5, printer)}"),
        "middle use": ("", f"from {_per(levels.middle, printer)}"),
        "low use": (
            "", f"out to the 95 % line: from {_per(levels.low, printer)}{_on(evidence, 0.95, printer)}",
        ),
        "trace": ("", "sign near, beyond the 95 % line"),
        "looked, no sign": ("", f"searched ground{_searched(evidence, printer)}; drawn wider than it is"),
        NOT_LOOKED: ("", _NO_LINE if evidence.effort is None else "nothing is known there: NOT the same as no sign"),
    }  # fmt: skip
    return words


def _per(density: float, printer: Printer) -> str:
    return "not known" if math.isnan(density) else printer.per_area(density)


def _on(evidence: Evidence, share: float, printer: Printer) -> str:
    hectares = next((i.hectares for i in evidence.isopleths if round(i.share, 4) == share), None)
    return "" if hectares is None else f"; {printer.area(hectares)}"


def _searched(evidence: Evidence, printer: Printer) -> str:
    effort = evidence.effort
    if effort is None:
        return ""
    return f", {printer.area(effort.looked_ha)} along {printer.length(effort.walked_m)} walked"


def _pattern_blocks(evidence: Evidence, seen: UseSeen, printer: Printer, width: float) -> list[Block]:
    words = class_words(evidence, printer)
    return [
        pattern_row(pattern, name, *words[name], width)
        for name, pattern in USE_PATTERNS.items()
        if name in seen.classes
    ]


def _rows(seen: UseSeen, printer: Printer) -> list[Entry]:
    marks = [Entry(text, partial(draw_mark_swatch, kind=kind)) for kind, text in _MARKS.items() if kind in seen.marks]
    return [*marks, *feature_entries(seen.key, printer)]
