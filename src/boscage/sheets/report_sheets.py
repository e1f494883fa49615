"""The report on paper: one page to read, the map, the annex; and the sheet for whoever looks at the sets."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from boscage.model.report import ReportResult
from boscage.model.results import Backdrop
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.reportannex import plan_annex
from boscage.sheets.reportchecks import plan_check_sheets
from boscage.sheets.reportfront import plan_front
from boscage.sheets.reportmap import plan_map_page
from boscage.sheets.sheet import Sheet
from boscage.sheets.typeset import printable


def plan_report_sheets(result: ReportResult, backdrop: Backdrop) -> list[Sheet]:
    """Every page in order, laid out but not drawn."""
    return [plan_front(result), plan_map_page(result, backdrop), *plan_annex(result)]


def print_report(result: ReportResult, backdrop: Backdrop, target: Path) -> None:
    """Write the report to one PDF."""
    with own_settings():
        sheets = plan_report_sheets(result, backdrop)
        _write(sheets, result, target, title=f"Trapping report, {printable(result.plan.ranch.name)}")


def print_check_sheet(result: ReportResult, target: Path) -> None:
    """Write the clock of checks to one PDF."""
    with own_settings():
        _write(plan_check_sheets(result), result, target, title=f"Checks, {printable(result.plan.ranch.name)}")


def _write(sheets: Sequence[Sheet], result: ReportResult, target: Path, *, title: str) -> None:
    pages = (_drawn(result, sheet, n, len(sheets)) for n, sheet in enumerate(sheets, start=1))
    write_pdf(pages, target, title=title, date=result.plan.date)


def _drawn(result: ReportResult, sheet: Sheet, number: int, of: int) -> Page:
    page = Page(result.plan.paper, number=number, of=of)
    sheet.draw(page)
    return page
