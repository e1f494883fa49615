"""What `boscage check` says of the log: what of it can be read, and the clock of checks."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from boscage.errors import InputError
from boscage.ledger.book import make_book
from boscage.ledger.clock import check_clock
from boscage.model.layers import LayerReport, LayerSet
from boscage.model.ledger import Book, Log
from boscage.model.plan import Plan
from boscage.model.report import counted, listed
from boscage.model.results import CheckResult
from boscage.pipeline.report_inputs import moment, read_plan_log, time_zone, zone_words
from boscage.readers.transects import read_transects

MOST_TOLD = 5


def with_clock(result: CheckResult, layers: LayerSet | None, now: dt.datetime | None = None) -> CheckResult:
    """The result with the log read, its rows held against one another, and its clock; as it is without a log.

    Args:
        result: With the report of the log as a file that is there.
        layers: As read, or None where the parcels could not be read.
        now: The moment that checks are counted at; None for the plan's.
    """
    result = _with_transects(result)
    spec = result.plan.layers.get("log")
    held = next((r for r in result.reports if r.name == "log"), None)
    if layers is None or spec is None or held is None or held.state == "wrong":
        return result
    plan = result.plan
    try:
        log = read_plan_log(plan, layers.crs, layers.ranch)
    except InputError as error:
        wrong = replace(held, state="wrong", read="could not be used", error=str(error))
        return _reported(result, wrong)
    book = make_book(log, plan.date)
    clock = check_clock(book, plan.checks, moment(plan, now), time_zone(plan))
    return replace(_reported(result, _log_report(held, log, book)), clock=clock, zone=zone_words(plan))


def _reported(result: CheckResult, report: LayerReport) -> CheckResult:
    return replace(result, reports=tuple(report if r.name == report.name else r for r in result.reports))


def _log_report(held: LayerReport, log: Log, book: Book) -> LayerReport:
    """The log's report: rows, sets, nights, and what is to be mended."""
    aside = len({p.row for p in book.problems if not p.counted})
    read = "; ".join([*log.notes, counted(len(book.sites), "set"), counted(book.nights("armed"), "armed night")])
    doubts = [f"row {p.row}: {p.text}" for p in book.problems[:MOST_TOLD]]
    more = len(book.problems) - MOST_TOLD
    if more > 0:
        doubts.append(f"{counted(more, 'row')} more to mend; boscage report lists them all.")
    if aside:
        doubts.insert(0, f"{counted(aside, 'row')} set aside until mended.")
    if book.unplaced:
        doubts.append(
            f"armed sets without a place in the log: {listed(book.unplaced)}; they stand where sites.gpkg has them, "
            "or their land is missing."
        )
    if not log.rows and not book.problems:
        doubts.append("the log holds no row: what was done is not known.")
    day = held.date or max((r.night for r in book.rows), default=None)
    return replace(held, state="doubtful" if doubts else "usable", read=read, doubts=tuple(doubts), date=day)


def _with_transects(result: CheckResult) -> CheckResult:
    """The result with a report on the table of transects, where the plan names one."""
    shown = result.plan.report.transects
    if shown is None:
        return result
    return replace(result, reports=(*result.reports, _transects(result.plan, shown)))


def _transects(plan: Plan, shown: str) -> LayerReport:
    try:
        rows = read_transects(Path(plan.folder) / Path(shown).expanduser(), shown)
    except InputError as error:
        return LayerReport(name="transects", state="wrong", read="could not be used", error=str(error))
    counts = [counted(sum(r.survey == when for r in rows), "transect") + f" {when}" for when in ("before", "after")]
    days = [r.walked.date for r in rows if r.walked.date is not None]
    return LayerReport(name="transects", state="usable", read=", ".join(counts), date=max(days, default=None))
