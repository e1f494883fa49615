"""The field sheets: an overview, rules and data, the ground, evidence, and for each site front, back and way in."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

from boscage.model.results import Backdrop, ScoutResult
from boscage.sheets.evidencepage import plan_evidence
from boscage.sheets.groundpage import plan_ground
from boscage.sheets.overview import plan_overview
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.rulespage import plan_rules
from boscage.sheets.sheet import Sheet, notes_sheet
from boscage.sheets.sitepage import site_sheets
from boscage.sheets.typeset import printable


def plan_sheets(result: ScoutResult, overview: Backdrop, closeups: Mapping[str, Backdrop]) -> list[Sheet]:
    """Every page in order, laid out but not drawn.

    A site's front is always a page of odd number, so that printing on both sides puts a site on one sheet of paper.

    Raises:
        ValueError: A site has no close-up.
    """
    lacking = [s.site for s in result.sites if s.site not in closeups]
    if lacking:
        raise ValueError(f"closeups lacks {', '.join(lacking)}; every ranked site needs a backdrop of its own")
    first, carried = plan_overview(result, overview)
    sheets = [first, *plan_rules(result, carried), *plan_ground(result, overview), *plan_evidence(result, overview)]
    name, date = result.plan.ranch.name, result.plan.date.isoformat()
    for site in result.sites:
        if len(sheets) % 2:
            last = sheets[-1].site
            title = f"{last}: notes" if last else "Notes"
            sheets.append(notes_sheet(result, title, f"{name}, plan of {date}", last))
        sheets += site_sheets(result, site, closeups[site.site], overview)
    return sheets


def compose_pages(
    result: ScoutResult, overview: Backdrop, closeups: Mapping[str, Backdrop]
) -> Iterator[tuple[Sheet, Page]]:
    """Draw the pages one by one."""
    sheets = plan_sheets(result, overview, closeups)
    for number, sheet in enumerate(sheets, start=1):
        page = Page(result.plan.paper, number=number, of=len(sheets))
        sheet.draw(page)
        yield sheet, page


def print_field_sheets(
    result: ScoutResult,
    overview: Backdrop,
    closeups: Mapping[str, Backdrop],
    target: Path,
    *,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Write the field sheets to one PDF.

    Args:
        result: The ranking.
        overview: Backdrop of the whole ranch with a margin.
        closeups: Backdrop of about 480 by 420 m round each site, by site id.
        target: The PDF; written beside it and renamed, so that there is never half a file.
        progress: Called with pages done and pages in all.

    Raises:
        ValueError: A site has no close-up.
    """
    with own_settings():
        pages = (page for _, page in compose_pages(result, overview, closeups))
        title = f"Field sheets, {printable(result.plan.ranch.name)}"
        write_pdf(pages, Path(target), title=title, date=result.plan.date, progress=progress)
