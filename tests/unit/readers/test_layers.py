"""All layers together: order, reports, and going on after an error."""

from __future__ import annotations

import shutil

import numpy as np
import pytest

from boscage.errors import InputError, LayerError
from boscage.model.plan import LAYER_NAMES
from boscage.readers.digest import digest_of


def test_a_report_for_every_layer_in_the_order_of_the_plan_page(folder) -> None:
    found = folder.read()
    assert [r.name for r in found.reports] == list(LAYER_NAMES)
    states = {r.name: (r.state, r.read) for r in found.reports}
    assert states["parcels"][0] == "usable" and states["water"] == ("missing", "not given")
    assert (found.ranch.width, found.ranch.height) == pytest.approx((2000.0, 1000.0))


def test_layers_of_other_commands_need_only_exist(folder) -> None:
    (folder.path / "log.csv").write_text("date,site\n")
    folder.layers["log"] = '"log.csv"'
    report = next(r for r in folder.read().reports if r.name == "log")
    assert report.state == "usable" and "not used by scout" in report.read
    folder.layers["log"] = '"gone.csv"'
    with pytest.raises(LayerError, match=r"gone\.csv, layer log: there is no such file"):
        folder.read()


def test_inspecting_goes_on_where_reading_stops(folder, shapes) -> None:
    folder.vector("t.gpkg", [shapes.line((0, 0), (9, 0))], **{"class": ["highway"]})
    folder.vector("d.gpkg", [shapes.point(5, 5)], name=["h"])
    folder.layers |= {"tracks": '"t.gpkg"', "dwellings": '"d.gpkg"', "water": '"gone.gpkg"'}
    with pytest.raises(InputError, match="highway"):
        folder.read()
    found, reports = folder.inspect()
    assert reports["tracks"].state == "wrong" and "highway" in reports["tracks"].error
    assert reports["water"].state == "wrong" and "no such file" in reports["water"].error
    assert reports["dwellings"].state == "usable"
    assert set(found.vectors) == {"parcels", "dwellings"} and found.reports == tuple(reports.values())


def test_inspecting_without_parcels_still_looks_at_the_rest(folder, shapes) -> None:
    folder.parcels(access=["granted", "perhaps"])
    folder.layers["water"] = '"gone.gpkg"'
    found, reports = folder.inspect()
    assert found is None and reports["parcels"].state == "wrong"
    assert reports["canopy_cover"].state == "doubtful"
    assert "parcels could not be read" in reports["canopy_cover"].doubts[0]
    assert reports["water"].state == "wrong"


def test_canopy_elsewhere_leaves_nothing_to_rank(bare) -> None:
    bare.parcels()
    bare.raster("cover.tif", np.arange(100, dtype="uint8").reshape(10, 10), west=700_000)
    bare.layers["canopy_cover"] = '"cover.tif"'
    with pytest.raises(LayerError, match=r"cover\.tif, layer canopy_cover: the layer does not overlap the ranch"):
        bare.read()
    _, reports = bare.inspect()
    assert reports["canopy_cover"].state == "wrong"


def test_digest_follows_content_and_side_files_only(folder, shapes, tmp_path) -> None:
    first = folder.vector("t.shp", [shapes.line((0, 0), (9, 0))], **{"class": ["track"]})
    digest = digest_of(first)
    (folder.path / "t2.dbf").write_text("not a side file of t.shp")
    assert digest_of(first) == digest
    elsewhere = tmp_path / "copy"
    elsewhere.mkdir()
    for part in folder.path.glob("t.*"):
        shutil.copy(part, elsewhere / part.name.replace("t.", "moved."))
    assert digest_of(elsewhere / "moved.shp") == digest
    (elsewhere / "moved.prj").write_text("other")
    assert digest_of(elsewhere / "moved.shp") != digest


def test_digest_of_a_folder(tmp_path) -> None:
    folder = tmp_path / "tiles"
    (folder / "deep").mkdir(parents=True)
    (folder / "a.tif").write_bytes(b"1")
    (folder / "deep" / "b.tif").write_bytes(b"2")
    digest = digest_of(folder)
    assert digest == digest_of(shutil.copytree(folder, tmp_path / "other"))
    (folder / "a.tif").rename(folder / "c.tif")
    assert digest_of(folder) != digest


def test_reports_carry_what_the_plan_says(folder) -> None:
    folder.layers["canopy_cover"] = '{ path = "cover.tif", date = 2025-09-10, source = "a flight" }'
    found = folder.read()
    report = found.rasters["canopy_cover"].report
    assert (report.date.isoformat(), report.source) == ("2025-09-10", "a flight")
    assert report.digest == digest_of(folder.path / "cover.tif") and len(report.digest) == 32
