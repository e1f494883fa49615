"""The shipped sample ranch, read once, and its generator on the path."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pytest
import rasterio

SAMPLE = Path(__file__).resolve().parents[3] / "sample_data"
if str(SAMPLE) not in sys.path:
    sys.path.insert(0, str(SAMPLE))


@dataclass(frozen=True, kw_only=True)
class Facts:
    """What a raster's file says of itself."""

    crs: object
    nodata: float
    shape: tuple[int, int]
    bounds: object
    units: tuple[str, ...]
    note: str


class Ranch:
    """Reads the sample's files as anybody would."""

    folder = SAMPLE

    def layer(self, file: str, name: str | None = None) -> gpd.GeoDataFrame:
        return gpd.read_file(self.folder / file, layer=name)

    def raster(self, file: str):
        with rasterio.open(self.folder / file) as source:
            facts = Facts(
                crs=source.crs,
                nodata=source.nodata,
                shape=source.shape,
                bounds=source.bounds,
                units=source.units,
                note=source.tags().get("NOTE", ""),
            )
            return source.read(1), source.transform, facts

    def table(self, file: str, **options) -> pd.DataFrame:
        return pd.read_csv(self.folder / file, keep_default_na=False, **options)

    def points(self, file: str, lon: str = "lon", lat: str = "lat") -> gpd.GeoDataFrame:
        table = self.table(file)
        table = table[table[lon] != ""]
        places = gpd.points_from_xy(table[lon].astype(float), table[lat].astype(float), crs="EPSG:4326")
        return gpd.GeoDataFrame(table, geometry=places).to_crs("EPSG:32615")


@pytest.fixture(scope="session")
def ranch() -> Ranch:
    return Ranch()


@pytest.fixture(scope="session")
def parcels(ranch: Ranch) -> gpd.GeoDataFrame:
    return ranch.layer("parcels.gpkg")


@pytest.fixture(scope="session")
def granted(parcels: gpd.GeoDataFrame):
    return parcels[parcels["access"] == "granted"].union_all()


@pytest.fixture(scope="session")
def trees(ranch: Ranch) -> pd.DataFrame:
    return ranch.table("trees.csv.gz")
