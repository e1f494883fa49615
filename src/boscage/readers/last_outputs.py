"""Layers that earlier runs left in the output folder, for passing on."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
from pyogrio.errors import DataSourceError

from boscage.errors import InputError


def read_made_layers(path: Path) -> dict[str, gpd.GeoDataFrame]:
    """Every layer of a GeoPackage of ours by name; none where the file is not there.

    Raises:
        InputError: The file is there and cannot be read.
    """
    if not path.is_file():
        return {}
    try:
        return {str(name): gpd.read_file(path, layer=str(name)) for name, _ in pyogrio.list_layers(path)}
    except DataSourceError as error:
        raise InputError(
            "it cannot be read", expected="the GeoPackage of an earlier run", mend="run that command again",
            file=str(path),
        ) from error  # fmt: skip


def read_made_table(path: Path) -> dict[str, Any]:
    """A JSON output of an earlier run; empty where it is not there or not ours."""
    try:
        table = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return {}
    return table if isinstance(table, dict) else {}
