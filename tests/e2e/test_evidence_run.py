"""Cameras, searched lines, weights, firmness and sites together, from the command line on a ranch made up for it."""

from __future__ import annotations

import csv
import json
import math
from collections.abc import Sequence
from pathlib import Path

import geopandas as gpd
import pyogrio
import pytest
import shapely
import tiny_ranch as tiny
from pyproj import Transformer

from boscage.cli.main import main

TO = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True)
DEPLOYMENTS = ("deploymentID", "locationID", "locationName", "latitude", "longitude", "coordinateUncertainty",
               "deploymentStart", "deploymentEnd", "timestampIssues", "baitUse")  # fmt: skip
OBSERVATIONS = ("observationID", "deploymentID", "mediaID", "eventID", "eventStart", "eventEnd", "observationLevel",
                "observationType", "scientificName", "count", "lifeStage", "sex")  # fmt: skip
MEDIA = ("mediaID", "deploymentID", "timestamp", "filePath", "filePublic", "fileMediatype")
PACKAGE = {
    "name": "tiny-cameras", "created": "2026-11-21T12:00:00Z",
    "profile": "https://raw.githubusercontent.com/tdwg/camtrap-dp/1.0.2/camtrap-dp-profile.json",
    "resources": [
        {"name": n, "path": f"{n}.csv", "profile": "tabular-data-resource", "format": "csv", "mediatype": "text/csv",
         "encoding": "utf-8",
         "schema": f"https://raw.githubusercontent.com/tdwg/camtrap-dp/1.0.2/{n}-table-schema.json"}
        for n in ("deployments", "media", "observations")
    ],
}  # fmt: skip
Night = tuple[str, str, int]


def cameras(folder: Path, places: dict[str, tuple[float, float]], nights: Sequence[Night], *more: dict) -> None:
    """A package: cameras at local places, and for each (camera, day, sows) one event in that evening."""
    target = folder / "cameras"
    target.mkdir(exist_ok=True)
    (target / "datapackage.json").write_text(json.dumps(PACKAGE), encoding="utf-8")
    rows = []
    for name, place in places.items():
        lon, lat = TO.transform(*tiny.place(tiny.Variant(), *place))
        rows.append({"deploymentID": name, "locationID": f"loc-{name}", "locationName": name, "latitude": f"{lat:.7f}",
                     "longitude": f"{lon:.7f}", "coordinateUncertainty": 8, "timestampIssues": "false",
                     "deploymentStart": "2026-11-10T12:00:00-06:00", "deploymentEnd": "2026-11-21T12:00:00-06:00",
                     "baitUse": "true"})  # fmt: skip
    write(target / "deployments.csv", DEPLOYMENTS, rows)
    seen = [
        {"observationID": f"o{k}", "deploymentID": camera, "eventID": f"e{k}", "eventStart": f"{day}T20:00:00-06:00",
         "eventEnd": f"{day}T20:20:00-06:00", "observationLevel": "event", "observationType": "animal",
         "scientificName": "Sus scrofa", "count": sows, "lifeStage": "adult", "sex": "female"}
        for k, (camera, day, sows) in enumerate(nights)
    ]  # fmt: skip
    write(target / "observations.csv", OBSERVATIONS, [*seen, *more])
    write(target / "media.csv", MEDIA, [])


def write(path: Path, names: Sequence[str], rows: Sequence[dict]) -> None:
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.DictWriter(file, names)
        writer.writeheader()
        writer.writerows(rows)


def ranch(folder: Path, layers: str = "", rest: str = "") -> Path:
    path = tiny.build(folder, tiny.Variant())
    text = path.read_text(encoding="utf-8").replace("[sites]", f"{layers}\n[sites]", 1)
    path.write_text(f"{text}\n{rest}", encoding="utf-8")
    return path


def scouted(path: Path, *words: str) -> dict:
    assert main(["scout", str(path), *(words or ("--no-sheets",))]) == 0
    return json.loads((path.parent / "out" / "scout.json").read_text(encoding="utf-8"))


def at(told: dict, goal: tuple[float, float]) -> dict:
    x, y = tiny.place(tiny.Variant(), *goal)
    return min(told["sites"], key=lambda s: math.hypot(s["x_m"] - x, s["y_m"] - y))


LAYER = 'cameras = "cameras"\n'
STALE_NIGHTS = [("stale", f"2026-11-{d}", 6) for d in (17, 18, 19, 20)]
PERSON = {"observationID": "p1", "deploymentID": "stale", "eventID": "p", "eventStart": "2026-11-12T09:00:00-06:00",
          "eventEnd": "2026-11-12T09:05:00-06:00", "observationLevel": "event", "observationType": "human",
          "scientificName": "Homo sapiens", "count": 1}  # fmt: skip


