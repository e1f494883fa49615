"""Rasters: any format that GDAL opens, as one file or as a folder of tiles."""

from __future__ import annotations

import datetime as dt
import math
import warnings
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import rasterio
import shapely
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS
from rasterio.enums import MaskFlags
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.windows import Window

from boscage.readers.columns import listed
from boscage.readers.crs import crs_name, crs_text, flat, settle_crs
from boscage.readers.lattice import Floats, Lattice, alike, at, lattice_bounds, lattice_cell_m, read_grid, whole
from boscage.readers.protocol import RawRaster, Request, plain_reason
from boscage.values import Bounds, Grid

SUFFIXES = frozenset(
    {".tif", ".tiff", ".img", ".vrt", ".asc", ".jp2", ".bil", ".flt", ".dem", ".hgt", ".gpkg", ".sdat", ".grd"}
)
ABSURD = 1e30
CHUNK_CELLS = 4_000_000
CACHE_BYTES = 128 * 2**20


class RasterReader:
    """Opens rasters through GDAL."""

    name = "raster"
    kinds = ("raster",)

    def claims(self, path: Path) -> bool:
        """Whether the file's ending is one of a raster format, or the folder holds such files."""
        return bool(_tiles(path)) if path.is_dir() else path.suffix.lower() in SUFFIXES

    def read(self, request: Request) -> RawRaster:
        """Open a file, or a folder of tiles as one raster; nothing but its description is read yet.

        Raises:
            LayerError: A file cannot be opened, or the tiles do not fit together.
            CrsError: Neither the file nor the plan states the CRS.
        """
        if not request.path.is_dir():
            first = _open_file(request.path, request)
            return LatticeRaster(lattice=first, crs=first.crs, unit=first.unit, date=first.date, notes=first.notes)
        files = [_open_file(path, request) for path in _tiles(request.path)]
        mosaic = Mosaic(files, request)
        first = mosaic.finest
        dates = [f.date for f in files if f.date is not None]
        notes = (f"{len(files)} tiles", *first.notes)
        units = {f.unit for f in files}
        if len(units) > 1:
            raise request.error(f"the tiles state different units: {listed(sorted(map(str, units)))}")
        return LatticeRaster(lattice=mosaic, crs=first.crs, unit=first.unit, date=min(dates, default=None), notes=notes)


@dataclass(frozen=True, kw_only=True)
class LatticeRaster:
    """A raster of this room behind the protocol that every reader keeps."""

    lattice: Lattice
    crs: str
    unit: str | None
    date: dt.date | None
    notes: tuple[str, ...]

    def bounds(self, crs: str) -> Bounds:
        """The rectangle that holds the raster, in a projected CRS."""
        return lattice_bounds(self.lattice, crs)

    def cell_m(self, crs: str) -> float:
        """Side of a square as large as one cell, in a projected CRS in metres."""
        return lattice_cell_m(self.lattice, crs)

    def read(self, grid: Grid, *, smooth: bool = False) -> NDArray[np.float32]:
        """Values on a grid in the file's unit; NaN where there are none."""
        return read_grid(self.lattice, grid, smooth=smooth)


