"""What was ruled out and by which rule, and what data the ranking rests on."""

from __future__ import annotations

from collections.abc import Sequence

from boscage.model.layers import LATER_LAYERS, LAYER_TITLES, LayerReport
from boscage.model.results import ScoutResult, StopArea
from boscage.model.rules import GRADES
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, table
from boscage.sheets.page import Page
from boscage.sheets.running import body_box
from boscage.sheets.sheet import Sheet, flowing_sheets
from boscage.sheets.style import BODY, BOLD, SMALL, TextStyle
from boscage.values import Printer


def plan_rules(result: ScoutResult, carried: Sequence[Block]) -> list[Sheet]:
    """The page or pages on rules and data, after what the overview had no room for."""
    blank = Page(result.plan.paper)
    width = body_box(blank.width_mm, blank.height_mm).width
    blocks = [*carried, *([gap(4.0)] if carried else []), *_stops(result, width), gap(3.0), *_data(result, width)]
    head = ("Rules and data", f"{result.plan.ranch.name}, plan of {result.plan.date.isoformat()}")
    kind = Sheet("rules", lambda page: None)
    return flowing_sheets(result, blocks, head, columns=1, sheet=kind)


def _stops(result: ScoutResult, width: float) -> list[Block]:
    printer = Printer(result.plan.ranch.units)
    applied = [s for s in result.stops if s.applied]
    blocks: list[Block] = [heading("Ruled out, by hard stop", width)]
    for stop in result.stops:
        if not stop.applied:
            blocks += loud(_not_applied(stop), width)
    if not applied:
        return [*blocks, *loud("No hard stop could be applied. Nothing was ruled out.", width)]
    fixed = (31.0, 17.0, 20.0, 10.5)
    rest = width - sum(fixed)
    columns = [
        Column(title="stop", width_mm=fixed[0], style=BOLD),
        Column(title="ruled out", width_mm=fixed[1]),
        Column(title="rule", width_mm=rest * 0.66),
        Column(title="who says so", width_mm=rest * 0.34, style=SMALL),
        Column(title="checked", width_mm=fixed[2]),
        Column(title="grade", width_mm=fixed[3], style=BOLD),
    ]
    blocks += table(columns, [_stop_row(s, printer) for s in applied])
    note = "Stops overlap: their areas do not add up. Grades: "
    note += "; ".join(f"{g} {words}" for g, words in GRADES.items()) + "."
    return [*blocks, gap(0.6), *paragraph(note, width, SMALL)]


def _not_applied(stop: StopArea) -> str:
    """A sentence that cannot be read as good news."""
    why = _sentence(stop.note or "no layer given")
    return f"{stop.title.upper()}: STOP NOT APPLIED. {why} That is NOT the same as none."


def _sentence(text: str) -> str:
    text = text.rstrip(". ")
    return f"{text[:1].upper()}{text[1:]}."


def _stop_row(stop: StopArea, printer: Printer) -> tuple[str, ...]:
    reach = f" Reach applied: {printer.length(stop.distance_m)}." if stop.distance_m else ""
    note = f" {_sentence(stop.note)}" if stop.note else ""
    if stop.rule is None:
        return (stop.title, printer.area(stop.hectares), f"No rule needed.{reach}{note}", "", "", "")
    rule = stop.rule
    checked = rule.checked.isoformat() + (" CHECK AGAIN" if stop.stale else "")
    place = "" if rule.place == "anywhere" else f" ({rule.place})"
    text = f"{rule.text}{place}{reach}{note}"
    return (stop.title, printer.area(stop.hectares), text, rule.citation, checked, rule.grade)


def _data(result: ScoutResult, width: float) -> list[Block]:
    """Layers, weights, and notes but for those that the ground's own page prints."""
    blocks: list[Block] = [heading("Data the ranking rests on", width)]
    missing = [r for r in result.reports if r.state == "missing"]
    for report in missing:
        title = LAYER_TITLES.get(report.name, report.name).upper()
        read = report.read.rstrip(". ") or "not given"
        blocks += loud(f"{title}: {read}. NOT the same as none.", width)
    fixed = (30.0, 17.0, 20.0, 14.0)
    rest = width - sum(fixed)
    columns = [
        Column(title="layer", width_mm=fixed[0], style=BOLD),
        Column(title="state", width_mm=fixed[1]),
        Column(title="data date", width_mm=fixed[2]),
        Column(title="covers", width_mm=fixed[3]),
        Column(title="what was read", width_mm=rest * 0.62, style=TextStyle(size_pt=7.0)),
        Column(title="source", width_mm=rest * 0.38, style=SMALL),
    ]
    given = [r for r in result.reports if r.state != "missing"]
    used = [r for r in given if r.name not in LATER_LAYERS or r.state != "usable"]
    if used:
        blocks += table(columns, [_layer_row(r) for r in used])
    spare = [LAYER_TITLES.get(r.name, r.name) for r in given if r not in used]
    if spare:
        blocks += paragraph(f"In the plan, not used by this ranking: {', '.join(spare)}.", width)
    blocks += [gap(2.5), *_weights(result, width), *_choices(result, width)]
    there = result.ground.notes if result.ground is not None else ()
    notes = [n for n in result.notes if n not in there]
    if notes:
        blocks.append(heading("Notes on the run", width))
        for note in notes:
            blocks += paragraph(note, width, BODY, bullet=True)
    return blocks


def _choices(result: ScoutResult, width: float) -> list[Block]:
    """What became of the places that the operator pinned, added or rejected."""
    if not result.choices:
        return []
    blocks: list[Block] = [heading("Places chosen by hand", width)]
    for outcome in result.choices:
        if outcome.state == "ruled out":
            blocks += loud(outcome.sentence, width)
        else:
            blocks += paragraph(outcome.sentence, width, BODY, bullet=True)
    return [*blocks, gap(2.0)]


def _layer_row(report: LayerReport) -> tuple[str, ...]:
    covers = "" if report.coverage is None else f"{report.coverage * 100:.0f} %"
    read = " ".join([f"{report.read.rstrip('. ')}.", *report.doubts, report.error]).strip()
    title = LAYER_TITLES.get(report.name, report.name)
    date = report.date.isoformat() if report.date else "not stated"
    return (title, report.state, date, covers, read, report.source or "not stated")


def _weights(result: ScoutResult, width: float) -> list[Block]:
    total = sum(result.factor_weights.values())
    if total <= 0:
        return []
    titles = {r.name: r.title for s in result.sites for r in s.readings}
    parts = [f"{titles.get(n, n)} {100 * w / total:.0f} %" for n, w in result.factor_weights.items() if w > 0]
    return [heading("Weights in the score", width), *paragraph("; ".join(parts) + ".", width), gap(2.0)]
