"""Writes the whole sample ranch. `build(target)` is the one entry."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
from scipy import ndimage

from generate import (
    cameras,
    fences,
    land,
    parcels,
    places,
    routes,
    season,
    sign,
    soils,
    stemlists,
    terrain,
    trees,
    water,
    writing,
)
from generate.frame import GRID, NOTE, Bools, Ints, burn, lonlat, rng
from generate.haunts import Haunts, block_mask
from generate.haunts import build as find_haunts

TEMPLATE = Path(__file__).with_name("plan_template.toml")


@dataclass(frozen=True, kw_only=True)
class Country:
    """The ground and all that is drawn on it."""

    terrain: terrain.Terrain
    water: water.Water
    land: land.Land
    parcels: gpd.GeoDataFrame
    ways: gpd.GeoDataFrame
    houses: gpd.GeoDataFrame
    no_go: gpd.GeoDataFrame
    soil_kind: Ints
    soils: gpd.GeoDataFrame
    haunts: Haunts


def country() -> Country:
    """Everything that is cheap to hold and needed by more than one file."""
    ground = terrain.build()
    wet = water.build(ground)
    cover = land.build(ground, wet)
    owned = parcels.build(wet.hollow)
    ways = routes.build(ground, wet)
    houses = places.dwellings(ways, ground)
    kind, units = soils.build(ground, cover)
    return Country(
        terrain=ground,
        water=wet,
        land=cover,
        parcels=owned,
        ways=ways,
        houses=houses,
        no_go=places.no_go(cover, owned),
        soil_kind=kind,
        soils=units,
        haunts=find_haunts(ground, wet, cover, owned, ways, houses),
    )


def _write_maps(target: Path, all_of: Country) -> None:
    """The vector layers and the terrain."""
    writing.raster(
        target / "terrain.tif",
        all_of.terrain.elevation_m.astype(np.float32),
        GRID,
        nodata=-9999.0,
        predictor=3,
        unit="m",
    )
    fenced = fences.build(all_of.parcels, all_of.ways, all_of.water.creeks)
    layers = (
        ("parcels.gpkg", "parcels", all_of.parcels),
        ("water.gpkg", "creeks", all_of.water.creeks),
        ("water.gpkg", "ponds", all_of.water.ponds),
        ("tracks.gpkg", "tracks", all_of.ways),
        ("tracks.gpkg", "gates", routes.gates(all_of.ways)),
        ("gates.gpkg", "gates", fences.gates(all_of.ways, fenced)),
        ("fences.gpkg", "fences", fenced),
        ("dwellings.gpkg", "dwellings", all_of.houses),
        ("power_lines.gpkg", "power_lines", places.power_lines()),
        ("no_go.gpkg", "no_go", all_of.no_go),
        ("soils.gpkg", "soils", all_of.soils),
        ("searched.gpkg", "searched", sign.walks(all_of.haunts, all_of.water)),
    )
    for file, name, table in layers:
        writing.layer(target / file, name, table)


def _write_trees(target: Path, all_of: Country) -> dict[str, pd.DataFrame]:
    """Canopy height, the stems behind it, and cover that agrees with both. Returns the stems by block."""
    cover = all_of.land.cover_pct + land.grain(all_of.land.cover_pct)
    stems = {}
    (target / "canopy_height").mkdir(exist_ok=True)
    for block in trees.BLOCKS:
        stems[block.name] = trees.stems(block, all_of.terrain, all_of.land)
        height = trees.measured(block, trees.canopy(block, stems[block.name]))
        writing.raster(
            target / "canopy_height" / f"{block.name}.tif",
            height,
            block.grid,
            nodata=trees.NODATA_DM,
            predictor=2,
            unit="dm",
        )
        seen = trees.cover_pct(height)
        error = rng(f"cover {block.name}").normal(0, 2.0, seen.shape)
        cover[block.row : block.row + block.rows, block.col : block.col + block.cols] = seen + error * (seen > 2)
    whole = np.round(np.clip(cover, 0, 100)).astype(np.uint8)
    whole[land.cloud()] = land.NODATA
    writing.raster(target / "canopy_cover.tif", whole, GRID, nodata=land.NODATA, predictor=2, unit="percent")
    writing.packed_table(target / "trees.csv.gz", pd.concat(stems.values(), ignore_index=True))
    return stems


def _stem_lists(all_of: Country, stems: dict[str, pd.DataFrame]) -> list[stemlists.StemList]:
    """One list by the creek and one on a bench, each near a fresh cluster."""
    low = all_of.terrain.slope < 0.085
    bench = (all_of.terrain.slope < 0.13) & (all_of.terrain.above_creek_m > 5)
    found = []
    wanted = (("creek", "upper_creek", "upper creek", low), ("bench", "south_hollow", "south hollow", bench))
    for name, block, haunt, fit in wanted:
        inner = block_mask(next(b for b in trees.BLOCKS if b.name == block), 4)
        at = stemlists.pivot(stems[block], all_of.haunts.fresh[haunt], fit & inner, rng(f"pivot {name}"))
        found.append(stemlists.measure(name, stems[block], at))
    return found


def _base(all_of: Country) -> tuple[float, float]:
    """Flat pasture near the ranch house, for the helicopter."""
    house = all_of.houses.geometry.iloc[0]
    east, north = GRID.centres()
    away = np.hypot(east - house.x, north - house.y)
    bare: Bools = ndimage.uniform_filter(all_of.land.cover_pct, 7) < 6
    fit = (away > 120) & (away < 700) & bare & (all_of.water.distance_m > 40)
    row, col = divmod(int(np.argmin(np.where(fit, ndimage.uniform_filter(all_of.terrain.slope, 5), np.inf))), GRID.cols)
    return float(east[row, col]), float(north[row, col])


def _set_places(all_of: Country, lists: list[stemlists.StemList]) -> dict[str, tuple[float, float]]:
    """Where the season's four sets stood."""
    cedar = all_of.haunts.fresh["cedar draws"]
    hollow = all_of.parcels[all_of.parcels["parcel"] == "Long Hollow"].geometry.iloc[0]
    inside = all_of.haunts.score * burn([hollow.buffer(-150)])
    row, col = divmod(int(np.argmax(inside)), GRID.cols)
    east, north = GRID.centres()
    return {
        "LH-1": (float(east[row, col]), float(north[row, col])),
        "SH-1": (lists[1].east_m, lists[1].north_m),
        "CD-1": (cedar[0] + 20, cedar[1] - 15),
        "UC-1": (lists[0].east_m, lists[0].north_m),
    }


