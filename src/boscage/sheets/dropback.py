"""The back of a drop brief: hazards and what nobody searched, whose rules decide, each drop, legs, light, loads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields

from boscage.model.brief import DropResult
from boscage.model.drop import NoDrop
from boscage.model.layers import LAYER_TITLES, LayerReport
from boscage.sheets.dropfacts import fact_blocks
from boscage.sheets.dropjob import DropGroup
from boscage.sheets.droploads import left_blocks, manifest_blocks
from boscage.sheets.dropmap import draw_drop_map, plan_drop_map
from boscage.sheets.droptables import daylight_blocks, leg_blocks, misread_blocks
from boscage.sheets.dropwords import DropFigures
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, table
from boscage.sheets.page import Box, Page
from boscage.sheets.running import body_box
from boscage.sheets.sheet import Sheet, flowing_sheets
from boscage.sheets.style import BODY, BOLD

NOT_COMPLETE = (
    "NOT COMPLETE. No data show every wire, tower or hazard: what is not in them may still stand there. Ask the "
    "landowner and look from the ground before the flight."
)
CAUTIONS = (
    "The pilot alone decides go or no-go, what is lifted, with which line and where it is set down. This page gives "
    "figures to check; it gives no permission.",
    "For hire in the United States an external load is flown by an operator certificated under 14 CFR part 133, by its "
    "own load calculation for that day, place and temperature.",
    "Whose rules decide: the law of the place, then the operator's manual, then the land's own rules and the owner's "
    "word. Then this page.",
    "Wires are often in no data. Look for poles, guys and cuts in the timber; tell the pilot of every wire you know.",
    "Nobody under the load or the line. The hook touches the ground before hands do. Heavy items in the middle, loose "
    "ones tied.",
    "Places to land and their approaches are a screen of the heights in the data: no wires, stumps, dust or wind.",
)  # fmt: skip
_APART_MM = 2.5
_LONG, _BIG_MAP_DROPS, _BIG_MAP_MM = 40, 3, 150.0


def back_sheets(group: DropGroup, left: Sequence[int] = ()) -> list[Sheet]:
    """The back, and further pages for what it has no room for.

    Args:
        left: Numbers of the loads that the front had no room for.
    """
    result, width = group.result, group.body().width
    parts = (
        left_blocks(group, width, left), hazard_blocks(result, width), caution_blocks(width),
        fact_blocks(group, width), leg_blocks(group, width), daylight_blocks(group, width),
        manifest_blocks(group, width), misread_blocks(group, width), _none_blocks(result, width),
        _note_blocks(result, width), _big_map(group, width),
    )  # fmt: skip
    blocks = [b for part in parts if part for b in (*part, gap(_APART_MM))]
    named = Sheet("back", lambda page: None, ", ".join(d.drop.site for d in group.drops))
    return flowing_sheets(
        result, blocks, (f"Back: {group.title}", _who(result)), columns=1, sheet=named,
        later=f"Back, continued: {group.title}",
    )  # fmt: skip


def no_drop_sheets(result: DropResult) -> list[Sheet]:
    """The page of a brief without any drop point: why, and what comes nearest."""
    page = Page(result.plan.paper)
    width = body_box(page.width_mm, page.height_mm).width
    parts = (
        loud("NO DROP POINT for any site: there is nothing to fly.", width), _none_blocks(result, width),
        hazard_blocks(result, width), caution_blocks(width), _note_blocks(result, width),
    )  # fmt: skip
    blocks = [b for part in parts if part for b in (*part, gap(_APART_MM))]
    return flowing_sheets(
        result, blocks, ("Drop brief", _who(result)), columns=1, sheet=Sheet("none", lambda page: None)
    )  # fmt: skip


def _who(result: DropResult) -> str:
    mission = result.plan.brief.mission
    return f"{mission}, {result.plan.ranch.name}" if mission else result.plan.ranch.name


def hazard_blocks(result: DropResult, width_mm: float) -> list[Block]:
    """Which layers were looked at, from whom and of when; what nobody looked for."""
    fixed = (28.0, 27.0, 21.0)
    columns = [
        Column(title="layer", width_mm=fixed[0], style=BOLD), Column(title="searched", width_mm=fixed[1]),
        Column(title="source", width_mm=width_mm - sum(fixed)), Column(title="date", width_mm=fixed[2]),
    ]  # fmt: skip
    title = heading("Hazards in the data, and what was NOT searched", width_mm)
    rows = [_layer(r) for r in result.reports]
    blocks = [title, *loud(NOT_COMPLETE, width_mm)]
    blocks += table(columns, rows) if rows else paragraph("No layer was looked at.", width_mm, BOLD)
    blocks += [gap(1.0), *paragraph("NOT searched:", width_mm, BOLD)]
    return [*blocks, *[b for text in result.not_searched for b in paragraph(text, width_mm, BODY, bullet=True)]]


def _layer(report: LayerReport) -> tuple[str, str, str, str]:
    name = LAYER_TITLES.get(report.name, report.name)
    if report.state in ("missing", "wrong"):
        return name, "NOT SEARCHED", report.error or "no data in the plan", ""
    day = report.date.isoformat() if report.date else "date not stated"
    return name, "not complete", f"{report.source or 'source not stated'}: {report.read}", day


def caution_blocks(width_mm: float) -> list[Block]:
    """Whose rules decide, and what to beware of."""
    title = heading("Cautions: whose rules decide", width_mm)
    return [title, *[b for text in CAUTIONS for b in paragraph(text, width_mm, BODY, bullet=True)]]


def _none_blocks(result: DropResult, width_mm: float) -> list[Block]:
    """Sites without a gap that serves."""
    if not result.none:
        return []
    figures = DropFigures(units=result.plan.ranch.units, zone=result.plan.ranch.zone)
    texts = [_no_drop(none, figures) for none in result.none]
    bullets = [b for text in texts for b in paragraph(text, width_mm, BODY, bullet=True)]
    return [heading("No drop point", width_mm), *bullets]


def _no_drop(none: NoDrop, figures: DropFigures) -> str:
    if none.nearest_miss is None:
        return f"{none.site}: {none.reason}"
    wide, away = (figures.printer.length(v) for v in (none.nearest_miss.diameter_m, none.nearest_miss.reach_m))
    return f"{none.site}: {none.reason} Nearest miss: a gap {wide} across, {away} from the set."


def _note_blocks(result: DropResult, width_mm: float) -> list[Block]:
    """Notes of the run, and what is stated at such length that the front has to shorten it."""
    brief = result.plan.brief
    stated = [(f.name.replace("_", " "), getattr(brief, f.name)) for f in fields(brief)]
    long = [f"{name}: {value}" for name, value in stated if isinstance(value, str) and len(value) > _LONG]
    texts: Sequence[str] = (*result.notes, *long)
    if not texts:
        return []
    bullets = [b for text in texts for b in paragraph(text, width_mm, BODY, bullet=True)]
    return [heading("Notes, and what is stated at length", width_mm), *bullets]


def _big_map(group: DropGroup, width_mm: float) -> list[Block]:
    """The map once more and larger, where many drops leave little room for it on the front."""
    if len(group.drops) < _BIG_MAP_DROPS:
        return []
    title = heading("The map once more, larger", width_mm)
    plan = plan_drop_map(group, Box(0.0, 0.0, width_mm, _BIG_MAP_MM))

    def draw(page: Page, x: float, y: float) -> None:
        title.draw(page, x, y)
        draw_drop_map(page, group, plan.moved(x, y + title.height_mm + 1.0))

    return [Block(height_mm=_BIG_MAP_MM + title.height_mm + 1.0, draw=draw)]