def test_camera_nights_outrank_the_map_and_what_moved_is_said(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """Fresh nights on camera at the stale thicket lift it; the run says from where to where, and why."""
    path = ranch(tmp_path)
    before = scouted(path)
    assert before["moves"] is None and all(s["cameras_near"] == [] for s in before["sites"])
    low = at(before, tiny.STALE)
    cameras(tmp_path, {"stale": tiny.STALE}, STALE_NIGHTS, PERSON)
    path.write_text(path.read_text(encoding="utf-8").replace("[sites]", f"{LAYER}[sites]", 1), encoding="utf-8")
    capfd.readouterr()
    after = scouted(path)
    high = at(after, tiny.STALE)
    assert high["rank"] < low["rank"] and high["points"]["use"] > low["points"]["use"] + 5.0
    assert high["cameras_near"][0].endswith("off: 4 visits in 11 nights, latest last night, 6 at one time at most.")
    move = next(m for m in after["moves"] if m["site"] == high["site"])
    assert (move["was_rank"], move["rank"]) == (low["rank"], high["rank"]) and "fresh sign +" in move["why"]
    assert scouted(path)["moves"] == after["moves"], "the same inputs give the same answer"
    group = after["evidence"]["groups"][0]
    assert group["nights_test"]["passed"] and group["nights_test"]["running"] == 4 and group["least"] == 6
    assert after["evidence"]["people_rows_left_out"] == 1
    for file in (tmp_path / "out").iterdir():
        if file.is_file() and file.suffix in (".json", ".csv"):
            assert "Homo" not in file.read_text(encoding="utf-8") and "human" not in file.read_text(encoding="utf-8")


def test_a_set_of_sites_covers_and_is_proven(tmp_path: Path) -> None:
    path = ranch(tmp_path, rest='[together]\nnets = 2\nradius = "500m"\nspacing = "0m"\n')
    told = scouted(path, "--fresh")
    found = told["together"]
    assert found["ending"] == "optimal" and found["gap"] <= 1e-6 and len(found["sites"]) <= 2
    shares = [p["share"] for p in found["curve"]]
    assert shares == sorted(shares) and len(shares) == 3 and found["share"] == pytest.approx(shares[1], abs=1e-6)
    assert found["rounds"] and sorted(s for r in found["rounds"] for s in r["sites"]) == sorted(found["sites"])
    assert all(r["minutes"] <= 360.0 for r in found["rounds"])
    frame = gpd.read_file(tmp_path / "out" / "sites.gpkg", layer="together")
    granted = gpd.read_file(tmp_path / "parcels.gpkg").query("access == 'granted'").to_crs(frame.crs).union_all()
    assert sorted(frame["site"]) == sorted(found["sites"])
    assert all(granted.buffer(2.0).contains(g) for g in frame.geometry)
    assert frame.union_all().area / 1e4 == pytest.approx(found["covered_ha"], abs=0.006)
    names = {str(n) for n, _ in pyogrio.list_layers(tmp_path / "out" / "sites.gpkg")}
    assert names == {"sites", "stops", "ways", "together"}


def test_no_round_fits_is_said_and_no_set_is_chosen(tmp_path: Path) -> None:
    told = scouted(ranch(tmp_path, rest="[together]\nhours = 0.1\n"))
    assert told["together"]["sites"] == [] and "hours" in told["together"]["reason"]


def test_one_rig_a_group(tmp_path: Path) -> None:
    """Two sites near one camera's group: only one of them is chosen, though two nets are free."""
    cameras(tmp_path, {"a": tiny.A}, [("a", "2026-11-20", 8)])
    path = ranch(tmp_path, LAYER, '[together]\nnets = 4\nspacing = "0m"\n[cameras]\nreach = "2500m"\n')
    told = scouted(path)
    assert len(told["together"]["sites"]) == 1


def test_searched_ground_without_sign_differs_from_ground_that_nobody_looked_at(tmp_path: Path) -> None:
    """A line past the hard thicket without sign of its own; the far corner was not walked."""

    def line(*points: tuple[float, float]) -> shapely.LineString:
        return shapely.LineString([tiny.place(tiny.Variant(), *p) for p in points])

    walked = line((tiny.OPEN[0] + 500, 300), (tiny.OPEN[0] + 500, 900))
    tiny_frame = gpd.GeoDataFrame({"date": ["2026-11-19"]}, geometry=[walked], crs=tiny.UTM)
    path = ranch(tmp_path, 'searched = "searched.gpkg"\n', "[factors.cover]\nweight = 0\n")
    tiny_frame.to_file(tmp_path / "searched.gpkg")
    told = scouted(path)
    assert told["evidence"]["searched"]["walked_m"] == pytest.approx(600.0, abs=1.0)
    assert told["evidence"]["searched"]["looked_ha"] > 0.0
    sentences = {s["sentences"]["use"] for s in told["sites"]}
    assert any("Nobody looked" in s for s in sentences)
    assert all(s["factors"]["use"] is not None for s in told["sites"])
    assert not any("No sign recorded" in s for s in sentences), "with searched lines the two are told apart"


def test_comparisons_give_the_weights_and_name_the_one_that_hurts(tmp_path: Path) -> None:
    names = ("access", "concealment", "cover", "floor", "ground", "timber", "use", "water")
    pairs = {f"{a}/{b}": 1.0 for i, a in enumerate(names) for b in names[i + 1 :]}
    even = "\n".join(f'"{k}" = {v}' for k, v in pairs.items())
    path = ranch(tmp_path, rest=f"[weights.comparisons]\n{even}\n")
    told = scouted(path)
    assert told["weighting"]["basis"] == "comparison table" and told["weighting"]["consistency_ratio"] == 0.0
    assert all(w == pytest.approx(1 / 8) for w in told["weighting"]["weights"].values())
    skew = even.replace('"access/use" = 1.0', '"access/use" = 9.0')
    path.write_text(path.read_text(encoding="utf-8").replace(even, skew), encoding="utf-8")
    worst = scouted(path)["weighting"]
    if worst["consistency_ratio"] > 0.10:
        assert {worst["worst"]["first"], worst["worst"]["second"]} == {"access", "use"}
    else:
        assert worst["worst"] is None
    assert worst["weights"]["access"] > worst["weights"]["use"]


@pytest.mark.parametrize(
    ("text", "words"),
    [('"cover/use" = 2.0', ("weights.comparisons", "comparison is missing")),
     ('"cover use" = 2.0', ("weights.comparisons", "cover/use")),
     ('"cover/moon" = 2.0', ("weights.comparisons", "no such comparison"))],
)  # fmt: skip
def test_wrong_comparisons(
    tmp_path: Path, text: str, words: tuple[str, ...], capfd: pytest.CaptureFixture[str]
) -> None:
    path = ranch(tmp_path, rest=f"[weights.comparisons]\n{text}\n")
    assert main(["scout", str(path), "--no-sheets"]) == 2
    said = capfd.readouterr().err
    assert all(w in said for w in words) and "plan.toml" in said and "Traceback" not in said


def test_ranks_say_how_firm_they_are(tmp_path: Path) -> None:
    told = scouted(ranch(tmp_path))
    assert sum(s["top_rank_share"] for s in told["sites"]) == pytest.approx(1.0, abs=1e-3)
    for site in told["sites"]:
        held = site["standing"]
        assert held["low_rank"] <= held["high_rank"] and held["first_share"] >= site["top_rank_share"] - 1e-9
        assert held["label"].rstrip("=").isdigit()


def test_a_camera_package_that_is_none_and_one_far_away(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    path = ranch(tmp_path, LAYER)
    (tmp_path / "cameras").mkdir()
    assert main(["scout", str(path), "--no-sheets"]) == 2
    said = capfd.readouterr().err
    assert "cameras, layer cameras: there is no datapackage.json" in said and str(tmp_path) not in said.split("\n")[-2]
    cameras(tmp_path, {"far": (90_000.0, 90_000.0)}, [])
    told = scouted(path)
    assert "cameras" in told["missing_layers"] and told["evidence"]["cameras"] == []


def test_bait_places_against_the_published_spacing(tmp_path: Path) -> None:
    """Snow and VerCauteren (2019): 1 to 2 km. Two at 300 m feed the same animals."""
    u, v = tiny.A
    cameras(tmp_path, {"one": (u, v), "two": (u + 300.0, v)}, [("one", "2026-11-20", 5)])
    told = scouted(ranch(tmp_path, LAYER))
    bait = told["evidence"]["bait"]
    assert [p["state"] for p in bait["places"]] == ["too near", "too near"]
    assert bait["places"][0]["nearest_m"] == pytest.approx(300.0, abs=0.5)
