"""What a reader is: one plug-in that opens one family of file formats, and how the right one is chosen.

A reader is registered under the entry-point group `boscage.readers`; a built-in one is registered the same way as one
from outside. It only opens files: the CRS, units, required columns and doubts are dealt with by the rest of this room,
the same for every reader.
"""

from __future__ import annotations

import datetime as dt
import difflib
import os
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

import numpy as np
from numpy.typing import NDArray

from boscage.errors import LayerError
from boscage.model.layers import RASTER_LAYERS, LayerSpec
from boscage.values import Bounds, Grid

if TYPE_CHECKING:
    import geopandas


@dataclass(frozen=True, kw_only=True)
class Request:
    """What a reader is asked for.

    Attributes:
        layer: The plan's key, such as `tracks`.
        path: The file or folder, ready to open.
        spec: What the plan says of it; `spec.path` is the path as the user wrote it.
    """

    layer: str
    path: Path
    spec: LayerSpec

    @property
    def kind(self) -> str:
        """`raster` or `vector`."""
        return "raster" if self.layer in RASTER_LAYERS else "vector"

    def error(self, wrong: str, **facts: object) -> LayerError:
        """A `LayerError` that names this file and layer."""
        return LayerError(wrong, file=self.spec.path, layer=self.layer, **facts)  # type: ignore[arg-type]


@dataclass(frozen=True, kw_only=True)
class RawVector:
    """Features as the file holds them.

    Attributes:
        frame: GeoDataFrame in file order with the file's own column names and CRS (None where the file states none),
            and a column `row`: the row in the file, counted from 1.
        notes: Phrases about what was read, such as which layers inside the file.
        doubts: Sentences about what may be wrong with the file.
    """

    frame: geopandas.GeoDataFrame
    notes: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()


class RawRaster(Protocol):
    """A raster as the file holds it, open for reading piece by piece; numbers in the file's own unit."""

    @property
    def crs(self) -> str:
        """The file's horizontal CRS as text that pyproj reads."""
        ...

    @property
    def unit(self) -> str | None:
        """The unit that the file itself states, in the file's own words, or None."""
        ...

    @property
    def date(self) -> dt.date | None:
        """Day that the file states, or None."""
        ...

    @property
    def notes(self) -> tuple[str, ...]:
        """Phrases about what is read: size, tiles, bands left out."""
        ...

    def bounds(self, crs: str) -> Bounds:
        """The rectangle that holds the raster, in a projected CRS."""
        ...

    def cell_m(self, crs: str) -> float:
        """Side of a square as large as one cell, in a projected CRS in metres."""
        ...

    def read(self, grid: Grid, *, smooth: bool = False) -> NDArray[np.float32]:
        """Values on a grid: nearest cell, or bilinear with `smooth`; NaN where there are none."""
        ...


class Reader(Protocol):
    """One plug-in that opens one family of formats.

    Attributes:
        name: The word it is registered under.
        kinds: What it can give: `vector`, `raster` or both.
    """

    name: str
    kinds: tuple[str, ...]

    def claims(self, path: Path) -> bool:
        """Whether it opens such a file, judged by its name and, for a folder, by what is inside."""
        ...

    def read(self, request: Request) -> RawVector | RawRaster:
        """Open the file.

        Raises:
            LayerError: The file is broken, or holds none or several of what is asked for.
            CrsError: A raster states no CRS and neither does the plan.
        """
        ...


def choose_reader(readers: Sequence[Reader], request: Request) -> Reader:
    """The one reader that opens a file.

    Raises:
        LayerError: The file does not exist, no reader claims it, or more than one does.
    """
    check_exists(request)
    fitting = [r for r in readers if request.kind in r.kinds and r.claims(request.path)]
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        names = " and ".join(r.name for r in fitting)
        raise request.error(
            f"the readers {names} both claim this file", mend="uninstall the package that brings one of them"
        )
    what = "folder" if request.path.is_dir() else f"file with the ending {request.path.suffix or '(none)'}"
    expected = (
        "a GeoTIFF or another raster, a LAS or LAZ survey, or a folder of either"
        if request.kind == "raster"
        else "GeoPackage, Shapefile, GeoJSON, FlatGeobuf, KML, GPX or CSV"
    )
    raise request.error(f"no reader opens this {what} as {request.kind} data", expected=expected)


def check_exists(request: Request) -> None:
    """Refuse a path that is not there, naming the nearest that is.

    Raises:
        LayerError: There is no such file or folder.
    """
    if request.path.exists():
        return
    parent = request.path.parent
    names = [p.name for p in parent.iterdir()] if parent.is_dir() else []
    near = difflib.get_close_matches(request.path.name, names, n=1)
    mend = f"the nearest name there is {near[0]}" if near else "paths are relative to the plan file; check the name"
    raise request.error("there is no such file", mend=mend)


def plain_reason(error: Exception, request: Request) -> str:
    """The first sentence of a driver's own error, without the folder and without its path prefixes."""
    text = str(error).splitlines()[0] if str(error) else type(error).__name__
    text = re.sub(r"/vsi\w+/", "", text).replace(f"{request.path}", request.path.name)
    for folder in (request.path, request.path.parent):
        text = text.replace(f"{folder}{os.sep}", "")
    return text.split(". ")[0].rstrip(".")
