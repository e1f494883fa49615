"""What the commands will print, as pages on a screen: laid out once, held, and drawn one at a time."""

from __future__ import annotations

import datetime as dt
import time
from collections import OrderedDict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from boscage.errors import InputError
from boscage.model.desk import Pixels
from boscage.model.desk_answers import JobDone
from boscage.model.desk_pages import (
    LEAST_DPI,
    MOST_DPI,
    PAGE_KINDS,
    PageImage,
    PageRequest,
    PageRow,
    PageSet,
    PagesRequest,
)
from boscage.model.plan import Plan
from boscage.pipeline import drop as drops
from boscage.pipeline import pack as packs
from boscage.pipeline import report as reports
from boscage.pipeline import rig as rigs
from boscage.pipeline import scout as scouts
from boscage.pipeline.desk_sheets import PLANNERS, Laid, asked, ranked_sites
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.report_inputs import time_zone, zone_words
from boscage.readers.plan_file import read_plan
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.screen import page_pixels

FILES: Mapping[str, str] = {
    "field": scouts.SHEETS, "rig": "rig_sheet.pdf", "pack": "pack_sheet.pdf", "drop": "drop_brief.pdf",
    "report": "coverage_report.pdf", "log": reports.CHECK_SHEET,
}  # fmt: skip
_DRAWN = 24  # page images that are kept


@dataclass(frozen=True, kw_only=True)
class _Held:
    serial: int
    laid: Laid
    plan: Plan


class PageDesk:
    """Pages of one worker: the last set of each kind, and the pages last drawn."""

    def __init__(self) -> None:
        self._held: dict[str, _Held] = {}
        self._drawn: OrderedDict[tuple[str, int, int, float], PageImage] = OrderedDict()
        self._serial = 0

    def pages(self, request: PagesRequest, progress: Progress = silent) -> PageSet:
        """Lay out what the command would print for a plan; nothing is written but what the store keeps for reuse.

        Raises:
            InputError: As the command raises, or there is no such kind.
        """
        if request.kind not in PAGE_KINDS:
            raise InputError(f"there are no pages {request.kind}", expected=f"one of {', '.join(PAGE_KINDS)}")
        began = time.monotonic()
        plan, out = read_plan(request.plan), folder_of(request)
        with own_settings():
            laid = PLANNERS[request.kind](plan, out, request, progress)
        self._serial += 1
        self._held[request.kind] = _Held(serial=self._serial, laid=laid, plan=plan)
        paper = Page(laid.paper)
        rows = [PageRow(number=n, title=t, site=s.site) for n, (t, s) in enumerate(laid.titled, 1)]
        return PageSet(
            kind=request.kind, serial=self._serial, file=FILES[request.kind], rows=tuple(rows),
            width_mm=paper.width_mm, height_mm=paper.height_mm, ranked=ranked_sites(request.kind, out),
            chosen=laid.sites, owners=laid.owners, wall_s=time.monotonic() - began,
            sentences=(*laid.sentences, *last_run(request.kind, plan, out)),
        )  # fmt: skip

    def page(self, request: PageRequest) -> PageImage:
        """Draw one page of the set that is held.

        Raises:
            InputError: That set is not held any more, or has no such page.
        """
        held = self._held.get(request.kind)
        if held is None or held.serial != request.serial:
            raise InputError("these pages are not held any more", mend="lay them out again")
        if not 1 <= request.number <= len(held.laid.sheets):
            raise InputError(f"there is no page {request.number}", expected=f"1 to {len(held.laid.sheets)}")
        dpi = min(max(request.dpi, LEAST_DPI), MOST_DPI)
        key = (request.kind, request.serial, request.number, dpi)
        if key not in self._drawn:
            pixels = _draw(held.laid, request.number, dpi)
            self._drawn[key] = PageImage(
                kind=request.kind, serial=request.serial, number=request.number, dpi=dpi, pixels=pixels
            )
            while len(self._drawn) > _DRAWN:
                self._drawn.popitem(last=False)
        self._drawn.move_to_end(key)
        return self._drawn[key]


def _draw(laid: Laid, number: int, dpi: float) -> Pixels:
    with own_settings():
        page = Page(laid.paper, number=number, of=len(laid.sheets))
        laid.sheets[number - 1].draw(page)
    drawn = page_pixels(page, dpi)
    return Pixels(width_px=drawn.shape[1], height_px=drawn.shape[0], data=drawn.tobytes())


def print_pages(request: PagesRequest, progress: Progress = silent) -> JobDone:
    """Run the command itself, so that its files are those it always writes.

    Raises:
        InputError: As the command raises.
    """
    began = time.monotonic()
    plan, out = read_plan(request.plan), folder_of(request)
    before = _stamps(out)
    fits = PRINTERS[request.kind](plan, out, request, progress)
    after = _stamps(out)
    files = tuple(sorted(name for name, stamp in after.items() if before.get(name) != stamp))
    return JobDone(
        verb=request.kind, folder=str(out), files=files, fits=fits, wall_s=time.monotonic() - began
    )  # fmt: skip


def folder_of(request: PagesRequest) -> Path:
    """Where the outputs are."""
    return Path(request.out) if request.out else Path(request.plan).parent / "out"


def last_run(kind: str, plan: Plan, out: Path) -> tuple[str, ...]:
    """When the ranking was written whose sites the pages are for; nothing where they are for none, or ranked anew."""
    path = out / "scout.json"
    if kind not in ("rig", "pack", "drop") or not path.is_file():
        return ()
    when = dt.datetime.fromtimestamp(path.stat().st_mtime, tz=time_zone(plan))
    return (f"Sites are those of the last run of scout, {when:%Y-%m-%d %H:%M} ({zone_words(plan)}).",)


def _stamps(out: Path) -> dict[str, tuple[int, int]]:
    """What tells a file from the one that stood in its place before."""
    if not out.is_dir():
        return {}
    return {p.name: (p.stat().st_ino, p.stat().st_mtime_ns) for p in out.iterdir() if p.is_file()}


def _field(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> bool:
    return bool(scouts.scout(plan, out=out, progress=progress))


def _rig(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> bool:
    return any(rigs.rig_plan(plan, request.sites, out=out, progress=progress))


def _pack(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> bool:
    return bool(packs.pack(plan, request.sites, out=out, progress=progress))


def _drop(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> bool:
    return bool(drops.drop(plan, request.sites, out=out, progress=progress))


def _report(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> bool:
    return bool(reports.report(plan, out=out, ask=asked(plan, request), progress=progress))


Printer = Callable[[Plan, Path, PagesRequest, Progress], bool]
PRINTERS: Mapping[str, Printer] = {
    "field": _field, "rig": _rig, "pack": _pack, "drop": _drop, "report": _report, "log": _report,
}  # fmt: skip
