"""The sheets of each command laid out without being written, by the functions that the commands print with."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from boscage.errors import InputError
from boscage.exports.store import Store
from boscage.model.brief import DropSite
from boscage.model.desk_pages import PagesRequest
from boscage.model.drop import NoDrop
from boscage.model.pack import PackItem
from boscage.model.plan import Plan
from boscage.model.report import ReportAsk
from boscage.model.results import Backdrop, PackResult
from boscage.packing.load import make_convoy, plan_loads
from boscage.packing.needs import list_needs
from boscage.pipeline import drop as drops
from boscage.pipeline import pack as packs
from boscage.pipeline import report as reports
from boscage.pipeline import rig as rigs
from boscage.pipeline import scout as scouts
from boscage.pipeline.desk_clock import present
from boscage.pipeline.drop_places import find_site
from boscage.pipeline.ground import askings, ground_of
from boscage.pipeline.progress import Progress
from boscage.pipeline.ranch import make_ranch, read_inputs
from boscage.pipeline.report_compute import make_result
from boscage.pipeline.report_inputs import read_inputs as read_report
from boscage.pipeline.report_masked import finished
from boscage.plugins import load_readers
from boscage.readers.backdrop import read_backdrop
from boscage.readers.last_run import read_together
from boscage.readers.layers import read_layers
from boscage.sheets.dropbrief import plan_drop_sheets
from boscage.sheets.field_sheets import plan_sheets
from boscage.sheets.packsheet import plan_pack_sheets
from boscage.sheets.report_sheets import plan_report_sheets
from boscage.sheets.reportchecks import plan_check_sheets
from boscage.sheets.rig_sheet import plan_rig_sheets
from boscage.sheets.sheet import Sheet
from boscage.values import Bounds

SITE_KINDS = ("field", "rig", "pack", "drop")
"""Kinds whose pages are for ranked sites."""
NO_SETS = "No set is armed, so that no check sheet is printed."
_WORDS: Mapping[str, str] = {
    "overview": "Overview", "rules": "Rules and data", "ground": "Ground", "evidence": "Evidence", "front": "front",
    "back": "back", "way": "way in", "further": "further page", "notes": "notes", "pack": "Packing", "none": "No place",
    "report": "Report", "map": "Map", "annex": "Annex", "checks": "Checks", "method": "Method", "season": "Season",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Laid:
    """Sheets laid out.

    Attributes:
        titles: One a sheet, in words.
        sites: Those that the pages are for.
        owners: Owners that a report may be limited to.
    """

    sheets: tuple[Sheet, ...]
    titles: tuple[str, ...]
    paper: str
    sites: tuple[str, ...] = ()
    owners: tuple[str, ...] = ()
    sentences: tuple[str, ...] = ()

    @property
    def titled(self) -> list[tuple[str, Sheet]]:
        """Each sheet with its title."""
        return list(zip(self.titles, self.sheets, strict=True))


def ranked_sites(kind: str, out: Path) -> tuple[str, ...]:
    """Sites of the last ranking that the pages can be for; none where there is no ranking."""
    if kind not in SITE_KINDS:
        return ()
    try:
        return tuple(str(row["site"]) for row in rigs.chosen_sites(out, ()))
    except InputError:
        return ()


def page_title(sheet: Sheet) -> str:
    """A page in words.

    >>> page_title(Sheet("back", print, "DH-01")), page_title(Sheet("rules", print))
    ('DH-01, back', 'Rules and data')
    """
    words = _WORDS.get(sheet.kind, sheet.kind)
    return f"{sheet.site}, {words}" if sheet.site else words[:1].upper() + words[1:]


def _laid(sheets: Sequence[Sheet], plan: Plan, sites: Sequence[str] = (), **more: tuple[str, ...]) -> Laid:
    titles = tuple(page_title(s) for s in sheets)
    return Laid(sheets=tuple(sheets), titles=titles, paper=plan.paper, sites=tuple(sites), **more)


def lay_field(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> Laid:
    """The sheets of `boscage scout`, ranked anew with what the store still holds."""
    ranch = make_ranch(read_inputs(plan, progress), Store(out), progress)
    result = scouts._find_out(ranch, out, progress)
    wide = ranch.layers.ranch.padded(scouts.OVERVIEW_MARGIN_M)
    overview = read_backdrop(ranch.layers, wide, max(wide.width, wide.height) / scouts.OVERVIEW_CELLS, plan.date)
    half_w, half_h = (side / 2 for side in scouts.CLOSEUP_M)
    closeups: dict[str, Backdrop] = {}
    for n, site in enumerate(result.sites):
        progress("reading close-ups", n, len(result.sites))
        x, y = site.place.x_m, site.place.y_m
        around = Bounds(x - half_w, y - half_h, x + half_w, y + half_h)
        closeups[site.site] = read_backdrop(ranch.layers, around, 1.0, plan.date)
    progress("laying out pages", 0, 1)
    return _laid(plan_sheets(result, overview, closeups), plan, [s.site for s in result.sites])


def lay_rig(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> Laid:
    """The sheets of `boscage rig` for sites of the last ranking."""
    chosen = rigs.chosen_sites(out, request.sites)
    layers = read_layers(plan, load_readers())
    ground, middles = ground_of(layers, plan), [(s["x_m"], s["y_m"]) for s in chosen]
    soils = [None] * len(chosen) if ground is None else askings(ground, layers, plan, middles)
    results = []
    for n, (site, soil) in enumerate(zip(chosen, soils, strict=True)):
        progress(f"rigging {site['site']}", n, len(chosen))
        results.append(rigs._rig_site(plan, layers, site, soil))
    looked_at = [r for r in results if r.plan is not None or (r.none is not None and r.none.tried.stems)]
    left = [r.name for r in results if r not in looked_at] if looked_at else []
    told = (f"Trees are not mapped at {', '.join(left)}: no sheet.",) if left else ()
    pairs = plan_rig_sheets(looked_at or results, plan.date)
    return _laid([sheet for _, sheet in pairs], plan, [str(s["site"]) for s in chosen], sentences=told)


def lay_pack(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> Laid:
    """The sheet of `boscage pack`."""
    named = request.sites or read_together(out)
    names = [str(r["site"]) for r in rigs.chosen_sites(out, named)]
    progress("loading", 0, 1)
    gear, bare = packs._gear(plan, out, names)
    limit = None if plan.drop.load_limit is None else plan.drop.load_limit.kg
    convoy = make_convoy(plan.pack.carriers, plan.carriers, load_limit_kg=limit, file=plan.file)
    made = plan_loads(list_needs(gear, plan.pack, file=plan.file), convoy, plan.pack)
    result = PackResult(plan=plan, pack=packs._told(made, bare, named, request.sites))
    return _laid(plan_pack_sheets(result), plan, names)


def lay_drop(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> Laid:
    """The brief of `boscage drop`."""
    rows = rigs.chosen_sites(out, request.sites or read_together(out))
    names = [str(r["site"]) for r in rows]
    progress("reading layers", 0, 1)
    layers = read_layers(plan, load_readers())
    items: tuple[PackItem, ...] = packs.site_needs(plan, out, names)
    ground = drops._ground(plan, layers, rows, items, (out, progress))
    found: list[DropSite | NoDrop] = []
    for n, row in enumerate(rows):
        progress("finding gaps", n, len(rows))
        found.append(find_site(ground, row))
    result = drops._result(ground, found, items)
    progress("laying out pages", 0, 1)
    return _laid(plan_drop_sheets(result, drops._overview(layers, result)), plan, names)


def asked(plan: Plan, request: PagesRequest) -> ReportAsk:
    """What of a report is asked for."""
    now = present(plan) if request.live and request.now is None else request.now
    return ReportAsk(owner=request.owner, exact=request.exact, now=now)


def lay_report(plan: Plan, out: Path, request: PagesRequest, progress: Progress) -> Laid:
    """The report of `boscage report`, or for `log` its sheet for whoever looks at the sets."""
    progress("reading the log", 0, 1)
    inputs = read_report(plan, out)
    progress("counting", 0, 1)
    ask = asked(plan, request)
    result = finished(make_result(inputs, ask), inputs, exact=ask.exact)
    owners = tuple(sorted({p.owner for p in inputs.land if p.owner}))
    if request.kind == "log":
        sheets = plan_check_sheets(result) if result.clock.due else []
        return _laid(sheets, plan, owners=owners, sentences=() if sheets else (NO_SETS,))
    backdrop = reports.make_backdrop(inputs, result)
    result = replace(result, convergence_deg=reports._convergence(backdrop))
    return _laid(plan_report_sheets(result, backdrop), plan, owners=owners)


Planner = Callable[[Plan, Path, PagesRequest, Progress], Laid]
PLANNERS: Mapping[str, Planner] = {
    "field": lay_field, "rig": lay_rig, "pack": lay_pack, "drop": lay_drop, "report": lay_report, "log": lay_report,
}  # fmt: skip
