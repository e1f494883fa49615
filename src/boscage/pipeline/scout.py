"""`boscage scout`: hard stops, scores, ranked sites, field sheets."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from boscage.airlift.coordinates import place_at
from boscage.exports import geodata, tables
from boscage.exports.staging import staged
from boscage.exports.store import Store
from boscage.model.layers import LayerReport, LayerSet
from boscage.model.plan import Plan
from boscage.model.results import Backdrop, ScoutResult, Site
from boscage.model.scene import Scene
from boscage.model.soil import GroundAnswer
from boscage.pipeline.evidence import with_evidence, with_visits
from boscage.pipeline.firmness import remember, weighed, with_moves, with_standing
from boscage.pipeline.ground import answers_at, ground_of, with_ground
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.scene import make_scene, measure_all
from boscage.pipeline.timber import with_rings
from boscage.pipeline.together import with_together
from boscage.pipeline.ways import with_ways
from boscage.plugins import load_factors, load_readers
from boscage.readers.backdrop import read_backdrop
from boscage.readers.gear_list import read_gear_loads
from boscage.readers.layers import read_layers
from boscage.readers.plan_file import read_plan
from boscage.readers.rules import read_rules
from boscage.sheets.field_sheets import print_field_sheets
from boscage.siting.land import Land, make_land
from boscage.siting.ranking import Peak, find_peaks, settle_on_rings
from boscage.siting.scoring import weighted_score
from boscage.siting.sites import (
    RatedFactor,
    data_share,
    expected_support,
    explain,
    find_flags,
    find_hazards,
    ground_flags,
    read_factors,
    typical_points,
)
from boscage.siting.stops import find_stops, stopped_cells
from boscage.soil.ground import Ground
from boscage.values import Bounds, Printer

CLOSEUP_M = (500.0, 440.0)
OVERVIEW_CELLS = 900
OVERVIEW_MARGIN_M = 200.0
SHEETS, GROUND_FILE = "field_sheets.pdf", "ground.tif"
SETTLE_M = 20.0


def scout(
    plan: Plan | str | Path,
    *,
    out: Path,
    fresh: bool = False,
    sheets: bool = True,
    progress: Progress = silent,
) -> ScoutResult:
    """Hard stops, scores, ranked sites; writes the outputs of `boscage scout` into `out`, all or none.

    Raises:
        InputError: The plan or a layer is wrong, or `out` cannot be written.
        PluginError: A factor or reader that takes part cannot be loaded.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    factors, weighting = weighed(plan, load_factors(plan))
    rules = read_rules(plan)
    progress("reading layers", 0, 1)
    layers = read_layers(plan, load_readers())
    store = Store(out, fresh=fresh)
    ground = ground_of(layers, plan)
    outdated = (*(() if sheets else (SHEETS,)), *(() if ground else (GROUND_FILE,)))
    with staged(out, outdated=outdated) as folder:
        land = make_land(layers.vectors["parcels"].frame)
        scene = make_scene(plan, layers, land, store, progress)
        progress("hard stops", 0, 1)
        stops = find_stops(scene, land, rules)
        stopped = stopped_cells(stops, scene.grid)
        scene = with_rings(scene, layers, stopped, store, progress)
        scene = with_ground(scene, layers, ground, store, progress)
        scene = with_visits(scene, layers)
        rated = measure_all(scene, factors, store, progress)
        progress("ways in and sight lines", 0, 1)
        result = _rank(scene, layers, land, rated, (stops, stopped), ground)
        result = with_ways(result, scene, rated, read_gear_loads(out))
        result = replace(result, weighting=weighting)
        result = with_standing(with_moves(with_evidence(result, scene, layers, rated), out), rated)
        progress("sites together", 0, 1)
        result = with_together(result, scene, land, rated)
        _write_scout(folder, result)
        if sheets:
            _print_sheets(folder, result, layers, progress)
    remember(result, out)
    store.prune()
    progress("done", 1, 1)
    return result


def _rank(
    scene: Scene, layers: LayerSet, land: Land, rated: list[RatedFactor], stops: tuple[Any, Any], ground: Ground | None
) -> ScoutResult:
    areas, stopped = stops
    plan = scene.plan
    weights = [r.options.weight for r in rated]
    score, _ = weighted_score([r.measure.values for r in rated], weights, least_data=plan.sites.least_data)
    score[~scene.granted | stopped] = np.nan
    peaks = find_peaks(score, scene.grid, count=plan.sites.count, spacing_m=plan.sites.spacing.m)
    if scene.rings is not None:
        peaks = settle_on_rings(peaks, scene.rings, score, scene.grid, walk_m=SETTLE_M, spacing_m=plan.sites.spacing.m)
    open_cells = int((scene.granted & ~stopped).sum())
    answers = answers_at(ground, layers, plan, [(p.x_m, p.y_m) for p in peaks])
    sites = _make_sites(scene, layers, land, rated, list(zip(peaks, answers, strict=True)))
    notes = [note for r in rated for note in r.measure.notes]
    blind = [r.factor.title.lower() for r in rated if np.isnan(r.measure.values[scene.ranch]).all()]
    notes += [f"No data anywhere for: {', '.join(blind)}. These factors do not count."] if blind else []
    result = ScoutResult(
        plan=plan, grid=scene.grid, score=score, stopped=stopped, sites=sites, stops=areas, reports=layers.reports,
        ranch_ha=land.ranch_ha, granted_ha=land.granted_ha, open_ha=open_cells * scene.grid.cell_ha,
        notes=tuple(notes), factor_weights={r.factor.name: r.options.weight for r in rated}, ground=scene.ground,
    )  # fmt: skip
    return result if sites else replace(result, reason=_nearest_miss(scene, result, rated))


