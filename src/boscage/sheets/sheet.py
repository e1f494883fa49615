"""A planned page: what it is and how it is drawn once its number is known."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from boscage.model.results import ScoutResult
from boscage.sheets.flow import Block, draw_all, pour
from boscage.sheets.page import Box, Page
from boscage.sheets.running import body_box, draw_foot, draw_plain_head
from boscage.sheets.style import FAINT, LineLook

HEAD_MM = 9.4
_GUTTER_MM = 6.0
_LINE_MM = 9.0


@dataclass(frozen=True)
class Sheet:
    """One page.

    Attributes:
        kind: `overview`, `rules`, `ground`, `evidence`, `front`, `back`, `way`, `further` or `notes`.
        draw: Draws everything on the page.
        site: The site it belongs to, or ''.
    """

    kind: str
    draw: Callable[[Page], None]
    site: str = ""


def columns_of(body: Box, count: int, *, top: float) -> list[Box]:
    """Equal columns of a body from a height downward."""
    width = (body.width - (count - 1) * _GUTTER_MM) / count
    height = body.bottom - top
    return [Box(body.x + k * (width + _GUTTER_MM), top, width, height) for k in range(count)]


def column_width_mm(body: Box, count: int) -> float:
    """Width of one of several equal columns."""
    return (body.width - (count - 1) * _GUTTER_MM) / count


def flowing_sheets(
    result: ScoutResult,
    blocks: Sequence[Block],
    head: tuple[str, str],
    *,
    columns: int,
    sheet: Sheet,
    later: str = "",
) -> list[Sheet]:
    """As many pages as blocks need, each with a plain head.

    Args:
        result: For the foot and the paper.
        blocks: Made for the width of one column.
        head: Left and right text of the head.
        columns: Columns a page; what is left of a page of kind `further` is ruled to write on.
        sheet: Kind and site of the pages; its `draw` is not used.
        later: Left text of the head from the second page on, where it is another.
    """
    page = Page(result.plan.paper)
    body = body_box(page.width_mm, page.height_mm)
    boxes = columns_of(body, columns, top=body.y + HEAD_MM)
    pages = []
    rest = list(blocks)
    while rest:
        filled, left = pour(rest, boxes)

        left_text = later if pages and later else head[0]

        def draw(page: Page, filled: list = filled, left_text: str = left_text) -> None:  # type: ignore[type-arg]
            draw_plain_head(page, body, left_text, head[1])
            for placed in filled:
                draw_all(page, placed)
            if sheet.kind == "further":
                _rule(page, body, max(p.y + p.block.height_mm for placed in filled for p in placed) + _LINE_MM)
            draw_foot(page, result)

        pages.append(Sheet(sheet.kind, draw, sheet.site))
        rest = Block.opening(left)
    return pages


def notes_sheet(result: ScoutResult, left: str, right: str, site: str = "") -> Sheet:
    """A ruled page that keeps front and back of the next site on one sheet of paper."""

    def draw(page: Page) -> None:
        body = body_box(page.width_mm, page.height_mm)
        _rule(page, body, draw_plain_head(page, body, left, right) + 6.0)
        draw_foot(page, result)

    return Sheet("notes", draw, site)


def _rule(page: Page, body: Box, y: float) -> None:
    """Lines to write on from a height down."""
    while y < body.bottom:
        page.line((body.x, body.right), (y, y), LineLook(colour=FAINT, width_pt=0.6))
        y += _LINE_MM
