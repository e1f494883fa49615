"""The block on the ground laid out on the back of a site's sheet: the largest type that fits, nothing dropped."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from boscage.model.soil import GroundAnswer
from boscage.sheets import groundtext
from boscage.sheets.evencolumns import even_height
from boscage.sheets.flow import Block, Placed, height_of, pour
from boscage.sheets.page import Box
from boscage.sheets.sheet import column_width_mm, columns_of
from boscage.sheets.style import TextStyle
from boscage.values import Printer

MORE_MM = 3.2
MORE = TextStyle(size_pt=7.0, italic=True, align="right")
_GAP_MM = 1.6


@dataclass(frozen=True, kw_only=True)
class GroundBlock:
    """The block with its place on the page.

    Attributes:
        placed: What stands there.
        rest: What there is no room for, under its heading; it goes to a further page.
        height_mm: Room it takes, with the line that points to the further page.
    """

    placed: tuple[Placed, ...]
    rest: tuple[Block, ...]
    height_mm: float


def plan_ground_block(answer: GroundAnswer | None, printer: Printer, box: Box) -> GroundBlock:
    """Lay out the block in a box: answers in two columns, the rule they rest on below; notes go on first.

    Without an answer it is one loud line.
    """
    if answer is None:
        blocks = groundtext.missing(box.width)
        (placed,), _ = pour(blocks, [Box(box.x, box.y, box.width, height_of(blocks))])
        return GroundBlock(placed=tuple(placed), rest=(), height_mm=height_of(blocks) + 1.0)
    width = column_width_mm(box, 2)
    head = groundtext.ground_head(box.width)
    for sizes in groundtext.TYPES:
        blocks = groundtext.ground_blocks(answer, printer, width, sizes)
        notes = groundtext.note_blocks(answer, width, sizes)
        rule = groundtext.assumption_blocks(answer, box.width, sizes)
        most = box.height - head.height_mm - height_of(rule) - _GAP_MM
        all_of_it = even_height([*blocks, *notes], 2, most_mm=most)
        if all_of_it is not None:
            return _set(box, head, rule, [*blocks, *notes], all_of_it)
        answers = even_height(blocks, 2, most_mm=most - MORE_MM)
        if answers is not None:
            break
    notes = groundtext.note_blocks(answer, width, groundtext.TYPES[0])
    return _set(box, head, rule, blocks, most - MORE_MM if answers is None else answers, notes)


def _set(
    box: Box, head: Block, rule: Sequence[Block], blocks: Sequence[Block], height: float, notes: Sequence[Block] = ()
) -> GroundBlock:
    """Set the columns to a height and the rule under them; what does not fit, and notes, are left."""
    under = box.y + head.height_mm
    whole = Box(box.x, box.y, box.width, head.height_mm + height)
    filled, rest = pour(blocks, columns_of(whole, 2, top=under))
    below, _ = pour(rule, [Box(box.x, under + height, box.width, height_of(rule))])
    placed = [Placed(head, box.x, box.y), *(p for part in (*filled, *below) for p in part)]
    left = [*Block.opening(rest), *notes]
    if left:
        left.insert(0, groundtext.ground_head(column_width_mm(box, 2)))
    high = head.height_mm + height + height_of(rule) + _GAP_MM + (MORE_MM if left else 0.0)
    return GroundBlock(placed=tuple(placed), rest=tuple(left), height_mm=high)