@dataclass(frozen=True, kw_only=True)
class RasterFile:
    """Band 1 of one raster file."""

    path: Path
    request: Request
    crs: str
    transform: Affine
    shape: tuple[int, int]
    unit: str | None
    date: dt.date | None
    notes: tuple[str, ...]

    def sample(self, rows: Floats, cols: Floats) -> NDArray[np.float32]:
        """Values of the cells that hold the pixel coordinates; NaN off the raster. See `Lattice`.

        Raises:
            LayerError: The file is damaged or gone.
        """
        out = np.full((len(rows), len(cols)), np.nan, dtype=np.float32)
        in_rows, in_cols = _inside(rows, self.shape[0]), _inside(cols, self.shape[1])
        if in_rows.start == in_rows.stop or in_cols.start == in_cols.stop:
            return out
        rows, cols = rows[in_rows], cols[in_cols]
        inner = out[in_rows, in_cols]
        try:
            with _opened(self.path) as file:
                step = max(1, CHUNK_CELLS // len(cols))
                for start in range(0, len(rows), step):
                    _fill(file, rows[start : start + step], cols, inner[start : start + step])
        except (RasterioError, OSError) as error:
            raise self.request.error(
                f"{_inside_of(self.path, self.request)} is damaged ({plain_reason(error, self.request)})",
                mend="copy it again from where it came from",
            ) from error
        return out


def _inside(pixels: Floats, size: int) -> slice:
    """The stretch of evenly rising or falling pixel coordinates that lies on the raster."""
    held = np.flatnonzero((whole(pixels) >= 0) & (whole(pixels) < size))
    return slice(int(held[0]), int(held[-1]) + 1) if held.size else slice(0, 0)


def _step(pixels: Floats) -> int:
    """Whole number of cells between neighbouring places, at least 1."""
    return max(1, int(abs(pixels[1] - pixels[0]) + 1e-6)) if len(pixels) > 1 else 1


def _fill(file: rasterio.DatasetReader, rows: Floats, cols: Floats, out: NDArray[np.float32]) -> None:
    """Read the window that covers the places, thinned where they are far apart, and take their cells."""
    r, c = whole(rows), whole(cols)
    r0, r1, c0, c1 = int(r.min()), int(r.max()) + 1, int(c.min()), int(c.max()) + 1
    thin_r, thin_c = _step(rows), _step(cols)
    if thin_r == 1 and thin_c == 1:
        values = _values(file, Window(c0, r0, c1 - c0, r1 - r0), None)
        plain = len(r) == r1 - r0 and len(c) == c1 - c0 and r[0] == r0 and c[0] == c0
        out[:] = values if plain else values[np.ix_(r - r0, c - c0)]
        return
    r0, c0 = max(0, r0 - thin_r // 2), max(0, c0 - thin_c // 2)
    r1, c1 = min(file.height, r0 + _up(r1 - r0, thin_r)), min(file.width, c0 + _up(c1 - c0, thin_c))
    shape = (math.ceil((r1 - r0) / thin_r), math.ceil((c1 - c0) / thin_c))
    values = _values(file, Window(c0, r0, c1 - c0, r1 - r0), shape)
    i = np.minimum((r - r0) * shape[0] // (r1 - r0), shape[0] - 1)
    j = np.minimum((c - c0) * shape[1] // (c1 - c0), shape[1] - 1)
    out[:] = values[np.ix_(i, j)]


def _up(number: int, step: int) -> int:
    return math.ceil(number / step) * step


def _values(file: rasterio.DatasetReader, window: Window, shape: tuple[int, int] | None) -> NDArray[np.float32]:
    """Numbers of a window as float32 with scale and offset applied; NaN for no data, masked, infinite or absurd."""
    extra = {} if shape is None else {"out_shape": shape}
    raw = file.read(1, window=window, **extra)
    flags = file.mask_flag_enums[0]
    bad = None
    if MaskFlags.nodata in flags and file.nodata is not None:
        bad = _equal(raw, file.nodata)
    elif MaskFlags.all_valid not in flags:
        bad = file.read_masks(1, window=window, **extra) == 0
    scale, offset = file.scales[0], file.offsets[0]
    if (scale, offset) != (1.0, 0.0):
        raw = raw * scale + offset
    if raw.dtype.kind == "f":
        top, bottom = np.fmax.reduce(raw, axis=None), np.fmin.reduce(raw, axis=None)
        if top > ABSURD or bottom < -ABSURD:
            raw = np.where(np.abs(raw) > ABSURD, np.nan, raw)
    values = raw.astype(np.float32, copy=False)
    if bad is not None and bad.any():
        values[bad] = np.nan
    return values


def _equal(raw: NDArray, number: float) -> NDArray[np.bool_] | None:
    """Where the cells hold a number; None where no cell of their type can. The number itself is never wrapped round."""
    if math.isnan(number):
        return None
    if raw.dtype.kind == "f":
        with np.errstate(over="ignore"):
            return raw == np.asarray(number).astype(raw.dtype)
    return raw == int(number) if float(number).is_integer() else None


class Mosaic:
    """Tiles read as one raster: laid out as the finest tile is, gaps are no data, the first valid cell wins.

    The order is that of the file names.

    Raises:
        LayerError: The tiles are in different systems, or one is not north up.
    """

    def __init__(self, files: Sequence[RasterFile], request: Request) -> None:
        self.files = tuple(files)
        self.finest = min(files, key=lambda f: abs(f.transform.determinant))
        for file in self.files:
            self._check(file, request)
        boxes = np.array([self._box(file) for file in self.files])
        self._tree = shapely.STRtree(shapely.box(boxes[:, 1], boxes[:, 0], boxes[:, 3], boxes[:, 2]))
        row, col = (math.floor(v + 1e-3) for v in boxes.min(axis=0)[:2])
        last_row, last_col = (math.ceil(v - 1e-3) for v in boxes.max(axis=0)[2:])
        self._origin = (row, col)
        self.shape = (last_row - row, last_col - col)
        t = self.finest.transform
        west, north = at(t, col, row)
        self.transform = Affine(t.a, 0.0, west, 0.0, t.e, north)
        self.crs = self.finest.crs

    def _check(self, file: RasterFile, request: Request) -> None:
        if not alike(file.crs, self.finest.crs):
            raise request.error(
                f"the tile {file.path.name} is in {crs_name(file.crs)} and {self.finest.path.name} in "
                f"{crs_name(self.finest.crs)}", mend="bring all tiles into one CRS",
            )  # fmt: skip
        if file.transform.b or file.transform.d or file.transform.a <= 0 or file.transform.e >= 0:
            raise request.error(
                f"the tile {file.path.name} is not north up", mend="make one file of the tiles, north up"
            )

    def _box(self, file: RasterFile) -> tuple[float, float, float, float]:
        """First row, first col, last row, last col of a tile in pixel coordinates of the finest tile."""
        inverse = ~self.finest.transform
        c0, r0 = at(inverse, *at(file.transform, 0, 0))
        c1, r1 = at(inverse, *at(file.transform, file.shape[1], file.shape[0]))
        return r0, c0, r1, c1

    def sample(self, rows: Floats, cols: Floats) -> NDArray[np.float32]:
        """Values of the cells that hold the pixel coordinates; NaN off the tiles. See `Lattice`."""
        out = np.full((len(rows), len(cols)), np.nan, dtype=np.float32)
        r, c = rows + self._origin[0], cols + self._origin[1]
        asked = shapely.box(c.min(), r.min(), c.max(), r.max())
        for index in sorted(self._tree.query(asked)):
            file = self.files[index]
            t, own = self.finest.transform, ~file.transform
            own_r, own_c = (r * t.e + t.f) * own.e + own.f, (c * t.a + t.c) * own.a + own.c
            in_r, in_c = _inside(own_r, file.shape[0]), _inside(own_c, file.shape[1])
            if in_r.start == in_r.stop or in_c.start == in_c.stop:
                continue
            target = out[in_r, in_c]
            values = file.sample(own_r[in_r], own_c[in_c])
            np.copyto(target, values, where=np.isnan(target))
        return out


def _tiles(folder: Path) -> list[Path]:
    """The raster files of a folder in the order of their names."""
    return sorted(p for p in folder.iterdir() if p.is_file() and p.suffix.lower() in SUFFIXES)


@contextmanager
def _opened(path: Path) -> Iterator[rasterio.DatasetReader]:
    """An open file, with a block cache of bounded size.

    The library's warning about files without georeference is kept back: the error says it in our words.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.Env(GDAL_CACHEMAX=CACHE_BYTES), rasterio.open(path) as file:
            yield file


def _inside_of(path: Path, request: Request) -> str:
    """How to name a file that may be one tile of a folder."""
    return f"the tile {path.name}" if path != request.path else "the file"


def _open_file(path: Path, request: Request) -> RasterFile:
    inside = _inside_of(path, request)
    try:
        with _opened(path) as file:
            return _describe(file, path, request, inside)
    except (RasterioError, OSError) as error:
        reason = plain_reason(error, request)
        mend = "open it in a GIS program and save it again as GeoTIFF"
        raise request.error(f"{inside} cannot be opened ({reason})", mend=mend) from error


def _describe(file: rasterio.DatasetReader, path: Path, request: Request, inside: str) -> RasterFile:
    if file.count < 1 or file.transform.is_identity:
        raise request.error(
            f"{inside} has no place on the ground" if file.count else f"{inside} holds no band",
            expected="a georeferenced raster", mend="bring its .tfw file along or save it again with georeference",
        )  # fmt: skip
    found = None if file.crs is None else CRS.from_user_input(file.crs.to_wkt())
    unit = (file.units[0] or "").strip() or _height_unit(found)
    notes = [f"{file.height:,} x {file.width:,} cells"]
    alpha = sum(i.name == "alpha" for i in file.colorinterp)
    if file.count - alpha > 1:
        notes.append(f"band 1 of {file.count - alpha}")
    return RasterFile(
        path=path, request=request, crs=crs_text(settle_crs(found, request)), transform=file.transform,
        shape=file.shape, unit=unit or None, date=_date(file.tags().get("TIFFTAG_DATETIME", "")), notes=tuple(notes),
    )  # fmt: skip


def _height_unit(crs: CRS | None) -> str:
    """The unit of the heights in a compound CRS, or ''."""
    if crs is None or not crs.is_compound:
        return ""
    parts: Iterable[CRS] = [c for c in crs.sub_crs_list if c.is_vertical and c != flat(crs)]
    return next((a.unit_name for c in parts for a in c.axis_info), "")


def _date(text: str) -> dt.date | None:
    """The day of a TIFF date such as `2026:03:01 12:00:00`."""
    try:
        return dt.datetime.strptime(text[:10].replace("-", ":"), "%Y:%m:%d").date()
    except ValueError:
        return None
