"""Printed pages and the clock of checks on a screen: what the window asks for, and what comes back."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from boscage.model.desk import Pixels
from boscage.model.ledger_clock import DueCheck

PAGE_KINDS = ("field", "rig", "pack", "drop", "report", "log")
LEAST_DPI, MOST_DPI = 40.0, 300.0


@dataclass(frozen=True, kw_only=True)
class PagesRequest:
    """The pages that a command would print.

    Attributes:
        kind: `field` (sheets of `boscage scout`), `rig`, `pack`, `drop`, `report`, or `log` (the sheet for whoever
            looks at armed sets).
        plan: Path of the plan file.
        out: Folder of the outputs; '' for `out` beside the plan.
        sites: Names of sites, where the command takes them.
        owner, exact: Of a report: only this owner's land; whether exact places are printed.
        live: Of a report and its check sheet: whether checks are counted from the present moment, not the plan's.
        now: The moment that checks are counted at, in place of either.
    """

    kind: str
    plan: str
    out: str = ""
    sites: tuple[str, ...] = ()
    owner: str | None = None
    exact: bool = False
    live: bool = False
    now: dt.datetime | None = None


@dataclass(frozen=True, kw_only=True)
class PageRow:
    """One page: its number from 1, what it is, and the site it belongs to, or ''."""

    number: int
    title: str
    site: str = ""


@dataclass(frozen=True, kw_only=True)
class PageSet:
    """Pages laid out and held where they were made, to be drawn one at a time.

    Attributes:
        serial: Told with each page asked for; a later set of the same kind replaces this one.
        file: Name of the PDF that the command writes.
        width_mm, height_mm: Paper.
        ranked: Names of the sites that may be chosen, in rank order; empty where the command takes none.
        chosen: Those that the pages are for.
        owners: Owners whose land alone may be reported on.
        sentences: What to know before printing.
        wall_s: What it took.
    """

    kind: str
    serial: int
    file: str
    rows: tuple[PageRow, ...]
    width_mm: float
    height_mm: float
    ranked: tuple[str, ...] = ()
    chosen: tuple[str, ...] = ()
    owners: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()
    wall_s: float = 0.0


@dataclass(frozen=True, kw_only=True)
class PageRequest:
    """One page of a set, by number from 1."""

    kind: str
    serial: int
    number: int
    dpi: float = 110.0


@dataclass(frozen=True, kw_only=True)
class PageImage:
    """A page as drawn."""

    kind: str
    serial: int
    number: int
    dpi: float
    pixels: Pixels


@dataclass(frozen=True, kw_only=True)
class ClockRequest:
    """How the checks of armed sets stand.

    Attributes:
        now: In the ranch's own time, without a zone; None for the present moment.
    """

    plan: str
    now: dt.datetime | None = None


@dataclass(frozen=True, kw_only=True)
class ClockAnswer:
    """The clock of checks.

    Attributes:
        now: The moment that it is counted at, in the ranch's own time.
        zone: The ranch's time zone, in words.
        due: One a set still armed, the most pressing first.
        hours, rule: The rule for checks.
        last_night: Evening date of the log's last row, or None.
        log: Path of the log as the plan names it, or ''.
        silence: Why nothing can be said of checks, one sentence; '' where it can.
        problems: Rows of the log that are set aside until mended.
        notes: Sentences on the rule and on what is not written down.
    """

    now: dt.datetime
    zone: str
    due: tuple[DueCheck, ...] = ()
    hours: float = 24.0
    rule: str = ""
    last_night: dt.date | None = None
    log: str = ""
    silence: str = ""
    problems: int = 0
    notes: tuple[str, ...] = ()
