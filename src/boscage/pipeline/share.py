"""`boscage share`: the ranch for phones and other programs, in full for the crew or masked for others."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import geopandas as gpd
import shapely

from boscage.exports.forms import write_form
from boscage.exports.geodata import write_layers
from boscage.exports.gpx import write_gpx
from boscage.exports.kml import write_kmz
from boscage.exports.masked import mask_ranch, masked_layers, masked_set
from boscage.exports.ranch_share import RanchPieces, package_layers, ranch_set
from boscage.exports.staging import staged
from boscage.model.form_questions import FORMS, make_form
from boscage.model.layers import LayerSet
from boscage.model.masked import ShareResult
from boscage.model.plan import Plan
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.rig import chosen_sites
from boscage.plugins import load_readers
from boscage.readers.last_outputs import read_made_layers, read_made_table
from boscage.readers.layers import read_layers
from boscage.readers.plan_file import read_plan
from boscage.sheets.maskedsheet import print_masked_sheet

FULL, MASKED = "share", "masked"


def share(
    plan: Plan | str | Path, sites: Sequence[str] = (), *, out: Path, masked: bool = False, revision: int = 0,
    progress: Progress = silent,
) -> ShareResult:  # fmt: skip
    """Write `ranch.gpkg`, `ranch.gpx` and `ranch.kmz`, with field forms, into `share` in `out`, all or none.

    The masked copy goes into `masked` instead: squares for places, no ways, gates, houses, names or forms, and a sheet.

    Args:
        revision: Of the forms, 0 to 99: counted up where they change within one date of the plan.

    Raises:
        InputError: The plan or a layer is wrong, no ranking is there, or a site is unknown.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    rows = chosen_sites(out, sites)
    progress("reading layers", 0, 1)
    layers = read_layers(plan, load_readers())
    pieces = _pieces(plan, layers, out, [str(r["site"]) for r in rows])
    progress("writing", 0, 1)
    made = _write_masked(pieces, out / MASKED) if masked else _write_full(pieces, out / FULL, revision)
    progress("done", 1, 1)
    return made


def _pieces(plan: Plan, layers: LayerSet, out: Path, sites: list[str]) -> RanchPieces:
    places = layers.camera_places
    cameras = gpd.GeoDataFrame(
        {"name": list(places)}, geometry=[shapely.Point(p) for p in places.values()], crs=layers.crs
    )
    made = {**read_made_layers(out / "sites.gpkg"), **read_made_layers(out / "rig.gpkg")}
    return RanchPieces(
        plan=plan, crs=layers.crs, vectors={n: v.frame for n, v in layers.vectors.items()}, cameras=cameras,
        made=made, scout=read_made_table(out / "scout.json"), drop=read_made_table(out / "drop.json"), sites=sites,
    )  # fmt: skip


def _write_full(pieces: RanchPieces, folder: Path, revision: int) -> ShareResult:
    plan = pieces.plan
    with staged(folder) as part:
        write_layers(part / "ranch.gpkg", package_layers(pieces), plan.date.isoformat())
        write_gpx(part / "ranch.gpx", ranch_set(pieces, areas=False))
        write_kmz(part / "ranch.kmz", ranch_set(pieces, areas=True))
        for name in FORMS:
            form = make_form(name, plan.ranch.units)
            target = part / f"form_{name}.xlsx"
            write_form(target, form, pieces.sites, date=plan.date, ranch=plan.ranch.name, revision=revision)
        files = tuple(sorted(p.name for p in part.iterdir()))
    return ShareResult(folder=folder, files=files, sites=tuple(pieces.sites), masked=None)


def _write_masked(pieces: RanchPieces, folder: Path) -> ShareResult:
    masked = mask_ranch(pieces)
    with staged(folder) as part:
        write_layers(part / "ranch.gpkg", masked_layers(masked), pieces.plan.date.isoformat())
        write_gpx(part / "ranch.gpx", masked_set(masked))
        write_kmz(part / "ranch.kmz", masked_set(masked))
        print_masked_sheet(masked, part / "masked_map.pdf")
        files = tuple(sorted(p.name for p in part.iterdir()))
    return ShareResult(folder=folder, files=files, sites=tuple(pieces.sites), masked=masked)
