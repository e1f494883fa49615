"""The clock of checks on paper: the rule, what is due when, what was late, nights without a look."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boscage.model.ledger_clock import CheckOptions, ClockReport, DueCheck, Gap
from boscage.model.report import ReportResult, counted, listed
from boscage.model.rules import GRADES
from boscage.sheets.flow import Block, Column, bullets, gap, heading, loud, paragraph, table
from boscage.sheets.page import Page
from boscage.sheets.reportwords import moment_words
from boscage.sheets.running import body_box
from boscage.sheets.sheet import Sheet, flowing_sheets
from boscage.sheets.style import BODY, BOLD, SMALL, TextStyle

MOST_ROWS, MOST_LATE, MOST_DUE = 30, 10, 60
_BIG = TextStyle(size_pt=11.0)
_LEAST_ROW_MM = 10.0
CAUTIONS = (
    "First light on every armed day; in heat no longer than 12 hours (common practice, no source). Arm only if the "
    "next look is staffed.",
    "Look from a distance first: animals charge the net when people come near. One person goes in, others stay off.",
    "Cutters, a hood and the order to release are with whoever looks: other animals go free at once, and are written "
    "down.",
    "Ropes, guys and stakes carry load: nobody stands in the line of a tight rope.",
    "Gloves and eye protection; dead or sick animals without a cause: touch nothing, call the animal-health office.",
)


def rule_blocks(rule: CheckOptions, clock: ClockReport, width: float) -> list[Block]:
    """The rule with its place, who says so, when that was looked up, and how the sets are classed."""
    who = f" by {rule.classed_by}" if rule.classed_by else ""
    classed = f"classed as {rule.method}{who}" if rule.method else "NOT CLASSED as operator-fired or self-acting"
    attended = " Somebody must be there the whole time that a set is armed." if rule.attended else ""
    grade = GRADES.get(rule.grade, "")
    blocks = paragraph(f"{rule.words}{attended}", width, BOLD)
    text = (
        f"Where: {rule.place}. Who says so: {rule.citation}. Looked up on {rule.checked}. Grade {rule.grade}: {grade}. "
        f"Sets are {classed}."
    )
    blocks += paragraph(text, width)
    if rule.is_stale(clock.now.date()):
        blocks += loud("LOOK UP AGAIN: the rule was last looked up more than a year ago.", width)
    return blocks


def due_blocks(clock: ClockReport, zone: str, width: float, *, style: TextStyle = BODY, tick: bool) -> list[Block]:
    """Each armed set with the moment that its next look is due, the most pressing first."""
    if not clock.due:
        return paragraph("No set is armed, so no look is due.", width)
    shown = clock.due[: MOST_DUE if tick else MOST_LATE]
    bold = replace(style, bold=True)
    heads = [("set", 30.0, bold), ("state", 34.0, bold), (f"look before ({zone})", 46.0, bold),
             ("counted from", 60.0, style)]  # fmt: skip
    heads += [("looked, time", 26.0, style), ("by", 16.0, style)] if tick else []
    whole = sum(w for _, w, _ in heads)
    columns = [Column(title=t, width_mm=width * w / whole, style=s, lines=3) for t, w, s in heads]
    rows = [(d.site, _state(d), moment_words(d.due), _from(d), *(["", ""] if tick else [])) for d in shown]
    head, *lines = table(columns, rows)
    if tick:
        right = [c.width_mm for c in columns[-2:]]
        lines = [_to_write_on(b, width - sum(right), right) for b in lines]
    return [head, *lines, *_more(len(clock.due) - len(shown), "armed set", width)]


def _to_write_on(block: Block, at_mm: float, widths: Sequence[float]) -> Block:
    """A row with a line in each of its last cells, and room for a pencil."""
    inner, high = block.draw, max(block.height_mm, _LEAST_ROW_MM)

    def draw(page: Page, x: float, y: float) -> None:
        inner(page, x, y)
        left = x + at_mm
        for wide in widths:
            page.blank(left, y + high - 1.2, wide - 2.0)
            left += wide

    return replace(block, height_mm=high, draw=draw)


def _state(due: DueCheck) -> str:
    return {"overdue": "OVERDUE", "perhaps overdue": "PERHAPS OVERDUE", "upcoming": "upcoming"}[due.state]


def _from(due: DueCheck) -> str:
    text = f"the look in row {due.last_row}, night of {due.last_night}"
    return text if due.time_is_known else f"{text}; no time written, so from its earliest"


def _more(count: int, word: str, width: float) -> list[Block]:
    return paragraph(f"{counted(count, word)} more in report.json.", width, SMALL) if count > 0 else []


def late_blocks(clock: ClockReport, rule: CheckOptions, width: float) -> list[Block]:
    """Intervals longer than the rule for certain, armed nights without a look, what the times do not say."""
    late = [g for g in clock.gaps if g.kept is False]
    if not clock.armed_nights:
        return paragraph("No armed night, so no look was due.", width)
    kept = clock.intervals - clock.intervals_unknown - len(late)
    text = (
        f"{counted(clock.intervals, 'interval')} from look to look at armed sets: {kept:,} within {rule.hours:g} "
        f"hours, {len(late):,} longer for certain, {clock.intervals_unknown:,} not known from the times written down."
    )
    blocks = paragraph(text, width)
    if late:
        columns = [
            Column(title="set", width_mm=width * 0.3, style=BOLD, lines=3),
            Column(title="rows", width_mm=width * 0.3),
            Column(title="hours from look to look", width_mm=width * 0.4),
        ]
        blocks += table(columns, [(g.site, f"{g.from_row} to {g.to_row}", _hours(g)) for g in late[:MOST_LATE]])
        blocks += _more(len(late) - MOST_LATE, "late look", width)
    if clock.unchecked:
        names = unchecked_names(clock)
        text = f"Armed nights without a check, catch or other animal in the log: {listed(names, MOST_ROWS)}."
        blocks += loud(text, width)
    else:
        blocks += paragraph("Every armed night has a check, a catch or another animal in the log.", width)
    return [*blocks, *[b for note in clock.notes for b in paragraph(_sentence(note), width, bullet=True)]]


def unchecked_names(clock: ClockReport) -> list[str]:
    """Set and night of each armed night without a look; of very many, each set with how many."""
    if len(clock.unchecked) <= MOST_LATE:
        return [f"{site} {night}" for site, night in clock.unchecked]
    counts: dict[str, int] = {}
    for site, _ in clock.unchecked:
        counts[site] = counts.get(site, 0) + 1
    return [f"{site} {counted(n, 'night')}" for site, n in sorted(counts.items(), key=lambda item: -item[1])]


def _hours(late: Gap) -> str:
    if late.most_hours - late.least_hours < 0.05:
        return f"{late.least_hours:.1f}"
    return f"{late.least_hours:.1f} to {late.most_hours:.1f}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def plan_check_sheets(result: ReportResult) -> list[Sheet]:
    """The sheet for whoever looks at the sets: one page unless very many are armed."""
    page = Page(result.plan.paper)
    width = body_box(page.width_mm, page.height_mm).width
    clock, rule = result.clock, result.plan.checks
    late = sum(d.state == "overdue" for d in clock.due)
    doubt = sum(d.state == "perhaps overdue" for d in clock.due)
    words = f"{counted(len(clock.due), 'set')} armed at {moment_words(clock.now)} ({result.zone})."
    if late or doubt:
        words += f" {late} OVERDUE, {doubt} PERHAPS OVERDUE."
    blocks = [
        *paragraph(words, width, TextStyle(size_pt=12.0, bold=True)), gap(1.0),
        *due_blocks(clock, result.zone, width, style=_BIG, tick=True), gap(3.0),
        heading("The rule", width), *rule_blocks(rule, clock, width), gap(2.0),
        heading("How looks were kept so far", width), *late_blocks(clock, rule, width), gap(2.0),
        heading("Mind", width), *bullets(CAUTIONS, width),
    ]  # fmt: skip
    head = ("Checks of armed sets", f"{result.plan.ranch.name}, as of {result.plan.date}")
    return flowing_sheets(result, blocks, head, columns=1, sheet=Sheet("checks", lambda page: None))

