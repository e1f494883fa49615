"""The clock of checks for the window: read when the plan or its log changes, counted at any moment."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from pathlib import Path

from boscage.errors import InputError
from boscage.ledger.book import make_book
from boscage.ledger.clock import check_clock
from boscage.model.desk_pages import ClockAnswer, ClockRequest
from boscage.model.ledger import Book
from boscage.model.plan import Plan
from boscage.pipeline.report_inputs import read_plan_log, time_zone, zone_words
from boscage.plugins import load_readers
from boscage.readers.layers import read_layers
from boscage.readers.plan_file import read_plan

NO_LOG = "The plan names no log: when sets were armed and looked at is not known here."
Stamp = tuple[tuple[str, int, int], ...]


@dataclass(frozen=True, kw_only=True)
class _Read:
    """A log as read; `book` is None where it cannot be, and `silence` says why."""

    stamp: Stamp
    day: dt.date
    plan: Plan
    book: Book | None
    silence: str = ""


class CheckClock:
    """The clock of one worker."""

    def __init__(self) -> None:
        self._read: _Read | None = None

    def clock(self, request: ClockRequest) -> ClockAnswer:
        """How the checks of armed sets stand; a log that cannot be read is told, never taken for nothing armed.

        Raises:
            InputError: The plan is wrong.
        """
        held = self._current(request)
        plan = held.plan
        now = request.now or present(plan)
        log = plan.layers["log"].path if "log" in plan.layers else ""
        if held.book is None:
            return ClockAnswer(now=now, zone=zone_words(plan), log=log, silence=held.silence, hours=plan.checks.hours)
        report = check_clock(held.book, plan.checks, now, time_zone(plan))
        return ClockAnswer(
            now=now, zone=zone_words(plan), due=report.due, hours=plan.checks.hours, rule=plan.checks.words,
            last_night=max((r.night for r in held.book.rows), default=None), log=log,
            problems=len({p.row for p in held.book.problems if not p.counted}), notes=report.notes,
        )  # fmt: skip

    def _current(self, request: ClockRequest) -> _Read:
        """The log, read again where plan, log or day are others than before."""
        held = self._read
        if held is not None:
            now = request.now or present(held.plan)
            if held.stamp == _stamp(request.plan, held.plan) and held.day == now.date():
                return held
        plan = read_plan(request.plan)
        day = (request.now or present(plan)).date()
        self._read = _read(plan, _stamp(request.plan, plan), day)
        return self._read


def present(plan: Plan) -> dt.datetime:
    """This minute in the ranch's own time, without a zone."""
    return dt.datetime.now(time_zone(plan)).replace(second=0, microsecond=0, tzinfo=None)


def _read(plan: Plan, stamp: Stamp, day: dt.date) -> _Read:
    """Read the log as of a day: rows after the plan's own date are rows all the same."""
    if "log" not in plan.layers:
        return _Read(stamp=stamp, day=day, plan=plan, book=None, silence=NO_LOG)
    dated = replace(plan, ranch=replace(plan.ranch, date=day))
    land = replace(dated, layers={n: s for n, s in plan.layers.items() if n in ("parcels", "log")})
    try:
        layers = read_layers(land, load_readers())
        book = make_book(read_plan_log(dated, layers.crs, layers.ranch), day)
    except InputError as error:
        return _Read(stamp=stamp, day=day, plan=plan, book=None, silence=str(error))
    return _Read(stamp=stamp, day=day, plan=plan, book=book)


def _stamp(path: str, plan: Plan) -> Stamp:
    """What tells changed files: the plan, and the log with all files in it where it is a folder."""
    found = [Path(path)]
    if "log" in plan.layers:
        log = Path(plan.folder) / Path(plan.layers["log"].path).expanduser()
        found += sorted(p for p in log.rglob("*") if p.is_file()) if log.is_dir() else [log]
    return tuple((str(p), p.stat().st_mtime_ns, p.stat().st_size) for p in found if p.exists())
