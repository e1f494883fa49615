"""`boscage scout` as a whole: its files, its second run, its interruption, its empty answer."""

from __future__ import annotations

import csv
import errno
import json
import os
import shutil
from pathlib import Path

import geopandas as gpd
import numpy as np
import pyogrio
import pytest
import rasterio
import tiny_ranch as tiny

from boscage.cli.main import main
from boscage.pipeline.scout import scout

FILES = {"scout.json", "sites.gpkg", "sites.csv", "score.tif", "ground.tif", "field_sheets.pdf"}


@pytest.fixture(scope="module")
def ranch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("run") / "tiny"
    tiny.build(folder, tiny.Variant())
    assert main(["scout", str(folder / "plan.toml")]) == 0
    return folder


@pytest.fixture
def copy(ranch: Path, tmp_path: Path) -> Path:
    shutil.copytree(ranch, tmp_path / "tiny")
    return tmp_path / "tiny"


def files_of(folder: Path) -> dict[str, bytes]:
    return {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}


def test_all_files_are_written_and_nothing_else(ranch: Path) -> None:
    assert set(files_of(ranch / "out")) == FILES
    assert {p.name for p in (ranch / "out" / ".boscage").iterdir()} == {"layers", "ranking.json"}
    inputs = {p.name for p in ranch.iterdir()} - {"out"}
    layers = {f"{name}.gpkg" for name in ("parcels", "water", "tracks", "dwellings", "soils")}
    assert inputs == layers | {"plan.toml", "sign.csv", "canopy_cover.tif", "canopy_height.tif", "terrain.tif"}


def test_json_holds_what_is_promised(ranch: Path) -> None:
    told = json.loads((ranch / "out" / "scout.json").read_text(encoding="utf-8"))
    assert told["ranch"] == "Tiny Ranch"
    assert told["crs"] == "EPSG:32615"
    assert "power_lines" in told["missing_layers"]
    ranks = [site["rank"] for site in told["sites"]]
    assert ranks == list(range(1, len(ranks) + 1))
    scores = [site["score"] for site in told["sites"]]
    assert scores == sorted(scores, reverse=True)
    for site in told["sites"]:
        assert isinstance(site["score"], int)
        assert 0 <= site["score"] <= 100
        assert site["support"] in ("trees", "hybrid", "posts")
        assert set(site["factors"]) == {"cover", "concealment", "use", "water", "floor", "access", "ground", "timber"}
        assert sum(site["points"].values()) == pytest.approx(site["score"], abs=0.6)
        assert all(site["sentences"].values())
        assert site["why"]
    names = [site["site"] for site in told["sites"]]
    assert names[0] == "T-01"
    assert len(set(names)) == len(names)


