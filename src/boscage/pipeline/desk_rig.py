"""The ring at a place or of a typed list, at once: trees taken out, marked bad or added, and the next best ring."""

from __future__ import annotations

import csv
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from boscage.airlift.coordinates import convergence, place_at
from boscage.errors import InputError
from boscage.model.desk_answers import RigAnswer, RigListRequest, RigRequest, RowFault, ShownStem
from boscage.model.plan import NetOptions, Plan
from boscage.model.results import Site
from boscage.model.rig import NoRing, Ring, RingOptions, Stem, Tried
from boscage.model.rig_plan import NetProfile, RiggingOptions, RigPlan
from boscage.model.trees import StemList
from boscage.pipeline import rig as rigs
from boscage.pipeline.ground import askings
from boscage.pipeline.ranch import Ranch
from boscage.readers.stem_list import read_stem_list
from boscage.rigging.plan_ring import plan_rig
from boscage.rigging.ring import fit_ring
from boscage.soil.answers import Asking

Point = tuple[float, float]
NO_TREES = "No stem is known here."
MEASURE = "Measure the stems with tape and compass, or give canopy heights that cover the site."


@dataclass(frozen=True, kw_only=True)
class _Trees:
    """Stems round a place or of a list, and what is known of them."""

    listed: StemList
    source: str
    mapped: bool = False
    stated: bool = False
    soil: Asking | None = None
    posts: bool = False


@dataclass(frozen=True, kw_only=True)
class _Job:
    """What is to be fitted: the stems with the operator's changes, and how."""

    name: str
    trees: _Trees
    shown: tuple[ShownStem, ...]
    options: RingOptions
    net: NetProfile
    rigging: RiggingOptions
    whole: bool


class Rigger:
    """Rings at places of one ranch; the trees of a place are read once."""

    def __init__(self, ranch: Ranch) -> None:
        self._ranch = ranch
        self._held: dict[Point, _Trees] = {}

    def rig(self, request: RigRequest, sites: Sequence[Site]) -> RigAnswer:
        """The best ring of the trees near a place after the operator's changes.

        Without `whole`, posts are only tried where trees alone hold no ring; with it, everything is as `boscage rig`
        works it out.

        Raises:
            InputError: There is no such site, no place is given, or an option is wrong.
        """
        used = time.process_time()
        name, place = self._place(request, sites)
        trees = self._trees(place)
        plan = self._ranch.plan
        shown = changed(trees.listed.stems, request.removed, request.bad, request.extra)
        options = ring_options(plan.ring_options(posts=trees.posts), request.options)
        shown = tuple(judged(s, options) for s in shown)
        job = _Job(
            name=name, trees=trees, shown=shown, options=options, net=rigs.net_profile(plan.net), rigging=plan.rigging,
            whole=request.whole,
        )  # fmt: skip
        return replace(_fit(job, plan), cpu_ms=1e3 * (time.process_time() - used))

    def _place(self, request: RigRequest, sites: Sequence[Site]) -> tuple[str, Point]:
        if not request.site and request.at is None:
            raise InputError("no place is named", expected="a ranked site or a place on the map", field="site")
        if request.at is not None:
            return request.site or "this place", request.at
        for site in sites:
            if site.site == request.site:
                return site.site, (site.place.x_m, site.place.y_m)
        names = ", ".join(s.site for s in sites) or "none"
        raise InputError(f"there is no site {request.site}", expected=f"one of {names}", field="site")

    def _trees(self, place: Point) -> _Trees:
        """The stems round a place with its soil, read once."""
        if place not in self._held:
            self._held[place] = self._read(place)
        return self._held[place]

    def _read(self, place: Point) -> _Trees:
        ranch, crs = self._ranch, self._ranch.layers.crs
        near = rigs.stems_near(ranch.plan, ranch.layers, place)
        at = place_at(*place, crs)
        listed = StemList(
            stems=near.stems, frame="crs", crs=crs, declination_deg=near.declination_deg or 0.0,
            convergence_deg=convergence(at.lon, at.lat, crs), pivot=near.pivot,
        )  # fmt: skip
        ground = ranch.inputs.ground
        soil = None if ground is None else askings(ground, ranch.layers, ranch.plan, [place])[0]
        return _Trees(
            listed=listed, source=near.source, mapped=near.mapped, stated=near.declination_deg is not None, soil=soil,
            posts=soil is not None and soil.all().posts.verdict == "yes",
        )  # fmt: skip


