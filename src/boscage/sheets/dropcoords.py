"""Block 4 of the front: where each load comes down, in large figures, and which point that is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from boscage.model.drop import NoDrop
from boscage.sheets.dropjob import MOST_DROPS, DropGroup, Numbered
from boscage.sheets.dropkit import LEAST_PT, NOTE, barred, said, titled
from boscage.sheets.dropmarks import NUMBER_MM, draw_number
from boscage.sheets.flow import Block, gap, height_of
from boscage.sheets.page import Page
from boscage.sheets.style import LineLook, TextStyle
from boscage.sheets.typeset import Fitted, fit, printable, text_width_mm

WHICH_POINT = "Drop point: the open gap, NOT the set under trees."
FORMS = "Degrees, decimal minutes; below: decimal degrees, USNG."
MORE = "More to be warned of: see the back."
LEAST_DDM_PT = 14.0
_MOST_DDM_PT, _TWO_LINES = 30.0, 2
_TWO_DDM_PT = 22.0
_BIG = TextStyle(size_pt=_MOST_DDM_PT, bold=True)
_ASIDE, _ASIDE_SHARE = TextStyle(size_pt=8.0, align="right"), 0.74
_WARN = TextStyle(size_pt=7.5, bold=True)


def coordinate_blocks(group: DropGroup, width_mm: float, *, is_large: bool = True) -> list[Block]:
    """The block without warnings: its head, which point, each drop; one or two drops in the largest figures."""
    datum = group.drops[0].drop.place.datum
    roomy = is_large and len(group.drops) <= _TWO_LINES
    blocks = [
        titled(4, "Coordinates", width_mm, f"datum {datum}"),
        said(WHICH_POINT, width_mm, TextStyle(size_pt=9.0, bold=True), lines=1),
        said(FORMS, width_mm, NOTE, lines=1),
    ]
    for k, numbered in enumerate(group.drops):
        blocks += [gap(1.0), _rule(width_mm)] if k else [gap(0.6)]
        aside = _loads(group, numbered) if roomy else _short_facts(group, numbered, width_mm * _ASIDE_SHARE)
        blocks += [
            _name(numbered, aside, width_mm),
            _ddm(numbered, width_mm, len(group.drops) if roomy else MOST_DROPS),
        ]
        blocks += _below(group, numbered, width_mm, roomy=roomy)
    return blocks


def warnings(group: DropGroup, width_mm: float, most_mm: float) -> list[Block]:
    """What must not be overlooked at these drops, and sites without a gap, as far as there is room."""
    texts = [_no_drop(none) for none in group.result.none]
    texts += [f"{d.number}: {flag}" for d in group.drops for flag in d.drop.flags]
    made = [barred(fit(t, width_mm - 2.4, _WARN, lines=3, floor_pt=LEAST_PT)) for t in texts]
    cut = [fit(t, width_mm - 2.4, _WARN, lines=3, floor_pt=LEAST_PT).cut for t in texts]
    if not any(cut) and height_of(made) + 1.2 <= most_mm:
        return [gap(1.2), *made] if made else []
    more = barred(fit(MORE, width_mm - 2.4, _WARN, floor_pt=LEAST_PT))
    kept: list[Block] = []
    for block, is_cut in zip(made, cut, strict=True):
        if not is_cut and height_of([*kept, block, more]) + 1.2 <= most_mm:
            kept.append(block)
    return [gap(1.2), *kept, more]


def least_warning_mm(group: DropGroup) -> float:
    """Room that warnings need at the least: the line that there are some."""
    has_any = bool(group.result.none) or any(d.drop.flags for d in group.drops)
    return _WARN.line_mm + 1.8 if has_any else 0.0


def _no_drop(none: NoDrop) -> str:
    return f"NO DROP POINT for {none.site}: {none.reason}"


def _rule(width_mm: float) -> Block:
    def draw(page: Page, x: float, y: float) -> None:
        page.line((x, x + width_mm), (y, y), LineLook(width_pt=0.8))

    return Block(height_mm=0.8, draw=draw)


def _name(numbered: Numbered, words: str, width_mm: float) -> Block:
    """Number and site, with words at the right."""
    disc_mm = NUMBER_MM
    aside = fit(words, width_mm * _ASIDE_SHARE, _ASIDE, floor_pt=LEAST_PT)
    room = width_mm - disc_mm - 1.5 - aside.width_mm - 2.0
    name = fit(numbered.drop.site, room, TextStyle(size_pt=11.0, bold=True), floor_pt=8.0)
    if name.cut:
        name = fit(numbered.drop.site, room, TextStyle(size_pt=8.0, bold=True), lines=2, floor_pt=LEAST_PT)
    height = max(5.2, name.height_mm + 0.3)

    def draw(page: Page, x: float, y: float) -> None:
        draw_number(page, x + disc_mm / 2, y + height / 2 - 0.2, numbered.number)
        page.lines(x + disc_mm + 1.5, y + (height - 0.3 - name.height_mm) / 2, name)
        page.text(x + width_mm, y + height / 2 + 1.2, aside.lines[0], aside.style)

    return Block(height_mm=height, draw=draw)


def _loads(group: DropGroup, numbered: Numbered) -> str:
    """Such as `load 1, flight 1; load 4, flight 2`."""
    if not numbered.loads:
        return "no load"
    parts = []
    for number, load in numbered.loads:
        if group.is_over(load):
            parts.append(f"load {number} OVER LIMIT")
        else:
            parts.append(f"load {number}, flight {load.flight}" if load.flight else f"load {number}")
    if len(parts) > 2:
        return f"loads {', '.join(str(n) for n, _ in numbered.loads)}"
    return "; ".join(parts)


def _ddm(numbered: Numbered, width_mm: float, count: int) -> Block:
    """The coordinate itself; on two lines where there is room, the larger the fewer drops there are."""
    whole = printable(numbered.drop.place.ddm)
    halves = [part.strip() for part in whole.split("  ") if part.strip()]
    lines: Sequence[str] = halves if count <= _TWO_LINES else [whole]
    at_one_pt = max(text_width_mm(line, replace(_BIG, size_pt=1.0)) for line in lines)
    size = min(_MOST_DDM_PT if count == 1 else _TWO_DDM_PT, int(width_mm / at_one_pt * 4.0) / 4.0)
    if size < LEAST_DDM_PT:
        size, lines = LEAST_DDM_PT, halves
    fitted = Fitted(lines=tuple(lines), style=replace(_BIG, size_pt=size))

    def draw(page: Page, x: float, y: float) -> None:
        page.lines(x, y, fitted)

    return Block(height_mm=fitted.height_mm, draw=draw)


def _below(group: DropGroup, numbered: Numbered, width_mm: float, *, roomy: bool) -> list[Block]:
    """Decimal degrees and national grid; where there is room elevation, gap and wires."""
    place = numbered.drop.place
    style = TextStyle(size_pt=9.5 if roomy else 8.0)
    forms = [place.decimal, f"USNG {place.usng}"] if roomy else [f"{place.decimal}   USNG {place.usng}"]
    facts = [said(_facts(group, numbered), width_mm, replace(style, bold=True), lines=2)] if roomy else []
    return [*[said(text, width_mm, style, lines=1) for text in forms], *facts]


def _facts(group: DropGroup, numbered: Numbered) -> str:
    """Elevation, gap, wires."""
    height, wide, wires = _parts(group, numbered)
    return f"{height}, {wide}, {wires}"


def _short_facts(group: DropGroup, numbered: Numbered, width_mm: float) -> str:
    """The same in one line, without the gap where it does not fit."""
    words = _facts(group, numbered)
    if not fit(words, width_mm, _ASIDE, floor_pt=LEAST_PT).cut:
        return words
    height, _, wires = _parts(group, numbered)
    return f"{height}, {wires}"


def _parts(group: DropGroup, numbered: Numbered) -> tuple[str, str, str]:
    point, figures = numbered.drop.point, group.figures
    height = "elev not known" if point.elevation_m is None else f"elev {figures.elevation(point.elevation_m)}"
    away = point.wires.distance_m
    if away is not None:
        wires = f"{'WIRE' if point.wires.standing in ('flag', 'stop') else 'wire'} {figures.ground(away)}"
    else:
        wires = "wires: none in data" if point.wires.standing == "none in data" else "wires NOT searched"
    return height, f"gap {figures.printer.length(point.gap.diameter_m)}", wires