def test_geodata_agree_with_the_json(ranch: Path) -> None:
    out = ranch / "out"
    told = json.loads((out / "scout.json").read_text(encoding="utf-8"))
    assert {name for name, _ in pyogrio.list_layers(out / "sites.gpkg")} == {"sites", "stops", "ways", "together"}
    sites = gpd.read_file(out / "sites.gpkg", layer="sites")
    assert sites["site"].tolist() == [s["site"] for s in told["sites"]]
    assert sites.geometry.x.tolist() == pytest.approx([s["x_m"] for s in told["sites"]], abs=0.01)
    stops = gpd.read_file(out / "sites.gpkg", layer="stops").set_index("stop")
    for name, hectares in told["stops"].items():
        assert stops.loc[name, "hectares"] == pytest.approx(hectares, abs=0.01)
        assert stops.loc[name].geometry.area / 1e4 == pytest.approx(hectares, abs=0.01)
    with rasterio.open(out / "score.tif") as file:
        score = file.read(1)
        assert file.crs.to_epsg() == 32615
        for site in told["sites"]:
            assert round(float(score[file.index(site["x_m"], site["y_m"])])) == site["score"]
        assert np.nanmax(score) <= 100
        inside = [file.index(p.x, p.y) for p in stops.geometry.representative_point() if not p.is_empty]
        assert all(np.isnan(score[cell]) for cell in inside)
    with (out / "sites.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [r["site"] for r in rows] == [s["site"] for s in told["sites"]]


def test_the_same_inputs_give_the_same_bytes(ranch: Path, copy: Path) -> None:
    shutil.rmtree(copy / "out")
    assert main(["scout", str(copy / "plan.toml")]) == 0
    assert files_of(copy / "out") == files_of(ranch / "out")


def test_a_second_run_reuses_what_has_not_changed(copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from boscage.pipeline import scout as module

    stores = []
    real = module.Store

    def watched(*args: object, **options: object) -> object:
        stores.append(real(*args, **options))
        return stores[-1]

    monkeypatch.setattr(module, "Store", watched)
    before = files_of(copy / "out")
    scout(copy / "plan.toml", out=copy / "out")
    assert (stores[0].reused, stores[0].made) == (11, 0)
    assert files_of(copy / "out") == before
    rows = (copy / "sign.csv").read_text(encoding="utf-8")
    (copy / "sign.csv").write_text(rows + "-92.7000000,36.2000000,bed,2026-11-21\n", encoding="utf-8")
    scout(copy / "plan.toml", out=copy / "out", sheets=False)
    assert (stores[1].reused, stores[1].made) == (10, 1)
    assert "field_sheets.pdf" not in files_of(copy / "out")
    plan_with(copy, "[sites]", "[factors.cover]\nweight = 9\n[sites]")
    scout(copy / "plan.toml", out=copy / "out", sheets=False)
    assert (stores[2].reused, stores[2].made) == (11, 0)
    plan_with(copy, "[sites]", '[net]\nperimeter = "90ft"\n[sites]')
    scout(copy / "plan.toml", out=copy / "out", sheets=False)
    assert stores[3].reused == 1  # the ground, which knows nothing of the net
    scout(copy / "plan.toml", out=copy / "out", sheets=False, fresh=True)
    assert (stores[4].reused, stores[4].made) == (0, 11)
    layers = copy / "out" / ".boscage" / "layers"
    assert len(list(layers.iterdir())) == 11


def test_broken_stored_layers_are_made_again(copy: Path) -> None:
    before = files_of(copy / "out")
    for path in (copy / "out" / ".boscage" / "layers").iterdir():
        path.write_bytes(path.read_bytes()[:100])
    assert main(["scout", str(copy / "plan.toml")]) == 0
    assert files_of(copy / "out") == before


@pytest.mark.parametrize("step", ["surfaces", "hard stops", "factor use", "reading close-ups", "printing sheets"])
def test_an_interruption_leaves_the_old_files_whole(copy: Path, step: str) -> None:
    before = files_of(copy / "out")
    (copy / "sign.csv").write_text("lon,lat,kind,date\n-92.7,36.2,bed,2026-11-21\n", encoding="utf-8")

    def stop(name: str, done: int, total: int) -> None:
        if name == step:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        scout(copy / "plan.toml", out=copy / "out", fresh=True, progress=stop)
    assert files_of(copy / "out") == before
    assert {p.name for p in (copy / "out" / ".boscage").iterdir()} == {"layers", "ranking.json"}


def test_a_full_disk_is_said_and_leaves_the_old_files_whole(
    copy: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    before = files_of(copy / "out")

    def full(*args: object, **options: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("boscage.exports.tables.write_sites_csv", full)
    assert main(["scout", str(copy / "plan.toml")]) == 2
    assert "No space left on device" in capfd.readouterr().err
    assert files_of(copy / "out") == before


def plan_with(copy: Path, old: str, new: str) -> Path:
    path = copy / "plan.toml"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    return path


def test_no_granted_land_gives_status_three_and_says_why(copy: Path, capfd: pytest.CaptureFixture[str]) -> None:
    frame = gpd.read_file(copy / "parcels.gpkg").assign(access="unknown")
    (copy / "parcels.gpkg").unlink()
    frame.to_file(copy / "parcels.gpkg")
    assert main(["scout", str(copy / "plan.toml")]) == 3
    assert "No parcel has granted access" in capfd.readouterr().err
    told = json.loads((copy / "out" / "scout.json").read_text(encoding="utf-8"))
    assert told["sites"] == []
    assert "No parcel has granted access" in told["nearest_miss"]
    assert gpd.read_file(copy / "out" / "sites.gpkg", layer="sites").empty


def test_everything_ruled_out_names_the_widest_stop(copy: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["scout", str(plan_with(copy, 'dwelling = "300m"', 'dwelling = "9km"')), "--no-sheets"]) == 3
    assert "near a dwelling" in capfd.readouterr().err


def test_a_factor_of_weight_zero_takes_no_part(copy: Path) -> None:
    plan = plan_with(copy, "[sites]", "[factors.ground]\nweight = 0\n[sites]")
    assert main(["scout", str(plan), "--no-sheets"]) == 0
    told = json.loads((copy / "out" / "scout.json").read_text(encoding="utf-8"))
    assert "ground" not in told["weights"]
    assert "ground" not in told["sites"][0]["factors"]


def test_missing_optional_layers_count_for_nothing(copy: Path) -> None:
    """Without soils and dwellings the factor has no data and the stop is not applied; neither is good news."""
    plan = plan_with(copy, 'soils = "soils.gpkg"\n', "")
    plan = plan_with(copy, 'dwellings = "dwellings.gpkg"\n', "")
    assert main(["scout", str(plan), "--no-sheets"]) == 0
    told = json.loads((copy / "out" / "scout.json").read_text(encoding="utf-8"))
    assert {"soils", "dwellings"} <= set(told["missing_layers"])
    assert told["sites"][0]["factors"]["ground"] is None
    assert told["sites"][0]["data_share"] < 1
    assert any("No data for ground" in line for line in told["sites"][0]["why"])
    assert "dwelling" not in told["stops"]
    assert "not the same as none" in told["stops_not_applied"]["dwelling"]


def test_too_little_data_is_no_ranking(copy: Path, capfd: pytest.CaptureFixture[str]) -> None:
    text = (copy / "plan.toml").read_text(encoding="utf-8")
    for name in ("terrain", "tracks", "water", "soils", "sign"):
        text = "\n".join(line for line in text.splitlines() if not line.startswith(f"{name} ="))
    (copy / "plan.toml").write_text(text, encoding="utf-8")
    assert main(["scout", str(copy / "plan.toml"), "--no-sheets"]) == 3
    assert "sites.least_data" in capfd.readouterr().err
