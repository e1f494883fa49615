"""Sign, the season's log and the plan of the sample ranch, and whether there is anything to choose from."""

from __future__ import annotations

import re
import tomllib
from datetime import date

import geopandas as gpd
import numpy as np
import pandas as pd
from generate import season
from rasterio.features import rasterize
from scipy import ndimage
from shapely.geometry import Point

PLAN_DATE = date(2026, 11, 21)
KINDS = {"rooting", "wallow", "rub", "trail", "track", "scat", "bed"}
EVENTS = {"prebait", "open", "armed", "capture", "check", "nontarget", "pulled"}
CLASSES = ["boar", "sow", "yearling", "piglet"]


def _age_days(table):
    return (pd.Timestamp(PLAN_DATE) - pd.to_datetime(table["date"])).dt.days


def test_sign_is_dated_and_of_known_kinds(ranch):
    sign = ranch.points("sign.csv")
    age = _age_days(sign)
    assert len(sign) == 150
    assert set(sign["kind"]) == KINDS
    assert set(sign["observer"]) <= {"op 1", "op 2"}
    assert age.min() >= 0
    assert (age <= 6).sum() >= 60
    assert age.between(60, 200).sum() >= 50


def test_sign_lies_on_fit_ground(ranch):
    sign = ranch.points("sign.csv")
    water = pd.concat([ranch.layer("water.gpkg", n) for n in ("creeks", "ponds")]).union_all()
    cover, transform, _ = ranch.raster("canopy_cover.tif")
    mean = ndimage.uniform_filter(cover.astype(float), 5)
    row = ((transform.f - sign.geometry.y) // 10).astype(int)
    col = ((sign.geometry.x - transform.c) // 10).astype(int)
    assert (sign[sign["kind"] == "wallow"].distance(water) < 25).all()
    bed = (sign["kind"] == "bed").to_numpy()
    assert mean[row[bed], col[bed]].min() > 50
    fresh, old = (_age_days(sign) <= 6).to_numpy(), (_age_days(sign) >= 60).to_numpy()
    assert np.median(mean[row[fresh], col[fresh]]) > np.median(mean[row[old], col[old]]) + 15
    assert sign.distance(water)[fresh].median() < sign.distance(water)[old].median()


def test_fresh_sign_is_clustered_and_some_is_on_refused_land(ranch, parcels):
    sign = ranch.points("sign.csv")
    fresh = sign[_age_days(sign) <= 6]
    patches = gpd.GeoSeries([fresh.buffer(150).union_all()]).explode()
    assert 3 <= sum(fresh.within(p).sum() >= 10 for p in patches) <= 6
    refused = parcels[parcels["access"] == "refused"].union_all()
    assert 4 <= fresh.within(refused.buffer(60)).sum() <= 20


def _good_places(ranch, inside, apart_m=300.0):
    """Cover, water near, gentle ground, no road or house near; greedy. Common practice, no source."""
    cover, transform, source = ranch.raster("canopy_cover.tif")
    height = ranch.raster("terrain.tif")[0]

    def away(shapes):
        mask = rasterize(list(shapes), source.shape, transform=transform, all_touched=True)
        return ndimage.distance_transform_edt(mask == 0) * 10

    ways = ranch.layer("tracks.gpkg", "tracks")
    water = pd.concat([ranch.layer("water.gpkg", n) for n in ("creeks", "ponds")])
    slope = np.hypot(*np.gradient(height, 10.0))
    mean = np.where(cover == 255, 0, ndimage.uniform_filter(cover.astype(float), 7))
    land = rasterize([inside], source.shape, transform=transform).astype(bool)
    no_go = rasterize(list(ranch.layer("no_go.gpkg").geometry), source.shape, transform=transform)
    fit = land & (no_go == 0) & (mean > 60) & (ndimage.uniform_filter(slope, 3) < 0.10)
    fit &= (away(water.geometry) < 300) & (away(ways[ways["public"] == 1].geometry) > 300)
    fit &= away(ranch.layer("dwellings.gpkg").geometry) > 402  # a quarter of a mile
    found = []
    for row, col in np.argwhere(fit[::3, ::3]) * 3:
        if all(np.hypot(row - r, col - c) * 10 >= apart_m for r, c in found):
            found.append((row, col))
    return [Point(transform.c + (c + 0.5) * 10, transform.f - (r + 0.5) * 10) for r, c in found]


def test_there_are_many_good_places_and_some_conflicts(ranch, parcels, granted):
    assert len(_good_places(ranch, granted)) >= 24
    refused = parcels[parcels["access"] == "refused"].union_all()
    assert len(_good_places(ranch, refused)) >= 1
    wire = ranch.layer("power_lines.gpkg").union_all().buffer(90)
    assert len(_good_places(ranch, granted.intersection(wire))) >= 1


def test_log_tells_a_season_that_can_have_happened(ranch, granted):
    log = ranch.table("log.csv")
    columns = ["date", "site", "event", *CLASSES, "group", "hours", "note", *season.MORE, "lon", "lat"]
    assert list(log.columns) == columns
    assert 60 <= len(log) <= 90
    assert set(log["event"]) <= EVENTS
    assert log["date"].between("2026-09-01", "2026-11-20").all()
    assert 3 <= log["site"].nunique() <= 4
    for _, rows in log.groupby("site"):
        assert rows["event"].iloc[0] == "prebait"
        assert (rows["lon"] != "").sum() == 1
        state = ""
        for row in rows.itertuples():
            if row.event in ("capture", "nontarget"):
                assert state == "armed"
            if row.event in ("prebait", "open", "armed", "pulled"):
                assert not (row.event == "armed" and state != "open")
                state = row.event
    assert ranch.points("log.csv").within(granted).all()


def test_log_counts_stand_on_captures_only(ranch):
    log = ranch.table("log.csv")
    caught = log[log["event"] == "capture"]
    assert (log.loc[log["event"] != "capture", CLASSES] == "").all(axis=None)
    assert caught[CLASSES].astype(int).sum().to_dict() == {"boar": 1, "sow": 5, "yearling": 4, "piglet": 9}
    assert (log["hours"].astype(float) > 0).all()


def test_transects_are_the_same_lines_twice_and_less_is_rooted_after(ranch):
    table = ranch.table("transects.csv")
    assert table.equals(season.transects()) and (table["damaged_ft"] <= table["surveyed_ft"]).all()
    before, after = (table[table["survey"] == s].set_index("transect") for s in ("before", "after"))
    assert before["surveyed_ft"].equals(after["surveyed_ft"]) and len(before) == 8
    assert after["damaged_ft"].sum() < 0.4 * before["damaged_ft"].sum()


def test_generator_makes_the_shipped_log(ranch):
    places = {p.site: (p.geometry.x, p.geometry.y) for p in ranch.points("log.csv").itertuples()}
    made = season.build(places).drop(columns=["lon", "lat"]).to_csv(index=False)
    shipped = ranch.table("log.csv", dtype=str).drop(columns=["lon", "lat"]).to_csv(index=False)
    assert made == shipped


def test_plan_names_files_that_exist(ranch):
    plan = tomllib.loads((ranch.folder / "plan.toml").read_text(encoding="utf-8"))
    assert plan["ranch"]["date"] == PLAN_DATE and plan["ranch"]["units"] == "us"
    assert len(plan["layers"]) == 18
    for entry in plan["layers"].values():
        path = entry if isinstance(entry, str) else entry["path"]
        assert (ranch.folder / path).exists(), path
    assert plan["net"] == {"perimeter": "60ft", "height": "5ft", "mass": "50lb"}
    assert plan["sites"] == {"count": 12, "spacing": "300m"}


def test_base_is_open_level_granted_ground(ranch, granted):
    lon, lat = tomllib.loads((ranch.folder / "plan.toml").read_text(encoding="utf-8"))["drop"]["base"]
    place = gpd.GeoSeries([Point(lon, lat)], crs="EPSG:4326").to_crs("EPSG:32615").iloc[0]
    cover, transform, _ = ranch.raster("canopy_cover.tif")
    height = ranch.raster("terrain.tif")[0]
    row, col = int((transform.f - place.y) // 10), int((place.x - transform.c) // 10)
    assert granted.contains(place)
    assert cover[row - 2 : row + 3, col - 2 : col + 3].max() < 20
    assert np.ptp(height[row - 2 : row + 3, col - 2 : col + 3]) < 3


def test_sample_is_small_and_says_it_is_invented(ranch):
    files = [p for p in ranch.folder.rglob("*") if p.is_file() and "__pycache__" not in p.parts]
    assert sum(p.stat().st_size for p in files) < 15_000_000
    assert "Invented" in (ranch.folder / "DATA_IS_INVENTED.txt").read_text(encoding="utf-8")
    assert "invented" in (ranch.folder / "README.md").read_text(encoding="utf-8").lower()
    for file in ("terrain.tif", "canopy_cover.tif"):
        assert "Invented" in ranch.raster(file)[2].note
    text = " ".join(p.read_text(encoding="utf-8") for p in files if p.suffix in (".csv", ".toml", ".json", ".md"))
    assert not re.search(r"\b(safe|clear)\b", text, flags=re.IGNORECASE)
