"""`boscage share`: everything for the crew, and a masked copy in whose bytes no place, gate, house or name is found."""

from __future__ import annotations

import io
import json
import struct
import zipfile
from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
import shapely
import tiny_ranch as tiny
from openpyxl import load_workbook
from pypdf import PdfReader

from boscage.cli.main import main

SECRETS = (
    "Owner A", "Owner B", "Willowbank", "Sorrelfield", "Zinnia", "Ashgrove gate", "Larch house", "calving Ünder",
)  # fmt: skip


@pytest.fixture(scope="module")
def ranch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("share")
    variant = tiny.Variant()
    plan = tiny.build(folder, variant)
    tiny._vector(folder / "gates.gpkg", variant, [shapely.Point(1300, 100)], name=["Ashgrove gate"], kind=["entry"],
                 state=["locked"], note=["ring Zinnia first"])  # fmt: skip
    house = shapely.Point(tiny.HOUSE[0] + 90, tiny.HOUSE[1])
    tiny._vector(folder / "dwellings.gpkg", variant, [house], name=["Larch house"])
    tiny._vector(folder / "no_go.gpkg", variant, [shapely.box(50, 50, 150, 150)], reason=["calving Ünder the bluff"])
    parcels = gpd.read_file(folder / "parcels.gpkg")
    parcels.assign(parcel=["Willowbank", "Sorrelfield"]).to_file(folder / "parcels.gpkg")
    text = plan.read_text(encoding="utf-8")
    text = text.replace('[layers]\n', '[layers]\ngates = "gates.gpkg"\nno_go = "no_go.gpkg"\n')
    plan.write_text(text, encoding="utf-8")
    assert main(["scout", str(plan), "--no-sheets"]) == 0
    assert main(["share", str(plan)]) == 0
    assert main(["share", str(plan), "--masked"]) == 0
    return folder


def ranked(ranch: Path) -> list[dict]:
    return json.loads((ranch / "out" / "scout.json").read_text(encoding="utf-8"))["sites"]


def open_bytes(path: Path) -> bytes:
    """A file's bytes with what is packed in it unpacked."""
    data = path.read_bytes()
    if path.suffix in (".kmz", ".xlsx"):
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return data + b"".join(archive.read(n) for n in archive.namelist())
    if path.suffix == ".pdf":
        reader = PdfReader(io.BytesIO(data))
        streams = [page.get_contents().get_data() for page in reader.pages]
        words = [page.extract_text().encode() for page in reader.pages]
        return data + b"".join(streams + words) + str(reader.metadata).encode()
    return data


def traces(site: dict) -> list[bytes]:
    """An exact place as it may stand in a file: digits in several forms, and both ends first as doubles."""
    found = []
    for key, digits in (("lon", 4), ("lat", 4), ("x_m", 0), ("y_m", 0)):
        value = float(site[key])
        found.append(f"{abs(value):.{digits}f}".encode())
        found += [struct.pack(e + "d", value) for e in "<>"]
    lat_ddm, lon_ddm = site["ddm"].split("  ")
    return [*found, lat_ddm[:9].encode(), lon_ddm[:10].encode(), site["usng"].encode(),
            site["usng"].replace(" ", "").encode()]  # fmt: skip


def test_the_masked_copy_gives_nothing_away(ranch: Path) -> None:
    files = sorted((ranch / "out" / "masked").iterdir())
    assert {f.name for f in files} == {"masked_map.pdf", "ranch.gpkg", "ranch.gpx", "ranch.kmz"}
    for file in files:
        data = open_bytes(file)
        for secret in SECRETS:
            assert secret.encode() not in data, (file.name, secret)
        for site in ranked(ranch):
            for trace in traces(site):
                assert trace not in data, (file.name, site["site"], trace)


def test_the_search_finds_what_the_crews_copy_holds(ranch: Path) -> None:
    """The same search over the crew's own copy finds places and names, so that finding nothing means something."""
    whole = b"".join(open_bytes(f) for f in (ranch / "out" / "share").iterdir())
    for secret in ("Owner A", "Willowbank", "Zinnia", "Ashgrove gate", "Larch house", "calving Ünder"):
        assert secret.encode() in whole, secret
    for site in ranked(ranch):
        assert sum(trace in whole for trace in traces(site)) >= 4


def test_a_square_holds_its_sites_and_its_middle_is_none_of_them(ranch: Path) -> None:
    squares = gpd.read_file(ranch / "out" / "masked" / "ranch.gpkg", layer="squares")
    told = {name: row.geometry for _, row in squares.iterrows() for name in row["sites"].split(", ")}
    assert set(told) == {s["site"] for s in ranked(ranch)}
    for site in ranked(ranch):
        place = shapely.Point(site["x_m"], site["y_m"])
        assert told[site["site"]].contains(place)
        assert told[site["site"]].area == pytest.approx(1e6)
    assert (squares.geometry.bounds % 1000 == 0).all().all(), "the same squares whatever the sites in them"


def test_the_crews_package_has_every_layer_with_its_attributes(ranch: Path) -> None:
    path = ranch / "out" / "share" / "ranch.gpkg"
    names = [str(n) for n, _ in pyogrio.list_layers(path)]
    want = {"sites", "stops", "ways", "layer_parcels", "layer_gates", "layer_no_go", "layer_sign", "layer_dwellings"}
    assert want <= set(names)
    gates = gpd.read_file(path, layer="layer_gates")
    assert list(gates["note"]) == ["ring Zinnia first"] and gates.crs.to_epsg() == 32615
    sites = gpd.read_file(path, layer="sites")
    assert list(sites["site"]) == [s["site"] for s in ranked(ranch)]


def test_receivers_get_sites_in_rank_order_at_their_places(ranch: Path) -> None:
    points = gpd.read_file(ranch / "out" / "share" / "ranch.gpx", layer="waypoints")
    sites = points[points["type"] == "site"].reset_index(drop=True)
    for (_, row), site in zip(sites.iterrows(), ranked(ranch), strict=True):
        assert row["name"] == site["site"]
        assert (row.geometry.x, row.geometry.y) == pytest.approx((site["lon"], site["lat"]), abs=1e-7)


def test_the_forms_list_the_ranked_sites(ranch: Path) -> None:
    for name in ("visit", "check", "capture"):
        book = load_workbook(ranch / "out" / "share" / f"form_{name}.xlsx", read_only=True)
        labels = [row[2] for row in book["choices"].iter_rows(values_only=True) if row[0] == "sites"]
        assert labels[: len(ranked(ranch))] == [s["site"] for s in ranked(ranch)]


def test_named_sites_only(ranch: Path) -> None:
    one = ranked(ranch)[0]["site"]
    assert main(["share", str(ranch / "plan.toml"), one, "--masked"]) == 0
    squares = gpd.read_file(ranch / "out" / "masked" / "ranch.gpkg", layer="squares")
    assert list(squares["sites"]) == [one]
    assert main(["share", str(ranch / "plan.toml"), "--masked"]) == 0


def test_before_a_ranking_it_says_what_to_run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = tiny.build(tmp_path / "new", tiny.Variant())
    assert main(["share", str(plan), "--masked"]) == 2
    assert "run boscage scout first" in capsys.readouterr().err
    assert not (tmp_path / "new" / "out" / "masked").exists()
