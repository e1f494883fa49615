"""The summary for a supervisor: totals by crew and land, a line a ranch and season, what the data are worth."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from boscage.model.ledger import ANIMAL_CLASSES
from boscage.model.report import SeasonLine, SeasonResult, SeasonTotal, counted
from boscage.sheets.flow import Block, Column, bullets, gap, heading, pair, paragraph, table
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.reportmethod import DEFINITIONS
from boscage.sheets.reportwords import NOT_KNOWN, area_words, hours_words, percent, rate_words, two
from boscage.sheets.running import body_box
from boscage.sheets.sheet import Sheet, flowing_sheets
from boscage.sheets.style import SMALL, TextStyle
from boscage.values import Printer

_CELL = TextStyle(size_pt=7.5)
MOST_ROWS = 200


def print_season(result: SeasonResult, target: Path) -> None:
    """Write the summary to one PDF."""
    with own_settings():
        sheets = plan_season_sheets(result)
        pages = (_drawn(result, sheet, n, len(sheets)) for n, sheet in enumerate(sheets, start=1))
        write_pdf(pages, target, title="Season summary", date=result.plan.date)


def plan_season_sheets(result: SeasonResult) -> list[Sheet]:
    """Every page in order, laid out but not drawn."""
    page = Page(result.plan.paper)
    width = body_box(page.width_mm, page.height_mm).width
    head = ("Season summary", f"{counted(len(result.lines), 'ranch season')}, as of {result.plan.date}")
    return flowing_sheets(
        result, season_blocks(result, width), head, columns=1, sheet=Sheet("season", lambda page: None)
    )  # fmt: skip


def _drawn(result: SeasonResult, sheet: Sheet, number: int, of: int) -> Page:
    page = Page(result.plan.paper, number=number, of=of)
    sheet.draw(page)
    return page


def season_blocks(result: SeasonResult, width: float) -> list[Block]:
    """All of the summary."""
    whole = result.of("all")[0]
    words = (
        f"{counted(whole.animals, 'animal')} in {counted(whole.events, 'catch')} on "
        f"{counted(whole.armed_nights, 'armed night')} of {counted(whole.sites, 'set')}; at least {whole.missing} of "
        "known groups left."
    )
    return [
        *paragraph(words, width, TextStyle(size_pt=11.0, bold=True)), gap(1.0),
        *_totals("By crew", "crew", [*result.of("crew"), *result.of("all")], result, width),
        *_totals("By land", "ranch", [*result.of("land"), *result.of("all")], result, width),
        *_lines(result, width), *_quality(result, width),
        heading("Mind", width), *bullets(_notes(result), width), gap(2.0),
        heading("What words mean here, for every crew and ranch", width),
        *[pair(word, text, width, label_mm=24.0) for word, text in DEFINITIONS],
    ]  # fmt: skip


def _grid(title: str, heads: Sequence[tuple[str, float]], rows: Sequence[Sequence[str]], width: float) -> list[Block]:
    whole = sum(w for _, w in heads)
    columns = [
        Column(title=t, width_mm=width * w / whole, style=replace(_CELL, bold=k == 0), lines=4)
        for k, (t, w) in enumerate(heads)
    ]
    more = len(rows) - MOST_ROWS
    rest = paragraph(f"{counted(more, 'row')} more in season.csv.", width, SMALL) if more > 0 else []
    return [*table(columns, rows[:MOST_ROWS], title=heading(title, width)), *rest, gap(3.0)]


def _totals(title: str, word: str, totals: Sequence[SeasonTotal], result: SeasonResult, width: float) -> list[Block]:
    printer = Printer(result.plan.ranch.units)
    heads = ((word, 44.0), ("seasons", 16.0), ("sets", 11.0), ("armed", 14.0), ("animals", 16.0), ("catches", 16.0),
             ("animals a night", 34.0), ("hours", 17.0), ("hours an animal", 27.0), ("left", 12.0),
             ("covered", 22.0))  # fmt: skip
    rows = [
        (t.name, str(t.lines), f"{t.sites:,}", f"{t.armed_nights:,}", f"{t.animals:,}", f"{t.events:,}",
         rate_words(t.rates.per_armed_night), hours_words(t.hours), two(t.rates.hours_per_capture), f"{t.missing:,}",
         NOT_KNOWN if math.isnan(t.covered_ha) else area_words(t.covered_ha, printer))
        for t in totals
    ]  # fmt: skip
    return _grid(title, heads, rows, width)


def _lines(result: SeasonResult, width: float) -> list[Block]:
    printer = Printer(result.plan.ranch.units)
    heads = (("ranch, season, crew", 38.0), ("nights", 22.0), ("bait", 10.0), ("open", 10.0), ("armed", 12.0),
             ("boar", 11.0), ("sow", 10.0), ("yearling", 15.0), ("piglet", 12.0), ("all", 9.0),
             ("animals a night", 30.0), ("whole", 14.0), ("left", 9.0), ("covered", 18.0),
             ("share", 13.0))  # fmt: skip
    rows = [_line(line, printer) for line in result.lines]
    return _grid("Each ranch and season", heads, rows, width)


def _line(line: SeasonLine, printer: Printer) -> tuple[str, ...]:
    effort, caught = line.effort, line.captures
    share = percent(line.covered_ha / line.granted_ha) if line.granted_ha else NOT_KNOWN
    return (
        ", ".join(w for w in (line.ranch, line.season, line.crew) if w),
        f"{line.begin} {line.end}" if line.begin else "none", str(effort.prebait_nights), str(effort.open_nights),
        str(effort.armed_nights), *[str(caught.by_class[c]) for c in ANIMAL_CLASSES], str(caught.total),
        rate_words(line.rates.per_armed_night), f"{line.groups_complete} of {line.groups_known}", str(line.missing),
        area_words(line.covered_ha, printer), share,
    )  # fmt: skip


def _quality(result: SeasonResult, width: float) -> list[Block]:
    """One line a ranch and season on what its figures rest on."""
    blocks = [heading("What the data are worth", width)]
    for line in result.lines:
        blocks += paragraph(f"{line.ranch}, {line.season}: {quality_words(line)}", width, bullet=True)
    return [*blocks, gap(2.0)]


def quality_words(line: SeasonLine) -> str:
    """What the figures of a ranch and season rest on, in one sentence."""
    held = line.quality
    if not held.rows:
        return "the log holds no row; nothing is known of this season."
    parts = [f"{held.rows - held.aside:,} of {counted(held.rows, 'row')} counted"]
    if held.animals_aside:
        parts.append(f"{counted(held.animals_aside, 'animal')} in rows set aside")
    if held.listed > held.aside:
        parts.append(f"{counted(held.listed - held.aside, 'counted row')} with something to mend")
    parts.append(f"{counted(held.without_hours, 'row')} without hours" if held.without_hours else "hours in every row")
    if held.gaps:
        parts.append(
            f"of {counted(held.gaps, 'interval')} between looks {held.late} too long and {held.gaps_unknown} not known"
        )
    if held.unchecked:
        parts.append(f"{counted(held.unchecked, 'armed night')} without a look")
    if held.unplaced:
        parts.append(f"{counted(held.unplaced, 'armed set')} without a place, whose land is missing")
    if held.groups_unknown:
        parts.append(f"{counted(held.groups_unknown, 'group')} never counted")
    return f"{'; '.join(parts)}."


def _notes(result: SeasonResult) -> list[str]:
    """Where lines do not stand on the same ground, and what sums do not mean."""
    own = [
        "Rates are totals over totals with the exact Poisson interval; animals come in groups, so it is too narrow.",
        "A night is an armed night. Whole: known groups taken whole. Left: least number of known groups known alive, "
        "of one ranch that of its last season. Never an estimate.",
        "Covered: ground of one ranch that several seasons covered counts once.",
    ]
    told = [f"{t.name}: {n}" for t in result.totals for n in t.notes]
    return [*result.notes, *dict.fromkeys(told), *own]