def _nearest_miss(scene: Scene, result: ScoutResult, rated: list[RatedFactor]) -> str:
    """Why no place is left, and what comes nearest to being one."""
    area = Printer(scene.plan.ranch.units).area
    if result.granted_ha == 0:
        return "No parcel has granted access: nothing may be ranked. Ask for permission first."
    if result.open_ha == 0:
        widest = max((s for s in result.stops if s.name != "permission"), key=lambda s: s.hectares)
        return (
            f"Hard stops rule out every cell of the {area(result.granted_ha)} with permission; "
            f"the widest is '{widest.title}' with {area(widest.hectares)}. Check its rule or its layer."
        )
    weights = [r.options.weight for r in rated]
    _, share = weighted_score([r.measure.values for r in rated], weights, least_data=0.0)
    best = float(share[scene.granted & ~result.stopped].max())
    return (
        f"{area(result.open_ha)} are left after the hard stops, but no place has data for enough of the score: "
        f"the best has {best:.0%} of the weight and sites.least_data asks for {scene.plan.sites.least_data:.0%}. "
        "Add layers, or lower sites.least_data."
    )


def _make_sites(
    scene: Scene, layers: LayerSet, land: Land, rated: list[RatedFactor],
    found: list[tuple[Peak, GroundAnswer | None]],
) -> tuple[Site, ...]:  # fmt: skip
    plan = scene.plan
    printer = Printer(plan.ranch.units)
    reports: dict[str, LayerReport] = {r.name: r for r in layers.reports}
    width = max(2, len(str(len(found))))
    names = [f"{plan.prefix}-{n:0{width}d}" for n in range(1, len(found) + 1)]
    readings = [read_factors(rated, peak, printer) for peak, _ in found]
    typical = typical_points(readings)
    sites = []
    for n, ((peak, ground), reading) in enumerate(zip(found, readings, strict=True)):
        place = place_at(peak.x_m, peak.y_m, scene.grid.crs)
        hazards = find_hazards(scene, land, peak, reports, place.convergence_deg)
        support, support_note = expected_support(scene, peak, ground)
        parcel, owner = land.parcel_at(peak.x_m, peak.y_m)
        after = (names[n + 1], readings[n + 1]) if n + 1 < len(found) else None
        elevation = scene.surface("elevation")
        height = None if elevation is None else float(elevation[peak.row, peak.col])
        sites.append(
            Site(
                site=names[n], rank=n + 1, score=round(peak.score), exact_score=peak.score, place=place, parcel=parcel,
                owner=owner, readings=reading, data_share=data_share(reading), support=support,
                support_note=support_note, why=explain(reading, typical, after), hazards=hazards,
                elevation_m=None if height is None or np.isnan(height) else height,
                ground=ground,
                flags=(
                    *find_flags(hazards, reading, (ground.flood_class if ground else None) or ""),
                    *ground_flags(support, peak.ring_score is not None, ground),
                ),
            )
        )  # fmt: skip
    return tuple(sites)


def _write_scout(folder: Path, result: ScoutResult) -> None:
    tables.write_json(folder / "scout.json", tables.scout_table(result))
    tables.write_sites_csv(folder / "sites.csv", result)
    geodata.write_sites_gpkg(folder / "sites.gpkg", result)
    tags = {"RANCH": result.plan.ranch.name, "UNIT": "score 0 to 100", "NOTE": result.plan.ranch.note or ""}
    geodata.write_geotiff(folder / "score.tif", result.score, result.grid, tags=tags)
    if result.ground is not None:
        tags = {**tags, "UNIT": f"MPa, penetration resistance when {result.ground.moisture}"}
        geodata.write_geotiff(folder / GROUND_FILE, result.ground.resistance_mpa, result.grid, tags=tags)


def _print_sheets(folder: Path, result: ScoutResult, layers: LayerSet, progress: Progress) -> None:
    day: dt.date = result.plan.date
    wide = layers.ranch.padded(OVERVIEW_MARGIN_M)
    cell = max(wide.width, wide.height) / OVERVIEW_CELLS
    overview = read_backdrop(layers, wide, cell, day)
    closeups: dict[str, Backdrop] = {}
    for n, site in enumerate(result.sites):
        progress("reading close-ups", n, len(result.sites))
        x, y = site.place.x_m, site.place.y_m
        half_w, half_h = CLOSEUP_M[0] / 2, CLOSEUP_M[1] / 2
        closeups[site.site] = read_backdrop(layers, Bounds(x - half_w, y - half_h, x + half_w, y + half_h), 1.0, day)
    print_field_sheets(
        result,
        overview,
        closeups,
        folder / SHEETS,
        progress=lambda d, t: progress("printing sheets", d, t),
    )
