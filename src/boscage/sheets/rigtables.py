"""Tables of a rig sheet: contacts, built supports, gear, and what is left when a tree turns out bad."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from boscage.model.rig_plan import BuiltSupport, GearItem, RiggedContact, RigPlan
from boscage.sheets.flow import Block, Column, heading, paragraph, table
from boscage.sheets.page import Page
from boscage.sheets.rigground import picket_words
from boscage.sheets.rigwords import RigTape, bearing_title, bearing_words, contact_stem, one_or_more
from boscage.sheets.style import BODY, BOLD, LABEL, SMALL, TextStyle
from boscage.sheets.typeset import printable, text_width_mm

_TICK_MM = 3.3
_LEAST_FLEX_MM, _LEAST_SHARE = 14.0, 0.93
_MANY = 9
_KINDS = {"sapling": "guyed sapling", "post": "driven post", "high_rope": "high rope", "guy_line": "guy line"}


@dataclass(frozen=True, kw_only=True)
class _Look:
    """Type of a table that is read at arm's length."""

    plain: TextStyle
    bold: TextStyle


def _look(rows: int) -> _Look:
    """Larger while there are few rows."""
    size = 9.0 if rows <= _MANY else 8.0
    return _Look(plain=TextStyle(size_pt=size), bold=TextStyle(size_pt=size, bold=True))


def _ticked(block: Block, width: float) -> Block:
    """A row with a box to tick at its right end."""
    inner = block.draw

    def draw(page: Page, x: float, y: float) -> None:
        inner(page, x, y)
        page.tick_box(x + width - 8.0, y + 0.45, size_mm=_TICK_MM)

    return replace(block, draw=draw)


def _with_ticks(blocks: list[Block], width: float) -> list[Block]:
    return [blocks[0], *[_ticked(b, width) for b in blocks[1:]]]


def _flex(columns: list[Column], width: float, at: int) -> list[Column]:
    """One column takes the width that the others leave."""
    rest = width - sum(c.width_mm for k, c in enumerate(columns) if k != at)
    return [replace(c, width_mm=rest) if k == at else c for k, c in enumerate(columns)]


def _share(columns: list[Column], rows: Sequence[Sequence[str]], width: float, at: int) -> list[Column]:
    """One column as wide as its longest text; the others but the last share what is left, or give up a little."""
    own = max(text_width_mm(printable(row[at]), columns[at].style) for row in rows)
    own = max(own, text_width_mm(columns[at].title, LABEL), _LEAST_FLEX_MM - 3.0) + 3.0
    others = [c.width_mm for k, c in enumerate(columns[:-1]) if k != at]
    rest = width - columns[-1].width_mm
    stretch = (rest - own - sum(others)) / len(others)
    if stretch < 0.0:
        own = min(own, rest - _LEAST_SHARE * sum(others))
    factor = (rest - own) / sum(others) if stretch < 0.0 else 1.0
    spare = max(stretch, 0.0)
    last = len(columns) - 1
    widths = [own if k == at else c.width_mm * factor + spare for k, c in enumerate(columns)]
    return [replace(c, width_mm=c.width_mm if k == last else widths[k]) for k, c in enumerate(columns)]


def contact_table(plan: RigPlan, tape: RigTape, width: float) -> list[Block]:
    """One row a contact, in walking order."""
    look = _look(len(plan.contacts))
    columns = [
        Column(title="contact", width_mm=11.5, style=look.bold),
        Column(title="stem", width_mm=0.0, style=look.plain),
        Column(title=bearing_title(plan), width_mm=19.5, style=look.bold),
        Column(title="distance", width_mm=19.0, style=look.bold),
        Column(title="dbh (est.)" if plan.estimated else "dbh", width_mm=17.0, style=look.plain),
        Column(title="straps: two of", width_mm=21.0, style=look.plain),
        Column(title="check distance", width_mm=30.0, style=look.plain),
        Column(title="span to next", width_mm=28.0, style=look.plain),
        Column(title="found", width_mm=8.5),
    ]  # fmt: skip
    title = heading("Contacts, from the pivot; walk counter-clockwise, the ring's middle on your left", width)
    rows = [_contact_row(plan, k, c, tape) for k, c in enumerate(plan.contacts)]
    return _with_ticks(table(_share(columns, rows, width, 1), rows, title=title), width)


def _contact_row(plan: RigPlan, k: int, contact: RiggedContact, tape: RigTape) -> tuple[str, ...]:
    span = plan.ring.spans[k]
    after = plan.contacts[(k + 1) % len(plan.contacts)].number
    at_pivot = contact.stem is not None and contact.stem.stem == plan.pivot_stem
    dbh = "" if contact.stem is None else tape.thick(contact.stem.dbh_m)
    strap = f"make {tape.far(contact.strap_m)}" if contact.strap_stock_m is None else tape.stock(contact.strap_stock_m)
    built = _on_span(plan, k)
    to_next = f"{tape.far(span.length_m)} to {after}" + (f", {built}" if built else "")
    return (
        str(contact.number), contact_stem(contact), "at the pivot" if at_pivot else bearing_words(contact.bearing_deg),
        "" if at_pivot else tape.far(contact.distance_m), dbh, strap,
        f"{tape.far(contact.check_m)} from {contact.check_from}", to_next, "",
    )  # fmt: skip


def _on_span(plan: RigPlan, k: int) -> str:
    """Letters of the built supports on a span."""
    places = set(plan.ring.spans[k].supports)
    return " ".join(s.label for s in plan.supports if (s.x_m, s.y_m) in places)


