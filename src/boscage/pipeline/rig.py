"""`boscage rig`: do the trees hold a ring, and how is it rigged; for one stem list or for the sites of a plan."""

from __future__ import annotations

import datetime as dt
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from boscage.airlift.coordinates import convergence, from_pivot
from boscage.errors import InputError
from boscage.exports import tables
from boscage.exports.rigs import rig_table, write_rig_gpkg
from boscage.exports.staging import staged
from boscage.model.layers import LayerSet
from boscage.model.plan import NetOptions, Plan
from boscage.model.rig import NoRing, RingOptions, Stem, Tried
from boscage.model.rig_plan import NetProfile, RiggingOptions, RigResult
from boscage.model.trees import StemList
from boscage.pipeline.ground import askings, ground_of
from boscage.pipeline.progress import Progress, silent
from boscage.plugins import load_readers
from boscage.readers.layers import read_layers
from boscage.readers.plan_file import read_plan
from boscage.readers.stem_list import read_stem_list
from boscage.readers.tree_map import canopy_frame, find_trees
from boscage.rigging.plan_ring import plan_rig
from boscage.rigging.ring import fit_ring
from boscage.sheets.rig_sheet import print_rig_sheets
from boscage.soil.answers import Asking
from boscage.values import Bounds

AROUND_M = 25.0
"""How far from a site's middle the trees of its ring are looked for."""
NO_DAY = dt.date(2000, 1, 1)
"""Stamp of files that belong to no day."""


@dataclass(frozen=True, kw_only=True)
class RigRequest:
    """What `boscage rig --stems` is asked for.

    Attributes:
        stems: The stem list.
        name: Its path as the user wrote it.
        ring: What the ring may be.
        declination_deg: Of the list's bearings, or None where nobody stated it.
        units, paper: For the sheet.
        net, rigging: The net's profile and the way of tying.
    """

    stems: Path
    name: str
    ring: RingOptions
    declination_deg: float | None = None
    units: str = "us"
    paper: str = "letter"
    net: NetOptions | None = None
    rigging: RiggingOptions | None = None


def rig_stems(request: RigRequest, *, out: Path, progress: Progress = silent) -> RigResult:
    """Fit the ring to a stem list; writes `rig.json`, `rig.gpkg` and `rig_sheet.pdf`, all or none.

    Raises:
        InputError: The list or an option is wrong, or `out` cannot be written.
    """
    listed = read_stem_list(request.stems, name=request.name, declination_deg=request.declination_deg or 0.0)
    net, rigging = request.net or NetOptions(), request.rigging or RiggingOptions()
    progress("fitting the ring", 0, 1)
    place = _Place(
        name=request.stems.stem, stems=listed, ring=request.ring, net=net_profile(net), rigging=rigging,
        stated=request.declination_deg is not None, source=f"stem list {request.stems.name}",
    )  # fmt: skip
    result = _rig(place, units=request.units, paper=request.paper)
    _write([result], out, crs=listed.crs, day=None, progress=progress)
    return result


def rig_plan(
    plan: Plan | str | Path, sites: Sequence[str] = (), *, out: Path, progress: Progress = silent
) -> list[RigResult]:
    """Fit a ring at the ranked sites of a plan, at all of them where none is named.

    Raises:
        InputError: The plan or a layer is wrong, no ranking is there, a site is unknown, or trees are not mapped.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    chosen = chosen_sites(out, sites)
    layers = read_layers(plan, load_readers())
    ground, middles = ground_of(layers, plan), [(s["x_m"], s["y_m"]) for s in chosen]
    soils = [None] * len(chosen) if ground is None else askings(ground, layers, plan, middles)
    results = []
    for n, (site, soil) in enumerate(zip(chosen, soils, strict=True)):
        progress(f"rigging {site['site']}", n, len(chosen))
        results.append(_rig_site(plan, layers, site, soil))
    _write(results, out, crs=layers.crs, day=plan.date, progress=progress)
    return results


@dataclass(frozen=True, kw_only=True)
class _Place:
    """One place to rig: its stems and what is known of them."""

    name: str
    stems: StemList
    ring: RingOptions
    net: NetProfile
    rigging: RiggingOptions
    stated: bool
    source: str
    mapped: bool = False
    date: dt.date | None = None
    soil: Asking | None = None


def net_profile(net: NetOptions) -> NetProfile:
    """What a ring and its gear list need of the plan's net."""
    return NetProfile(height_m=net.height.m, netting_m=net.netting.m, mass_kg=net.mass.kg)


def _rig(place: _Place, **page: Any) -> RigResult:
    ring = fit_ring(place.stems.stems, place.ring)
    if not ring:
        return RigResult(name=place.name, plan=None, none=ring, **page)
    made = plan_rig(
        place.name, ring, place.stems, place.net, place.rigging, mapped=place.mapped, stated=place.stated,
        source=place.source, date=place.date, soil=place.soil,
    )  # fmt: skip
    return RigResult(name=place.name, plan=made, **page)


