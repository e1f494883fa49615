"""Files written the same on every run: no clock, no machine, fixed compression."""

from __future__ import annotations

import gzip
import json
from pathlib import Path

import geopandas as gpd
import numpy as np
import pandas as pd
import pyogrio
import rasterio

from generate.frame import CRS, FIXED_TIME, NOTE, Grid


def layer(path: Path, name: str, table: gpd.GeoDataFrame) -> None:
    """One GeoPackage layer; the file may already hold others. Times inside are fixed."""
    pyogrio.set_gdal_config_options({"OGR_CURRENT_DATE": FIXED_TIME})
    pyogrio.write_dataframe(
        table, path, layer=name, driver="GPKG", append=path.exists(), layer_options={"DESCRIPTION": NOTE}
    )


def raster(path: Path, values: np.ndarray, grid: Grid, *, nodata: float | None, predictor: int, unit: str) -> None:
    """One-band GeoTIFF, tiled and deflated, without a date."""
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=grid.cols,
        height=grid.rows,
        count=1,
        dtype=values.dtype,
        crs=CRS,
        transform=grid.transform,
        nodata=nodata,
        tiled=True,
        blockxsize=256,
        blockysize=256,
        compress="deflate",
        zlevel=9,
        predictor=predictor,
    ) as file:
        file.write(values, 1)
        file.update_tags(NOTE=NOTE)
        file.set_band_unit(1, unit)


def table(path: Path, rows: pd.DataFrame) -> None:
    """CSV in UTF-8 with plain line ends."""
    path.write_text(rows.to_csv(index=False, lineterminator="\n"), encoding="utf-8", newline="\n")


def packed_table(path: Path, rows: pd.DataFrame) -> None:
    """CSV in gzip with neither a name nor a date inside."""
    text = rows.to_csv(index=False, lineterminator="\n").encode()
    with (
        path.open("wb") as raw,
        gzip.GzipFile(filename="", mode="wb", fileobj=raw, compresslevel=9, mtime=0) as file,
    ):
        file.write(text)


def document(path: Path, content: dict) -> None:
    """JSON, two spaces deep."""
    path.write_text(json.dumps(content, indent=2) + "\n", encoding="utf-8", newline="\n")
