"""The pack sheet: who carries what, trip by trip, with boxes to tick; what is too heavy, what stays."""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby
from pathlib import Path

from boscage.model.pack import PackItem, PartLoad
from boscage.model.results import PackResult
from boscage.sheets.flow import Block, Column, bullets, gap, heading, loud, paragraph, table
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.running import body_box
from boscage.sheets.sheet import Sheet, flowing_sheets
from boscage.sheets.style import BOLD, TextStyle
from boscage.sheets.typeset import printable
from boscage.values import Printer

_ROW = TextStyle(size_pt=9.0)
_TICK_MM = 3.6
CAUTIONS = (
    "Weigh what is not weighed: an estimate is no weight. Wet net and rope weigh more than dry.",
    "Loads are tied down and low; no loaded rack on a ramp; slow on slopes, and never across a steep one.",
    "The machine's placard and its rider's judgement come before every figure here, and so do the land's own rules.",
    "A helicopter load is the pilot's to allow: this sheet gives masses, no permission.",
)


def plan_pack_sheets(result: PackResult) -> list[Sheet]:
    """Every page in order, laid out but not drawn."""
    page = Page(result.plan.paper)
    width = body_box(page.width_mm, page.height_mm).width
    plan = result.plan
    head = ("Packing", f"{plan.ranch.name}, plan of {plan.date.isoformat()}")
    return flowing_sheets(result, pack_blocks(result, width), head, columns=1, sheet=Sheet("pack", lambda page: None))


def print_pack_sheet(result: PackResult, target: Path) -> None:
    """Write the pack sheet to one PDF."""
    with own_settings():
        sheets = plan_pack_sheets(result)
        pages = (_drawn(result, sheet, n, len(sheets)) for n, sheet in enumerate(sheets, start=1))
        title = f"Pack sheet, {printable(result.plan.ranch.name)}"
        write_pdf(pages, target, title=title, date=result.plan.date)


def _drawn(result: PackResult, sheet: Sheet, number: int, of: int) -> Page:
    page = Page(result.plan.paper, number=number, of=of)
    sheet.draw(page)
    return page


def pack_blocks(result: PackResult, width: float) -> list[Block]:
    """Summary, trips, what is over a limit, what stays, notes, cautions."""
    made, printer = result.pack, Printer(result.plan.ranch.units)
    blocks = [*_summary(result, width), gap(2.0)]
    for trip, loads in groupby(made.loads, key=lambda load: load.trip):
        title = heading(f"Trip {trip} of {made.trips}", width)
        for load in loads:
            blocks += [*_load(load, printer, width, title), gap(1.6)]
            title = None
    if made.over_limit:
        blocks += loud("OVER EVERY LIMIT, not packed: " + "; ".join(_over(i, printer) for i in made.over_limit), width)
    behind = [f"{b.count} x {_name(b.item, printer)}{_for(b.item)}: {b.reason}." for b in made.left_behind]
    blocks += [heading("Left behind", width), *bullets(behind or ["Nothing of the list."], width)]
    blocks += [gap(1.5), heading("Notes", width), *bullets(made.notes or ("None.",), width)]
    return [*blocks, gap(1.5), heading("Cautions", width), *bullets(CAUTIONS, width)]


def _summary(result: PackResult, width: float) -> list[Block]:
    made, printer = result.pack, Printer(result.plan.ranch.units)
    trips = f"{made.trips} trip{'' if made.trips == 1 else 's'}"
    proof = "no plan takes fewer"
    if not made.is_fewest:
        proof = f"at least {made.lower_bound_trips} are needed; that fewer would do is not ruled out"
    portions = [p for load in made.loads for p in load.portions if p.item.weighed]
    scale = printer.mass(sum(p.count * (p.item.mass_kg or 0.0) for p in portions)) if portions else "nothing"
    return [
        *paragraph(f"Sites: {', '.join(made.sites) or 'none'}. {trips}: {proof}.", width, BOLD),
        *paragraph(
            f"All that goes: {printer.mass(made.mass_kg)}, of which {scale} is weighed and "
            f"{printer.mass(made.estimated_kg)} estimated, water in net and rope reckoned in.", width,
        ),
    ]  # fmt: skip


def _load(load: PartLoad, printer: Printer, width: float, title: Block | None) -> list[Block]:
    """One part in one trip: a table with a box to tick on each row."""
    fixed = (12.0, 26.0, 22.0, 24.0, 20.0)
    columns = [
        Column(title="count", width_mm=fixed[0], style=replace(_ROW, bold=True)),
        Column(title="item", width_mm=width - sum(fixed), style=_ROW),
        Column(title="for", width_mm=fixed[1], style=_ROW),
        Column(title="each", width_mm=fixed[2], style=_ROW),
        Column(title="together", width_mm=fixed[3], style=_ROW),
        Column(title="packed", width_mm=fixed[4], style=_ROW),
    ]
    rows = [
        (str(p.count), _name(p.item, printer), p.item.site or "all", _mass(p.item, 1, printer),
         _mass(p.item, p.count, printer), "")
        for p in load.portions
    ]  # fmt: skip
    share = 100.0 * load.mass_kg / load.limit_kg
    words = f"{load.part}: {printer.mass(load.mass_kg)} of {printer.mass(load.limit_kg)} ({share:.0f} %)"
    own = heading(words, width)
    made = table(columns, rows, title=own)
    return [*([title] if title is not None else []), made[0], *[_ticked(b, width) for b in made[1:]]]


def _ticked(block: Block, width: float) -> Block:
    inner = block.draw

    def draw(page: Page, x: float, y: float) -> None:
        inner(page, x, y)
        page.tick_box(x + width - 12.0, y + 0.4, size_mm=_TICK_MM)

    return replace(block, draw=draw)


def _name(item: PackItem, printer: Printer) -> str:
    if item.length_m is None:
        return item.item
    length = f"{item.length_m / 0.3048:.3g} ft" if printer.units == "us" else f"{item.length_m:.2f} m"
    return f"{item.item}, {length}"


def _for(item: PackItem) -> str:
    return f" for {item.site}" if item.site else ""


def _mass(item: PackItem, count: int, printer: Printer) -> str:
    mark = "" if item.weighed else " est."
    return "not known" if item.mass_kg is None else f"{printer.mass(count * item.mass_kg)}{mark}"


def _over(item: PackItem, printer: Printer) -> str:
    return f"{_name(item, printer)}{_for(item)}, {_mass(item, 1, printer)} a piece"