def chosen_sites(out: Path, names: Sequence[str]) -> list[dict[str, Any]]:
    """The ranked sites of the last run, or those of them that are named."""
    path = out / "scout.json"
    if not path.is_file():
        raise InputError(
            "no sites are ranked yet",
            expected="the scout.json of a run",
            mend="run boscage scout first",
            file=str(path),
        )
    ranked = {site["site"]: site for site in json.loads(path.read_text(encoding="utf-8"))["sites"]}
    for name in names:
        if name not in ranked:
            raise InputError(
                f"there is no site {name}", expected=f"one of {', '.join(ranked) or 'none'}", mend="check the name",
                file=str(path),
            )  # fmt: skip
    return [ranked[name] for name in names] if names else list(ranked.values())


def _rig_site(plan: Plan, layers: LayerSet, site: dict[str, Any], soil: Asking | None) -> RigResult:
    page = {"units": plan.ranch.units, "paper": plan.paper, "note": plan.ranch.note, "ranch": plan.ranch.name}
    turn = convergence(site["lon"], site["lat"], layers.crs)
    near = stems_near(plan, layers, (site["x_m"], site["y_m"]))
    ring = plan.ring_options(posts=soil is not None and soil.all().posts.verdict == "yes")
    if not near.stems:
        none = NoRing(
            reason="Trees are not mapped here.", options=ring, tried=Tried(),
            nearest_miss="Measure the stems with tape and compass, or give canopy heights that cover the site.",
        )  # fmt: skip
        return RigResult(name=site["site"], plan=None, none=none, **page)
    listed = StemList(
        stems=near.stems, frame="crs", crs=layers.crs, declination_deg=near.declination_deg or 0.0,
        convergence_deg=turn, pivot=near.pivot,
    )  # fmt: skip
    place = _Place(
        name=site["site"], stems=listed, ring=ring,
        net=net_profile(plan.net), rigging=plan.rigging, stated=near.declination_deg is not None, source=near.source,
        mapped=near.mapped, date=plan.date, soil=soil,
    )  # fmt: skip
    return _rig(place, **page)


@dataclass(frozen=True, kw_only=True)
class _Near:
    """Stems round a place, and what is known of how they were placed."""

    stems: tuple[Stem, ...] = ()
    source: str
    mapped: bool = False
    pivot: tuple[float, float] | None = None
    declination_deg: float | None = None


def stems_near(plan: Plan, layers: LayerSet, place: tuple[float, float]) -> _Near:
    """Stems round a place: from the plan's stem list where it reaches there, else from canopy heights."""
    x, y = place
    listed = _listed_stems(plan, layers)
    near = tuple(s for s in listed.stems if math.hypot(s.x_m - x, s.y_m - y) <= AROUND_M)
    if len(near) >= plan.rigging.contacts:
        return replace(listed, stems=near)
    canopy: Any = layers.rasters.get("canopy_height")
    if canopy is None:
        return _Near(stems=near, source="trees not mapped here")
    area = Bounds(x - 2 * AROUND_M, y - 2 * AROUND_M, x + 2 * AROUND_M, y + 2 * AROUND_M)
    trees = find_trees(canopy, canopy_frame(canopy, layers.crs, area), plan.trees.tree_options())
    trees = trees.taken(np.hypot(trees.x_m - x, trees.y_m - y) <= AROUND_M)
    source = f"canopy heights of {trees.cell_m:.2g} m cells; places and diameters are estimates"
    return _Near(stems=trees.stems(), source=source, mapped=True, declination_deg=listed.declination_deg)


def _listed_stems(plan: Plan, layers: LayerSet) -> _Near:
    """The plan's stem list in the ranch's CRS; no stems where there is none or nobody says where its pivot is."""
    spec = plan.layers.get("stems")
    if spec is None:
        return _Near(source="no stem list")
    listed = read_stem_list(
        Path(plan.folder) / spec.path, name=spec.path, declination_deg=spec.declination or 0.0, crs=layers.crs
    )
    found = _Near(source=f"stem list {spec.path}", declination_deg=spec.declination)
    if listed.frame == "crs" and listed.crs == layers.crs:
        return replace(found, stems=listed.stems)
    if listed.frame != "pivot" or spec.pivot is None:
        return found
    offsets = np.array([(0.0, 0.0), *[(s.x_m, s.y_m) for s in listed.stems]])
    pivot, *places = [(float(x), float(y)) for x, y in from_pivot(offsets, spec.pivot, layers.crs)]
    moved = tuple(replace(s, x_m=x, y_m=y) for s, (x, y) in zip(listed.stems, places, strict=True))
    return replace(found, stems=moved, pivot=pivot)


def _write(results: list[RigResult], out: Path, *, crs: str | None, day: dt.date | None, progress: Progress) -> None:
    stamp = day or NO_DAY
    rows = [rig_table(r) for r in results]
    table: dict[str, Any] = rows[0] if len(rows) == 1 else {"sites": rows}
    looked_at = [r for r in results if r.plan is not None or (r.none is not None and r.none.tried.stems)]
    with staged(out) as folder:
        tables.write_json(folder / "rig.json", table)
        write_rig_gpkg(folder / "rig.gpkg", results, crs=crs, day=stamp.isoformat())
        print_rig_sheets(
            looked_at or results,
            folder / "rig_sheet.pdf",
            date=day,
            progress=lambda d, t: progress("printing sheets", d, t),
        )
