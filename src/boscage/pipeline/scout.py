"""`boscage scout`: hard stops, scores, ranked sites, field sheets."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from boscage.exports import geodata, tables
from boscage.exports.staging import staged
from boscage.exports.store import Store
from boscage.model.layers import LayerSet
from boscage.model.plan import Plan
from boscage.model.results import Backdrop, ScoutResult
from boscage.pipeline.evidence import with_evidence
from boscage.pipeline.firmness import remember, with_moves, with_standing
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.ranch import Ranch, make_ranch, read_inputs
from boscage.pipeline.ranking import rank_ranch
from boscage.pipeline.together import with_together
from boscage.pipeline.ways import with_ways
from boscage.readers.backdrop import read_backdrop
from boscage.readers.gear_list import read_gear_loads
from boscage.readers.plan_file import read_plan
from boscage.sheets.field_sheets import print_field_sheets
from boscage.values import Bounds

CLOSEUP_M = (500.0, 440.0)
OVERVIEW_CELLS = 900
OVERVIEW_MARGIN_M = 200.0
SHEETS, GROUND_FILE = "field_sheets.pdf", "ground.tif"


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
    inputs = read_inputs(plan, progress)
    store = Store(out, fresh=fresh)
    outdated = (*(() if sheets else (SHEETS,)), *(() if inputs.ground else (GROUND_FILE,)))
    with staged(out, outdated=outdated) as folder:
        ranch = make_ranch(inputs, store, progress)
        result = _find_out(ranch, out, progress)
        _write_scout(folder, result)
        if sheets:
            _print_sheets(folder, result, inputs.layers, progress)
    remember(result, out)
    store.prune()
    progress("done", 1, 1)
    return result


def _find_out(ranch: Ranch, out: Path, progress: Progress) -> ScoutResult:
    """The ranking with all that is told of its sites."""
    scene, layers, rated = ranch.scene, ranch.layers, ranch.rated
    progress("ways in and sight lines", 0, 1)
    result = with_ways(rank_ranch(ranch), scene, rated, read_gear_loads(out))
    result = replace(result, weighting=ranch.inputs.weighting)
    result = with_standing(with_moves(with_evidence(result, scene, layers, rated), out), rated)
    progress("sites together", 0, 1)
    return with_together(result, scene, ranch.land, rated)


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
