"""Block 5 of the front: what hangs on the hook, load by load; and the whole list for the back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from boscage.model.brief import SlungLoad
from boscage.model.pack import PackItem
from boscage.sheets.dropjob import DropGroup
from boscage.sheets.dropkit import LEAST_PT, NOTE, PLAIN, Cell, Stripe, said, stripes_head, stripes_row, titled
from boscage.sheets.dropwords import FOOT, DropFigures, count_words, scale_mark
from boscage.sheets.flow import Block, Column, gap, heading, height_of, loud, paragraph, table
from boscage.sheets.page import Page
from boscage.sheets.style import BODY, TextStyle
from boscage.sheets.typeset import fit

_FIXED = (9.0, 23.0, 27.0, 17.0, 19.0, 23.0, 18.0)
NO_LOADS = "No load is planned for these drops."
_ROW_MM = 5.6
_LEFT = TextStyle(size_pt=8.0, bold=True)
ROUNDED = "Masses are rounded each by itself. Weigh what is estimated; wet net and rope weigh more."


@dataclass(frozen=True, kw_only=True)
class LoadTable:
    """The block, and the numbers of the loads that the back has to show."""

    blocks: list[Block]
    left: tuple[int, ...] = ()


def load_table(group: DropGroup, width_mm: float, *, lines: int, most_mm: float) -> LoadTable:
    """The table with so many lines for a load's items; what there is no room for is left to the back."""
    head = titled(5, "Loads", width_mm, _limit_words(group), is_loud=bool(_over(group)))
    if not group.loads:
        return LoadTable(blocks=[head, said(NO_LOADS, width_mm, PLAIN)])
    columns = _columns(group.figures, width_mm)
    notes = [*_hazmat(group, width_mm, lines), said(ROUNDED, width_mm, NOTE, lines=1)]
    made = [stripes_row(columns, _row(group, columns, n, load, lines), _ROW_MM) for n, load in group.loads]
    top = [head, stripes_head(columns)]
    if height_of([*top, *made, *notes]) <= most_mm:
        return LoadTable(blocks=[*top, *made, *notes])
    kept: list[Block] = []
    room = most_mm - height_of([*top, *notes]) - _LEFT.line_mm - 0.8
    while len(kept) < len(made) and height_of([*kept, made[len(kept)]]) <= room:
        kept.append(made[len(kept)])
    left = tuple(n for n, _ in group.loads[len(kept) :])
    words = f"{count_words(len(left), 'load')} more (no. {left[0]} on): the same table goes on on the back."
    return LoadTable(blocks=[*top, *kept, said(words, width_mm, _LEFT, lines=1), *notes], left=left)


def left_blocks(group: DropGroup, width_mm: float, left: Sequence[int]) -> list[Block]:
    """The rest of the front's table, for the back."""
    if not left:
        return []
    columns = _columns(group.figures, width_mm)
    title, head = heading("Loads, continued from the front", width_mm), stripes_head(columns)

    def draw(page: Page, x: float, y: float) -> None:
        title.draw(page, x, y)
        head.draw(page, x, y + title.height_mm)

    top = Block(height_mm=title.height_mm + head.height_mm, draw=draw, keep_next=True)
    rows = [stripes_row(columns, _row(group, columns, n, load, 2), _ROW_MM) for n, load in group.loads if n in left]
    return [top, *[replace(r, again=top) for r in rows], *_hazmat(group, width_mm, 2)]


def _columns(figures: DropFigures, width_mm: float) -> list[Stripe]:
    unit = figures.mass_unit
    load, to, items, rigging, total, release, hazmat = _FIXED
    return [
        Stripe(title="load", width_mm=load, size_pt=11.0), Stripe(title="drop", width_mm=to),
        Stripe(title="items", width_mm=width_mm - sum(_FIXED), size_pt=8.0),
        Stripe(title=f"items, actual {unit}", width_mm=items, right=True),
        Stripe(title=f"rigging {unit}", width_mm=rigging, right=True),
        Stripe(title=f"TOTAL {unit}", width_mm=total, right=True, size_pt=11.0),
        Stripe(title="flight / order", width_mm=release, right=True),
        Stripe(title="hazmat", width_mm=hazmat, right=True, size_pt=8.0),
    ]  # fmt: skip


def _row(group: DropGroup, columns: Sequence[Stripe], number: int, load: SlungLoad, lines: int) -> list[Cell]:
    figures, over = group.figures, group.is_over(load)
    to = next(d for d in group.drops if d.drop.site == load.site)
    name = to.name_in(columns[1].width_mm - 1.6, TextStyle(size_pt=columns[1].size_pt, bold=True), lines=2)
    return [
        Cell(text=str(number), bold=True), Cell(text=name, bold=True, lines=2),
        Cell(text=items_words(load, columns[2].width_mm - 1.6, lines), lines=lines),
        Cell(text=f"{figures.mass(load.items_kg)} {scale_mark(load)}", lines=2),
        Cell(text=None if load.rigging_kg is None else figures.mass(load.rigging_kg)),
        Cell(text=None if load.total_kg is None else figures.mass(load.total_kg), bold=True),
        Cell(text=_release(load, over=over), bold=True, lines=2),
        Cell(text=_hazmat_cell(group), lines=2),
    ]  # fmt: skip