def support_table(plan: RigPlan, tape: RigTape, width: float) -> list[Block]:
    """One row a built support, or a line that there is none."""
    if not plan.supports:
        return [heading("Built supports", width), *paragraph("None: trees alone carry the ring.", width)]
    look = _look(len(plan.supports) + len(plan.contacts) // 2)
    columns = [
        Column(title="built", width_mm=9.5, style=look.bold),
        Column(title="what", width_mm=33.0, style=look.plain),
        Column(title=bearing_title(plan), width_mm=19.5, style=look.bold),
        Column(title="distance", width_mm=18.0, style=look.bold),
        Column(title="line runs to", width_mm=0.0, style=look.plain),
        Column(title="line length", width_mm=20.0, style=look.plain),
        Column(title="off level", width_mm=13.0, style=look.plain),
        Column(title="line's bearing", width_mm=20.0, style=look.plain),
        Column(title="up", width_mm=8.5),
    ]  # fmt: skip
    title = heading("Built supports, from the pivot to their place on the ring", width)
    rows = [_support_row(s, tape) for s in plan.supports]
    return _with_ticks(table(_share(columns, rows, width, 4), rows, title=title), width)


def _support_row(support: BuiltSupport, tape: RigTape) -> tuple[str, ...]:
    what = _KINDS[support.kind] + (f" {support.stem}" if support.kind == "sapling" and support.stem else "")
    start = (support.label, what, bearing_words(support.bearing_deg), tape.far(support.distance_m))
    tie = support.tie
    if tie is None:
        return (*start, "no line", "", "", "", "")
    to = picket_words(tie.pickets) if tie.stem is None else f"stem {tie.stem}, "
    if tie.stem is not None:
        to += f"{tape.far(tie.made_fast_m)} up" if tie.made_fast_m > 0.0 else "foot"
    return (*start, to, tape.far(tie.length_m), f"{tie.angle_deg:.0f}°", bearing_words(tie.bearing_deg), "")


def gear_table(plan: RigPlan, tape: RigTape, width: float) -> list[Block]:
    """Counts, lengths, masses, and the total of what has a mass."""
    common = _common_notes(plan.gear)
    columns = _flex(
        [
            Column(title="item", width_mm=0.0),
            Column(title="count", width_mm=11.0, style=BOLD),
            Column(title="length", width_mm=15.0),
            Column(title="each", width_mm=15.0),
            Column(title="together", width_mm=16.0),
        ],
        width, 0,
    )  # fmt: skip
    blocks = table(columns, [_gear_row(g, common, tape) for g in plan.gear], title=heading("Gear", width))
    unweighed = sum(g.mass_kg is None for g in plan.gear)
    total = f"All gear together: {tape.printer.mass(plan.mass_kg)}, dry."
    if unweighed:
        total += f" {one_or_more(unweighed, 'line')} of the list without a mass: not counted."
    blocks += paragraph(total, width, BOLD)
    for note in common:
        blocks += paragraph(f"Where no other word stands: {note}.", width, SMALL)
    return blocks


def _parts(item: GearItem) -> list[str]:
    return [p.strip() for p in item.note.split(";") if p.strip()]


def _common_notes(gear: Sequence[GearItem]) -> list[str]:
    """Notes that stand at half of the items or more are said once, under the table."""
    seen = Counter(part for item in gear for part in _parts(item))
    return [part for part, count in seen.items() if count >= max(2, len(gear) / 2)]


def _gear_row(item: GearItem, common: Sequence[str], tape: RigTape) -> tuple[str, ...]:
    own = "; ".join(p for p in _parts(item) if p not in common)
    name = f"{item.item} ({own})" if own else item.item
    length = "" if item.length_m is None else tape.stock(item.length_m)
    if item.mass_kg is None:
        return (name, str(item.count), length, "not known", "not known")
    each, together = (tape.printer.mass(m) for m in (item.mass_kg, item.count * item.mass_kg))
    return (name, str(item.count), length, each, together)


def without_table(plan: RigPlan, width: float) -> list[Block]:
    """Contact by contact: the best ring that is left without its tree."""
    columns = _flex(
        [
            Column(title="without", width_mm=13.0, style=BOLD),
            Column(title="score", width_mm=11.0),
            Column(title="built", width_mm=10.0),
            Column(title="contacts that stay, and other trees", width_mm=0.0, style=BODY),
        ],
        width, 3,
    )  # fmt: skip
    trees = [c for c in plan.contacts if c.stem is not None]
    numbers = {contact_stem(c): c.number for c in trees}
    now = f"now: score {round(plan.ring.score)}, {plan.ring.built_supports} built"
    title = heading(f"If a tree turns out bad ({now})", width)
    if not trees:
        return [title, *paragraph("No tree holds this ring.", width)]
    return table(columns, [_without_row(c, numbers) for c in trees], title=title)


def _without_row(contact: RiggedContact, numbers: Mapping[str, int]) -> tuple[str, ...]:
    if contact.without_score is None:
        return (str(contact.number), "none", "", "no ring fits without this tree")
    stay = ", ".join(str(n) for n in sorted(numbers[s] for s in contact.without_stems if s in numbers))
    others = [s for s in contact.without_stems if s not in numbers]
    more = f"stem{'' if len(others) == 1 else 's'} {', '.join(others)}" if others else ""
    trees = "; ".join(t for t in (stay, more) if t)
    return (str(contact.number), str(round(contact.without_score)), str(contact.without_built), trees)
