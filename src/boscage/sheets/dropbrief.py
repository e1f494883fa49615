"""The helicopter's drop brief: a front of ten blocks for every group of drops, and its back."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from pathlib import Path

from boscage.model.brief import DropResult
from boscage.model.results import Backdrop
from boscage.sheets.dropback import back_sheets, no_drop_sheets
from boscage.sheets.dropfront import draw_front, plan_front
from boscage.sheets.dropjob import groups_of
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.sheet import Sheet, notes_sheet
from boscage.sheets.typeset import printable


def plan_drop_sheets(result: DropResult, overview: Backdrop) -> list[Sheet]:
    """Every page in order, laid out but not drawn. A front stands on a page of odd number, its back behind it."""
    if not result:
        return no_drop_sheets(result)
    sheets: list[Sheet] = []
    for group in groups_of(result, overview):
        if len(sheets) % 2:
            sheets.append(notes_sheet(result, "Notes", result.plan.ranch.name))
        front = plan_front(group)
        sites = ", ".join(d.drop.site for d in group.drops)
        sheets += [Sheet("front", partial(draw_front, front=front), sites), *back_sheets(group, front.left)]
    return sheets


def compose_drop_pages(result: DropResult, overview: Backdrop) -> Iterator[tuple[Sheet, Page]]:
    """Draw the pages one by one."""
    sheets = plan_drop_sheets(result, overview)
    for number, sheet in enumerate(sheets, start=1):
        page = Page(result.plan.paper, number=number, of=len(sheets))
        sheet.draw(page)
        yield sheet, page


def print_drop_brief(result: DropResult, overview: Backdrop, target: Path) -> None:
    """Write the brief to one PDF.

    Args:
        result: May have no drop at all: then one page says why.
        overview: Ground of the maps, wide enough for drops and base.
        target: The PDF; written beside it and renamed, so that there is never half a file.
    """
    with own_settings():
        pages = (page for _, page in compose_drop_pages(result, overview))
        title = f"Drop brief, {printable(result.plan.ranch.name)}"
        write_pdf(pages, Path(target), title=title, date=result.plan.date)