def rig_list(request: RigListRequest, plan: Plan | None = None) -> RigAnswer:
    """The ring of a list as it is typed; a wrong row is told and left out, and the ring is that of the others.

    Args:
        request: The rows and the operator's changes.
        plan: For net and rigging, or None for what they are without a plan.

    Raises:
        InputError: An option is wrong.
    """
    used = time.process_time()
    net, rigging = (NetOptions(), RiggingOptions()) if plan is None else (plan.net, plan.rigging)
    asked = RingOptions(perimeter_m=net.perimeter.m) if plan is None else plan.ring_options()
    options = ring_options(asked, request.options)
    listed, faults = typed_stems(request)
    shown = tuple(judged(s, options) for s in changed(listed.stems, request.removed, request.bad, ()))
    trees = _Trees(listed=listed, source=request.name, stated=request.declination_deg is not None, posts=options.posts)
    job = _Job(
        name=request.name, trees=trees, shown=shown, options=options, net=rigs.net_profile(net), rigging=rigging,
        whole=request.whole,
    )  # fmt: skip
    return replace(_fit(job, plan), faults=faults, cpu_ms=1e3 * (time.process_time() - used))


def typed_stems(request: RigListRequest) -> tuple[StemList, tuple[RowFault, ...]]:
    """The stems of the rows that are right, and what is wrong with the others, by the rules of a stem list.

    A fault of the list as a whole leaves no stem.
    """
    rows = [[_plain(cell) for cell in row] for row in request.rows]
    faults: list[RowFault] = []
    none = StemList(stems=(), frame="pivot", declination_deg=request.declination_deg or 0.0, pivot=(0.0, 0.0))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "list.tsv"
        while any(any(row) for row in rows):
            with path.open("w", encoding="utf-8", newline="") as file:
                csv.writer(file, delimiter="\t").writerows([[_plain(c) for c in request.columns], *rows])
            try:
                listed = read_stem_list(path, name=request.name, declination_deg=request.declination_deg or 0.0)
            except InputError as error:
                faults.append(RowFault(row=error.row or 0, field=error.field or "", sentence=str(error)))
                if not error.row or error.row > len(rows) or not any(rows[error.row - 1]):
                    return none, tuple(faults)
                rows[error.row - 1] = []
                continue
            return listed, tuple(sorted(faults, key=lambda f: f.row))
    return none, tuple(sorted(faults, key=lambda f: f.row))


def _plain(cell: str) -> str:
    return " ".join(cell.split())


def changed(
    stems: Sequence[Stem], removed: Sequence[str], bad: Sequence[str], extra: Sequence[Stem]
) -> tuple[ShownStem, ...]:
    """Stems with the operator's changes: added ones in place of their namesakes, bad ones as dead."""
    added = {s.stem: s for s in extra}
    rest = [s for s in stems if s.stem not in added]
    shown = []
    for stem, state in [*((s, "") for s in rest), *((s, "added") for s in added.values())]:
        if stem.stem in removed:
            shown.append(ShownStem(stem=stem, state="removed"))
        elif stem.stem in bad:
            shown.append(ShownStem(stem=replace(stem, kind="dead"), state="bad"))
        else:
            shown.append(ShownStem(stem=stem, state=state))
    return tuple(shown)


def judged(shown: ShownStem, options: RingOptions) -> ShownStem:
    """A stem that the operator left alone with what it counts for."""
    if shown.state:
        return shown
    if shown.stem.kind != "tree":
        return replace(shown, state="no tree")
    return replace(shown, state="usable" if shown.stem.dbh_m >= options.min_dbh_m * (1.0 - 1e-9) else "thin")


def ring_options(asked: RingOptions, changes: Mapping[str, float | bool | None]) -> RingOptions:
    """The options with some of them changed.

    Raises:
        InputError: There is no such option, or a value is out of its range.
    """
    known = tuple(RingOptions.__dataclass_fields__)
    for name in changes:
        if name not in known:
            raise InputError(f"there is no option {name}", expected=f"one of {', '.join(known)}", field=name)
    return replace(asked, **changes)  # type: ignore[arg-type]


def _fit(job: _Job, plan: Plan | None) -> RigAnswer:
    """Fit the ring to the stems that stand there."""
    trees = job.trees
    standing = tuple(s.stem for s in job.shown if s.state != "removed")
    none = NoRing(reason=NO_TREES, nearest_miss=MEASURE, options=job.options, tried=Tried())
    answer = RigAnswer(
        name=job.name, ring=none, plan=None, stems=job.shown, source=trees.source, mapped=trees.mapped,
        frame=trees.listed.frame, doubts=trees.listed.doubts,
    )  # fmt: skip
    if not standing:
        return answer
    ring: Ring | NoRing = fit_ring(standing, job.options if job.whole else replace(job.options, posts=False))
    if not ring and job.options.posts and not job.whole:
        ring = fit_ring(standing, job.options)
    answer = replace(answer, ring=ring)
    if not ring or not job.whole:
        return answer
    made: RigPlan = plan_rig(
        job.name, ring, replace(trees.listed, stems=standing), job.net, job.rigging, mapped=trees.mapped,
        stated=trees.stated, source=trees.source, date=None if plan is None else plan.date, soil=trees.soil,
    )  # fmt: skip
    return replace(answer, plan=made)