def _release(load: SlungLoad, *, over: bool) -> str | None:
    if over:
        return "OVER LIMIT"
    return f"F{load.flight} / {load.order}" if load.flight else None


def items_words(load: SlungLoad, width_mm: float, lines: int) -> str:
    """The heaviest items first, as many as there is room for; how many more there are."""
    rows = sorted(load.items, key=lambda s: -(s.item.mass_kg or 0.0) * s.count)
    names = [s.item.item if s.count == 1 else f"{s.item.item} x{s.count}" for s in rows]
    if not names:
        return "not listed"
    for kept in range(len(names), 0, -1):
        more = len(names) - kept
        words = ", ".join(names[:kept]) + (f" and {more} more (back)" if more else "")
        if not fit(words, width_mm, PLAIN, lines=lines, floor_pt=LEAST_PT).cut:
            return words
    return f"{count_words(len(names), 'item')}: see the back"


def _over(group: DropGroup) -> list[int]:
    return [n for n, load in group.loads if group.is_over(load)]


def _limit_words(group: DropGroup) -> str:
    limit, over = group.result.plan.drop.load_limit, _over(group)
    if over:
        numbers = ", ".join(map(str, over[:6])) + (" ..." if len(over) > 6 else "")
        return f"OVER THE STATED LIMIT, not flown: load {numbers}"
    if limit is None:
        return "no limit stated"
    return f"divided by the limit stated in the plan, {group.figures.massed(limit.kg)}; it is not the allowable load"


def _hazmat_cell(group: DropGroup) -> str | None:
    stated = group.result.plan.brief.hazmat
    if stated is None:
        return None
    return stated if not fit(stated, _FIXED[-1] - 1.6, PLAIN, lines=2, floor_pt=LEAST_PT).cut else "see below"


def _hazmat(group: DropGroup, width_mm: float, lines: int) -> list[Block]:
    stated = group.result.plan.brief.hazmat
    if stated is None or _hazmat_cell(group) == stated:
        return []
    return [said(f"Hazmat: {stated}", width_mm, PLAIN, lines=min(lines, 2))]


def in_words(group: DropGroup) -> str:
    """Loads in, for the head: how many, and what they weigh as far as that is known."""
    flown = [load for _, load in group.loads if not group.is_over(load)]
    figures = group.figures
    totals = [load.total_kg for load in flown]
    known = [t for t in totals if t is not None]
    if len(known) == len(totals):
        return f"{len(flown)}: {figures.massed(sum(known))}"
    return f"{len(flown)}: {figures.massed(sum(load.items_kg for load in flown))} + rigging"


def manifest_blocks(group: DropGroup, width_mm: float) -> list[Block]:
    """Every item of every load, with its mass and whether it was weighed; what goes with the crew."""
    figures = group.figures
    fixed = (14.0, 30.0, 26.0, 26.0, 26.0)
    columns = [
        Column(title="load", width_mm=fixed[0]), Column(title="drop", width_mm=fixed[1]),
        Column(title="item", width_mm=width_mm - sum(fixed)), Column(title="pieces", width_mm=fixed[2]),
        Column(title="each", width_mm=fixed[3]), Column(title="together", width_mm=fixed[4]),
    ]  # fmt: skip
    names = {d.drop.site: d.name for d in group.drops}
    rows = [
        (str(n), names[load.site], item_name(s.item, figures), str(s.count), _mass(s.item, 1, figures),
         _mass(s.item, s.count, figures))
        for n, load in group.loads for s in load.items
    ]  # fmt: skip
    blocks = table(columns, rows, title=heading("Loads, item by item", width_mm)) if rows else []
    over = [f"load {n}, {names[load.site]}, {figures.massed(load.items_kg)}" for n, load in group.loads
            if group.is_over(load)]  # fmt: skip
    if over:
        blocks += [gap(1.0), *loud(f"OVER THE LIMIT, not flown: {'; '.join(over)}.", width_mm)]
    if group.result.rounds and not group.result.is_least:
        blocks += paragraph("That no other order or division of the loads takes less is not proven.", width_mm, BODY)
    foot = ", ".join(f"{i.count} {i.item}" for i in group.result.by_foot)
    return [*blocks, *paragraph(f"Not slung, with the crew: {foot or 'nothing listed'}.", width_mm, BODY)]


def item_name(item: PackItem, figures: DropFigures) -> str:
    """An item with its length, where it comes in lengths."""
    if item.length_m is None:
        return item.item
    length = f"{item.length_m / FOOT:.3g} ft" if figures.units == "us" else f"{item.length_m:.2f} m"
    return f"{item.item}, {length}"


def _mass(item: PackItem, count: int, figures: DropFigures) -> str:
    if item.mass_kg is None:
        return "not known"
    return f"{figures.printer.mass(count * item.mass_kg)}{'' if item.weighed else ' est.'}"
