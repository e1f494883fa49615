"""`boscage report`: what was done, caught and covered, from the log of a plan; masked unless exact places are asked."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import shapely

from boscage.airlift.coordinates import place_at
from boscage.exports.report import report_table, write_coverage_csv, write_report_gpkg
from boscage.exports.staging import staged
from boscage.exports.tables import write_json
from boscage.model.plan import Plan
from boscage.model.report import ReportAsk, ReportResult
from boscage.model.results import Backdrop
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.report_compute import make_result
from boscage.pipeline.report_inputs import ReportInputs, read_inputs
from boscage.pipeline.report_masked import finished
from boscage.readers.backdrop import read_backdrop
from boscage.sheets.report_sheets import print_check_sheet, print_report
from boscage.values import Bounds

MARGIN_M = 250.0
CHECK_SHEET = "check_sheet.pdf"
SHOWN = ("parcels", "water", "tracks")


def report(
    plan: Plan | str | Path, *, out: Path, ask: ReportAsk | None = None, progress: Progress = silent
) -> ReportResult:  # fmt: skip
    """The landowner's report.

    Writes `report.json`, `coverage.csv`, `report.gpkg`, `coverage_report.pdf` and, where a set is armed,
    `check_sheet.pdf` into `out`, all or none. Exact places stand in none of them unless `ask.exact`.

    Raises:
        InputError: The plan is wrong or names no log, a file cannot be used, no parcel has the owner asked for, or
            `out` cannot be written.
    """
    ask = ask or ReportAsk()
    progress("reading the log", 0, 1)
    inputs = read_inputs(plan, out)
    progress("counting", 0, 1)
    exact = make_result(inputs, ask)
    result = finished(exact, inputs, exact=ask.exact)
    backdrop = make_backdrop(inputs, result)
    result = replace(result, convergence_deg=_convergence(backdrop))
    with staged(out, outdated=() if result.clock.due else (CHECK_SHEET,)) as folder:
        write_json(folder / "report.json", report_table(result))
        write_coverage_csv(folder / "coverage.csv", result)
        write_report_gpkg(folder / "report.gpkg", result)
        progress("printing", 0, 1)
        print_report(result, backdrop, folder / "coverage_report.pdf")
        if result.clock.due:
            print_check_sheet(result, folder / CHECK_SHEET)
    progress("done", 1, 1)
    return result


def make_backdrop(inputs: ReportInputs, result: ReportResult) -> Backdrop:
    """What the map is drawn on: parcels, of the owner alone where one is asked for, water, and ways.

    A masked copy shows roads and no track or trail, since those lead to sets and houses; one owner's copy shows public
    roads and the ways that touch the owner's land.
    """
    layers = inputs.layers
    frames: dict[str, Any] = {n: layers.vectors[n] for n in SHOWN if n in layers.vectors}
    parcels = frames["parcels"]
    if result.owner:
        own = parcels.frame[[p.owner == result.owner for p in inputs.land]].reset_index(drop=True)
        frames["parcels"] = replace(parcels, frame=own)
    if "tracks" in frames:
        ways = frames["tracks"].frame
        shown = (ways["class"] == "road") | (not result.masked)
        if result.owner:
            shown &= ways["public"] | ways.intersects(shapely.union_all(frames["parcels"].frame.geometry.to_numpy()))
        frames["tracks"] = replace(frames["tracks"], frame=ways[shown].reset_index(drop=True))
    west, south, east, north = (float(v) for v in frames["parcels"].frame.total_bounds)
    around = Bounds(west, south, east, north)
    wide = around.padded(MARGIN_M + 0.02 * max(around.width, around.height))
    cell = max(wide.width, wide.height) / 100.0
    return read_backdrop(replace(layers, vectors=frames, rasters={}), wide, cell, inputs.plan.date)


def _convergence(backdrop: Backdrop) -> float:
    """Grid north from true north in the middle of the map."""
    b = backdrop.grid.bounds
    return place_at((b.west + b.east) / 2.0, (b.south + b.north) / 2.0, backdrop.grid.crs).convergence_deg
