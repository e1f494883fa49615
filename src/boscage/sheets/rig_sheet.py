"""The rig sheets: for each place a drawing of the ring with its tables, and on the back how to rig it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from boscage.model.rig_plan import RigResult
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.rigback import back_sheets, no_ring_sheets, rig_notes_sheet
from boscage.sheets.rigframe import RigJob, draw_name, draw_rig_foot
from boscage.sheets.rigfront import draw_front, plan_front
from boscage.sheets.sheet import Sheet
from boscage.sheets.style import TextStyle
from boscage.sheets.typeset import printable

UNDATED = dt.date(2000, 1, 1)
"""Stamped in the file's properties where no date is known; never printed."""


def plan_rig_sheets(results: Sequence[RigResult], date: dt.date | None) -> list[tuple[RigJob, Sheet]]:
    """Every page in order, laid out but not drawn. A place starts on a page of odd number."""
    pages: list[tuple[RigJob, Sheet]] = []
    for result in results:
        job = RigJob(result=result, date=date)
        if len(pages) % 2:
            before = pages[-1][0]
            pages.append((before, rig_notes_sheet(before)))
        pages += [(job, sheet) for sheet in _sheets_of(job)]
    return pages or [_nothing(date)]


def _sheets_of(job: RigJob) -> list[Sheet]:
    plan = job.result.plan
    if plan is not None:
        front = plan_front(job, plan)
        first = Sheet("front", lambda page: draw_front(page, front), job.result.name)
        return [first, *back_sheets(job, plan, front.rest)]
    if job.result.none is None:
        raise ValueError(f"{job.result.name}: neither a ring nor a reason why there is none")
    return no_ring_sheets(job, job.result.none)


def _nothing(date: dt.date | None) -> tuple[RigJob, Sheet]:
    job = RigJob(result=RigResult(name="No place to rig", plan=None), date=date)

    def draw(page: Page) -> None:
        body = job.body()
        draw_name(page, Box(body.x, body.y, body.width, 20.0), job)
        page.text(body.x, body.y + 30.0, "No site is ranked, so that there is nothing to rig.", TextStyle(size_pt=11.0))
        draw_rig_foot(page, job)

    return job, Sheet("none", draw)


def compose_rig_pages(results: Sequence[RigResult], date: dt.date | None) -> Iterator[tuple[Sheet, Page]]:
    """Draw the pages one by one."""
    sheets = plan_rig_sheets(results, date)
    for number, (job, sheet) in enumerate(sheets, start=1):
        page = Page(job.result.paper, number=number, of=len(sheets))
        sheet.draw(page)
        yield sheet, page


def print_rig_sheets(
    results: Sequence[RigResult],
    target: Path,
    *,
    date: dt.date | None,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Write the rig sheets to one PDF.

    Args:
        results: One a place, with a ring or with the reason why there is none.
        target: The PDF; written beside it and renamed, so that there is never half a file.
        date: Day stamped in the file, and printed where there is no ring; a ring carries the date of its own plan.
        progress: Called with pages done and pages in all.

    Raises:
        ValueError: A result has neither a ring nor a reason.
    """
    with own_settings():
        pages = (page for _, page in compose_rig_pages(results, date))
        who = next((r.ranch for r in results if r.ranch), None) or (results[0].name if results else "nothing to rig")
        write_pdf(pages, Path(target), title=f"Rig sheets, {printable(who)}", date=date or UNDATED, progress=progress)
