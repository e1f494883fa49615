"""The annex of the report: chart, sets, catches, effort, rates, land, groups, estimate, damage, use, checks, rows."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

from boscage.model.ledger import ANIMAL_CLASSES
from boscage.model.report import ReportResult, SetLine, counted, listed
from boscage.sheets.flow import Block, Column, gap, heading, height_of, loud, paragraph, table
from boscage.sheets.page import Page
from boscage.sheets.reportchart import chart_block, chart_words
from boscage.sheets.reportchecks import due_blocks, late_blocks, rule_blocks
from boscage.sheets.reportmethod import definition_blocks, method_blocks
from boscage.sheets.reportwords import (
    NOT_KNOWN,
    area_words,
    bait_words,
    damage_words,
    estimate_words,
    hours_words,
    level_words,
    missing_words,
    percent,
    rate_words,
    sign_words,
    state_words,
    two,
    use_words,
)
from boscage.sheets.running import body_box
from boscage.sheets.sheet import Sheet, flowing_sheets
from boscage.sheets.style import BODY, BOLD, SMALL, TextStyle
from boscage.values import Printer

MOST_ROWS, FEW_ROWS = 30, 12
_WHOLE_ROWS, _WHOLE_MM, _MOST_LINES = 14, 100.0, 6
_CELL = TextStyle(size_pt=7.5)
_CELL_BOLD = TextStyle(size_pt=7.5, bold=True)
Rows = Sequence[Sequence[str]]


def plan_annex(result: ReportResult) -> list[Sheet]:
    """As many pages as it takes."""
    page = Page(result.plan.paper)
    width = body_box(page.width_mm, page.height_mm).width
    parts: tuple[tuple[str, Callable[[ReportResult, float], list[Block]]], ...] = (
        ("What comes next", _steps), ("Catches and effort by night", _chart), ("Sets", _sets),
        ("Catches", _catches), ("Effort", _effort), ("Rates", _rates),
        ("Land covered, by parcel", _parcels), ("Groups", _groups),
        ("Animals left: may they be estimated?", _removal), ("Damage and sign on transects", _damage),
        ("Use of the land, from sign", _use), ("Checks of armed sets", _checks), ("Rows of the log to mend", _problems),
        ("What words mean here", definition_blocks), ("How it was reckoned, and limits", method_blocks),
    )  # fmt: skip
    blocks = [b for title, make in parts for b in (*_titled(title, make(result, width), width), gap(3.0))]
    head = ("Annex", f"{result.plan.ranch.name}, as of {result.plan.date}")
    return flowing_sheets(result, blocks, head, columns=1, sheet=Sheet("annex", lambda page: None))


def _titled(title: str, blocks: list[Block], width: float) -> list[Block]:
    return [heading(title, width), *blocks]


def _grid(heads: Sequence[tuple[str, float]], rows: Rows, width: float, word: str = "row") -> list[Block]:
    """A table whose columns share the width; of very many rows the first few stand, with a line that says so."""
    whole = sum(w for _, w in heads)
    columns = [
        Column(title=title, width_mm=width * w / whole, style=_CELL_BOLD if k == 0 else _CELL, lines=_MOST_LINES)
        for k, (title, w) in enumerate(heads)
    ]
    shown = rows if len(rows) <= MOST_ROWS else rows[:FEW_ROWS]
    left = len(rows) - len(shown)
    more = paragraph(f"{counted(left, word)} more in report.json.", width, SMALL) if left > 0 else []
    made = table(columns, shown)
    if len(shown) <= _WHOLE_ROWS and height_of(made) <= _WHOLE_MM:
        made = [*[replace(b, keep_next=True) for b in made[:-1]], made[-1]]
    return [*made, gap(0.8), *more]


def _sentences(texts: Sequence[str], width: float) -> list[Block]:
    return [b for t in texts if t for b in paragraph(f"{t[:1].upper()}{t[1:]}", width, bullet=True)]


def _steps(result: ReportResult, width: float) -> list[Block]:
    if not result.steps:
        return paragraph("Nothing that the log asks for.", width)
    rows = [
        (s.who, f"NOW: {s.what}" if s.urgent else s.what, s.by.isoformat() if s.by else "no day") for s in result.steps
    ]
    return _grid((("who", 20.0), ("does what", 144.0), ("by", 22.0)), rows, width, "step")


def _chart(result: ReportResult, width: float) -> list[Block]:
    if not result.nights:
        return paragraph("The log has no night yet, so there is nothing to draw.", width)
    return [chart_block(result.nights, width), *paragraph(chart_words(result.nights), width, SMALL)]


def _sets(result: ReportResult, width: float) -> list[Block]:
    if not result.sets:
        return paragraph("No set is in the log.", width)
    ranked = sorted(result.sets, key=lambda s: (-s.animals, -s.armed)) if len(result.sets) > MOST_ROWS else result.sets
    where = "square (km E, N)" if result.masked else "place (m E, N)"
    heads = (("set", 20.0), ("first, last row", 21.0), ("bait", 9.0), ("open", 10.0), ("armed", 12.0),
             ("checks", 13.0), ("catches", 14.0), ("animals", 14.0), ("others", 12.0), ("hours", 13.0),
             ("no look", 14.0), ("stands", 24.0), (where, 28.0))  # fmt: skip
    rows = [
        (s.site, f"{s.first} {s.last}", str(s.prebait), str(s.open), str(s.armed), str(s.checks),
         str(s.events), str(s.animals), str(s.nontargets), hours_words(s.hours), str(s.unchecked),
         s.state or "no state", _place(s))
        for s in ranked
    ]  # fmt: skip
    note = (
        "bait, open, armed: nights in each state. Others: rows of other animals. No look: armed nights without a "
        "check, catch or other animal in the log."
    )
    return [*_grid(heads, rows, width, "set"), *paragraph(note, width, SMALL)]


def _place(line: SetLine) -> str:
    moved = f", of {line.places} places the last" if line.places > 1 else ""
    if line.square is not None:
        b = line.square
        km = [f"{v / 1000.0:g}" for v in (b.west, b.east, b.south, b.north)]
        return f"{km[0]} to {km[1]}, {km[2]} to {km[3]}{moved}"
    if math.isnan(line.x_m):
        return NOT_KNOWN
    return f"{line.x_m:.0f}, {line.y_m:.0f}{moved}; {line.parcel}" if line.parcel else f"{line.x_m:.0f}, {line.y_m:.0f}"


def _catches(result: ReportResult, width: float) -> list[Block]:
    caught = result.captures
    if not caught.nights:
        return paragraph("Nothing was caught.", width)
    heads = (("night", 21.0), ("set", 20.0), ("group", 40.0), *[(c, 14.0) for c in ANIMAL_CLASSES], ("all", 9.0),
             ("days from bait", 23.0), ("first person", 20.0), ("last dead", 18.0))  # fmt: skip
    rows = [
        (n.night.isoformat(), n.site, listed(n.groups, 4) or "no group written", *[str(c) for c in n.counts],
         str(n.animals), two(n.days_from_bait), _minutes(n.minutes_to_approach), _minutes(n.minutes_to_finish))
        for n in reversed(caught.nights)
    ]  # fmt: skip
    fates = listed([f"{n} {name or 'of no written fate'}" for name, n in caught.fates.items()])
    others = listed([f"{n} {name or 'of no written kind'}" for name, n in caught.nontargets.items()])
    hurt = "nothing is written of injuries" if caught.injuries is None else "injuries: " + (
        ", ".join(counted(n, c) for c, n in caught.injuries.items() if n) or "none written down")  # fmt: skip
    texts = (f"What became of them: {fates}.", f"Other animals: {others or 'none in the log'}.", f"{hurt}.",
             "Minutes run from the net down to the first person near and to the last animal dead, the welfare record.",
             )  # fmt: skip
    return [*_grid(heads, rows, width, "catch"), *_sentences(texts, width)]


def _minutes(minutes: float) -> str:
    return NOT_KNOWN if math.isnan(minutes) else f"{minutes:.0f} min"


def _effort(result: ReportResult, width: float) -> list[Block]:
    effort, printer = result.effort, Printer(result.plan.ranch.units)
    cameras = NOT_KNOWN if math.isnan(effort.camera_nights) else f"{effort.camera_nights:,.0f}"
    text = (
        f"Set-nights: {effort.armed_nights} armed, {effort.open_nights} open, {effort.prebait_nights} with bait alone. "
        f"Camera nights: {cameras}. Checks: {effort.checks}. {bait_words(effort.bait_kg, printer).capitalize()}, in "
        f"{counted(effort.rows_with_bait, 'row')}."
    )
    blocks = paragraph(text, width)
    if not effort.hours_by_task:
        return [*blocks, *paragraph("No row states hours.", width)]
    whole = effort.hours or 1.0
    rows = [(name, hours_words(h), percent(h / whole)) for name, h in
            sorted(effort.hours_by_task.items(), key=lambda item: -item[1])]  # fmt: skip
    rows.append(("all", hours_words(effort.hours), "100 %" if effort.hours else NOT_KNOWN))
    heads = (("task, or event where none is written", 70.0), ("person-hours", 30.0), ("share", 20.0))
    short = [f"{counted(effort.rows_without_hours, 'row')} without hours: the hours are at least these."] if (
        effort.rows_without_hours) else []  # fmt: skip
    return [*blocks, *_grid(heads, rows, width * 0.6, "task"), *_sentences(short, width)]


def _rates(result: ReportResult, width: float) -> list[Block]:
    rates = result.rates
    heads = (("rate", 70.0), (f"value ({level_words(result)})", 60.0), ("from", 60.0))
    armed = counted(result.effort.armed_nights, "armed night")
    rows = [
        ("animals an armed night", rate_words(rates.per_armed_night),
         f"{counted(result.captures.total, 'animal')}, {armed}"),
        ("catches an armed night", rate_words(rates.events_per_armed_night),
         f"{counted(len(result.captures.nights), 'catch')}, {armed}"),
        ("person-hours an animal", two(rates.hours_per_capture), hours_words(result.effort.hours)),
        ("known groups taken whole", f"{result.groups.complete} of {result.groups.known}", "see Groups"),
    ]  # fmt: skip
    return [*_grid(heads, rows, width), *_sentences(rates.notes, width)]


def _parcels(result: ReportResult, width: float) -> list[Block]:
    land, printer = result.covered, Printer(result.plan.ranch.units)
    if not land.parcels:
        return _sentences(land.notes or ("No parcel has its access granted.",), width)
    heads = (("parcel", 46.0), ("owner", 52.0), ("land", 24.0), ("covered", 24.0), ("share", 20.0),
             ("armed nights on it", 28.0))  # fmt: skip
    ranked = sorted(land.parcels, key=lambda p: -p.covered_ha)
    rows = [
        (p.parcel, p.owner or "not stated", printer.area(p.hectares), area_words(p.covered_ha, printer),
         percent(p.covered_share), two(p.mean_nights) if p.covered_ha else "none")
        for p in ranked
    ]  # fmt: skip
    rows.append(("all, each place once", "", printer.area(land.granted_ha), area_words(land.covered_ha, printer),
                 percent(land.covered_ha / land.granted_ha) if land.granted_ha else NOT_KNOWN,
                 two(land.hectare_nights / land.covered_ha) if land.covered_ha else "none"))  # fmt: skip
    rounded = "areas are rounded in a masked copy." if result.masked else ""
    return [*_grid(heads, rows, width, "parcel"), *_sentences([*land.notes, rounded], width)]


def _groups(result: ReportResult, width: float) -> list[Block]:
    found = result.groups
    blocks: list[Block] = []
    if found.groups:
        heads = (("group", 46.0), ("known", 14.0), ("taken", 14.0), ("boars", 14.0), ("still out", 16.0),
                 ("of them", 48.0), ("state", 26.0), ("counted on", 22.0), ("by", 38.0))  # fmt: skip
        rows = [
            (g.group, "?" if g.known is None else str(g.known), str(g.taken), str(g.boars_apart),
             "?" if g.missing is None else str(g.missing), missing_words(g) if g.missing else "", state_words(g),
             g.night.isoformat() if g.night else "no date", g.source)
            for g in sorted(found.groups, key=lambda g: -(g.missing or 0))
        ]  # fmt: skip
        blocks = _grid(heads, rows, width, "group")
    else:
        blocks = paragraph("No group is named in the log.", width)
    seen = [f"cameras saw up to {most} at {name}, last on {night}; the plan does not say which group of the log that is"
            for name, most, night in result.camera_groups]  # fmt: skip
    apart = ""
    if found.taken_apart:
        apart = f"{counted(found.taken_apart, 'animal')} caught that no count of a group takes in: boars, other groups."
    notes = [apart, *[f"{s}." for s in seen], *found.notes]
    more = len(notes) - FEW_ROWS
    notes = [*notes[:FEW_ROWS], f"{counted(more, 'note')} more in report.json."] if more > 0 else notes
    return [*blocks, *_sentences(notes, width)]


def _removal(result: ReportResult, width: float) -> list[Block]:
    found = result.removal
    blocks = paragraph(estimate_words(result, where=""), width, BOLD)
    heads = (("test", 24.0), ("met", 14.0), ("with what figures", 150.0))
    rows = [(t.name, "yes" if t.passed else "NO", t.text) for t in found.tests]
    blocks += _grid(heads, rows, width, "test")
    if found.estimate is not None:
        beside = f"; {found.beside.method}: {found.beside.number:,.0f}" if found.beside else ""
        text = f"Method: {found.estimate.method}, {found.estimate.number:,.0f} before the first pass{beside}."
        blocks += paragraph(text, width)
    return blocks


def _damage(result: ReportResult, width: float) -> list[Block]:
    found = result.damage
    blocks = paragraph(damage_words(result), width)
    blocks += paragraph(sign_words(result), width)
    notes = found.notes if found.change is None else (*getattr(found.change, "notes", ()), *found.notes)
    return [*blocks, *(_sentences(notes, width) if found.change is not None else [])]


def _use(result: ReportResult, width: float) -> list[Block]:
    use = result.use
    if use.before is None and use.after is None:
        return _sentences(use.notes, width)
    text = (
        f"Share of use within the covered land. {use_words(use.before, 'Before the first armed night')} "
        f"{use_words(use.after, 'After the last catch')}"
    )
    return [*paragraph(text, width, BODY), *_sentences(use.notes, width)]


def _checks(result: ReportResult, width: float) -> list[Block]:
    clock, rule = result.clock, result.plan.checks
    return [
        *rule_blocks(rule, clock, width),
        *due_blocks(clock, result.zone, width, tick=False), gap(1.0), *late_blocks(clock, rule, width),
        *paragraph(f"Clock times are in {result.zone}; due times are as of {clock.now:%Y-%m-%d %H:%M}.", width, SMALL),
    ]  # fmt: skip


def _problems(result: ReportResult, width: float) -> list[Block]:
    held = result.quality
    words = f"{counted(held.rows, 'row')}: {held.rows - held.aside:,} counted, {held.aside:,} set aside"
    words += f" with {counted(held.animals_aside, 'animal')}." if held.animals_aside else "."
    blocks = paragraph(words, width)
    if result.problems:
        rows = [(str(p.row), "counted" if p.counted else "SET ASIDE", p.text) for p in result.problems]
        blocks += _grid((("row", 14.0), ("row is", 22.0), ("what is wrong, and what to do", 150.0)), rows, width, "row")
    if result.hidden:
        text = f"{counted(result.hidden, 'row')} with something to mend belong to other land or to none that is known."
        blocks += loud(text, width)
    return [*blocks, *_sentences(result.notes, width)]