def _write_tables(target: Path, all_of: Country, lists: list[stemlists.StemList]) -> None:
    """Everything that is a table."""
    granted = all_of.parcels[all_of.parcels["access"] == "granted"].geometry
    reach = routes.closeness(all_of.ways, list(granted))
    writing.table(target / "probes.csv", soils.probes(all_of.soil_kind, reach))
    writing.table(target / "sign.csv", sign.build(all_of.haunts, all_of.terrain, all_of.water, all_of.land))
    for found in lists:
        writing.table(target / f"stems_{found.name}.csv", found.table)
    writing.table(target / "stems_places.csv", stemlists.places(lists))
    writing.table(target / "log.csv", season.build(_set_places(all_of, lists)))
    writing.table(target / "transects.csv", season.transects())
    folder = target / "cameras"
    folder.mkdir(exist_ok=True)
    visits = cameras.events()
    writing.table(folder / "deployments.csv", cameras.deployments(all_of.haunts))
    writing.table(folder / "media.csv", cameras.media(visits))
    writing.table(folder / "observations.csv", cameras.observations(visits))
    writing.document(folder / "datapackage.json", cameras.package())


def build(target: Path) -> None:
    """Write the sample ranch into `target`, over whatever is there under the same names."""
    target.mkdir(parents=True, exist_ok=True)
    for old in target.glob("*.gpkg"):
        old.unlink()
    all_of = country()
    _write_maps(target, all_of)
    lists = _stem_lists(all_of, _write_trees(target, all_of))
    _write_tables(target, all_of, lists)
    lon, lat = lonlat(*_base(all_of))
    stem_lon, stem_lat = lists[0].lonlat
    places = {"@LON@": f"{lon:.5f}", "@LAT@": f"{lat:.5f}"}
    places |= {"@STEM_LON@": f"{stem_lon:.7f}", "@STEM_LAT@": f"{stem_lat:.7f}"}
    plan = TEMPLATE.read_text(encoding="utf-8")
    for mark, text in places.items():
        plan = plan.replace(mark, text)
    (target / "plan.toml").write_text(plan, encoding="utf-8", newline="\n")
    (target / "DATA_IS_INVENTED.txt").write_text(f"{NOTE}\n", encoding="utf-8", newline="\n")
