"""Lidar surveys (LAS, LAZ): read piece by piece, and made into canopy heights or ground as one more raster."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS

from boscage.errors import CrsError, InputError
from boscage.readers.canopy_model import Returns, canopy_heights, ground_surface
from boscage.readers.columns import listed
from boscage.readers.crs import crs_name, crs_text, flat, same_crs, settle_crs
from boscage.readers.lattice import Floats, whole
from boscage.readers.protocol import RawRaster, Request, plain_reason
from boscage.readers.raster import SUFFIXES as RASTER_SUFFIXES
from boscage.readers.raster import LatticeRaster
from boscage.readers.raster_layer import HEIGHT_UNITS, OWN_WORDS

if TYPE_CHECKING:
    import laspy

SUFFIXES = frozenset({".las", ".laz"})
CHUNK_POINTS = 1_000_000
CELL_M, FINE_CELL_M, FINE_PER_M2 = 1.0, 0.5, 8.0
LEAST_PER_M2 = 0.5
MOST_CELLS = 150_000_000
UNIT_CODES = {9001: "m", 9002: "ft", 9003: "us-ft"}
VERTICAL_KEY = 4099  # VerticalUnitsGeoKey of the GeoTIFF specification
GPS_START = dt.datetime(1980, 1, 6)
GPS_SHIFT_S = 1e9  # the LAS standard counts adjusted GPS seconds from a thousand million on


class PointCloudReader:
    """Opens lidar surveys as canopy heights (layer `canopy_height`) or ground (layer `terrain`)."""

    name = "point_cloud"
    kinds = ("raster",)

    def claims(self, path: Path) -> bool:
        """Whether the file is LAS or LAZ, or the folder holds such files and no rasters."""
        if not path.is_dir():
            return path.suffix.lower() in SUFFIXES
        endings = {p.suffix.lower() for p in path.iterdir() if p.is_file()}
        return bool(endings & SUFFIXES) and not endings & RASTER_SUFFIXES

    def read(self, request: Request) -> RawRaster:
        """Read all returns and make the raster; it is held in memory, the returns are not.

        Cells are 1 m, or 0.5 m where there are 8 returns or more on a square metre. Values are in the survey's own
        unit of height, which is that of its coordinates where it states none.

        Raises:
            LayerError: The package that reads such files is missing, a file is broken or too sparse, or the layer is
                none that a survey gives.
            CrsError: The CRS is stated nowhere, or counts in degrees.
        """
        if request.layer not in ("canopy_height", "terrain"):
            raise request.error(
                "a lidar survey gives no cover", expected="a raster of canopy cover",
                mend="name the survey as canopy_height; cover is then counted from it",
            )  # fmt: skip
        survey = _Survey.open(request)
        returns = survey.grid()
        for piece in survey.pieces():
            returns.add(*piece)
        if returns.per_m2() < LEAST_PER_M2:
            raise request.error(
                f"the survey is too sparse: {returns.per_m2():.2g} returns on a square metre "
                f"({returns.counts['kept']:,} in all)",
                expected=f"at least {LEAST_PER_M2:g}", mend="use the full survey, or a raster of canopy heights",
            )  # fmt: skip
        ground, how = ground_surface(returns)
        values = ground if request.layer == "terrain" else canopy_heights(returns, ground)
        left = returns.counts["left out"]
        notes = (
            f"{returns.counts['kept']:,} returns, {returns.per_m2():.1f} on a square metre", how,
            *([f"{left:,} returns left out (noise, withheld, classes of the survey's own)"] if left else []),
            *survey.notes,
        )  # fmt: skip
        lattice = ArrayLattice(
            crs=crs_text(survey.crs), values=values / np.float32(HEIGHT_UNITS[survey.unit]),
            transform=Affine(returns.cell, 0.0, returns.west, 0.0, -returns.cell, returns.north),
        )  # fmt: skip
        return LatticeRaster(lattice=lattice, crs=lattice.crs, unit=survey.unit, date=survey.date, notes=notes)


@dataclass(frozen=True, kw_only=True)
class ArrayLattice:
    """Cells held in memory; see `Lattice`."""

    crs: str
    transform: Affine
    values: NDArray[np.float32]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.values.shape  # type: ignore[return-value]

    def sample(self, rows: Floats, cols: Floats) -> NDArray[np.float32]:
        """Values of the cells that hold the pixel coordinates; NaN off the raster."""
        out = np.full((len(rows), len(cols)), np.nan, dtype=np.float32)
        r, c = whole(rows), whole(cols)
        in_rows = np.flatnonzero((r >= 0) & (r < self.shape[0]))
        in_cols = np.flatnonzero((c >= 0) & (c < self.shape[1]))
        out[np.ix_(in_rows, in_cols)] = self.values[np.ix_(r[in_rows], c[in_cols])]
        return out


@dataclass(frozen=True, kw_only=True)
class _Survey:
    """One or more files of one survey, described but not read.

    Attributes:
        request: What was asked for.
        paths: The files.
        crs: Horizontal CRS.
        metres: Metres in one unit of its coordinates.
        unit: Unit of the heights: m, ft or us-ft.
        box: Least x, least y, greatest x, greatest y.
        points: Returns in all.
        date: Day of the first return, where the times tell it.
        notes: Phrases on what was assumed.
    """

    request: Request
    paths: tuple[Path, ...]
    crs: CRS
    metres: float
    unit: str
    box: tuple[float, float, float, float]
    points: int
    date: dt.date | None
    notes: tuple[str, ...]

    @classmethod
    def open(cls, request: Request) -> _Survey:
        """Read the headers."""
        paths = _files(request.path)
        headers = [_header(path, request) for path in paths]
        found = [_crs_of(header) for header in headers]
        crs = _one_crs(found, paths, request)
        points = sum(header.point_count for header in headers)
        if points == 0:
            raise request.error("the survey holds no returns", mend="name the right file")
        held = [header for header in headers if header.point_count]
        low = np.min([header.mins for header in held], axis=0)
        high = np.max([header.maxs for header in held], axis=0)
        unit, said = _unit(headers[0], found[0], crs, request)
        return cls(
            request=request, paths=paths, crs=crs, metres=crs.axis_info[0].unit_conversion_factor, unit=unit,
            box=(float(low[0]), float(low[1]), float(high[0]), float(high[1])), points=points,
            date=_day(paths[0], headers[0], request),
            notes=(said, f"{len(paths)} files") if len(paths) > 1 else (said,),
        )  # fmt: skip

    def grid(self) -> Returns:
        """An empty grid over the survey, its edges at whole cells."""
        west, south, east, north = self.box
        area_m2 = max(1.0, (east - west) * (north - south) * self.metres**2)
        fine = self.points / area_m2 >= FINE_PER_M2 and area_m2 / FINE_CELL_M**2 <= MOST_CELLS
        cell_m = FINE_CELL_M if fine else CELL_M
        cell = cell_m / self.metres
        west, north = math.floor(west / cell) * cell, (math.floor(north / cell) + 1) * cell
        shape = (max(1, math.ceil((north - south) / cell + 1e-9)), math.floor((east - west) / cell) + 1)
        if shape[0] * shape[1] > MOST_CELLS:
            raise self.request.error(
                f"the survey spans {area_m2 / 1e6:,.0f} square kilometres", expected=f"at most {MOST_CELLS / 1e6:.0f}",
                mend="name a folder with the files of the ranch alone",
            )  # fmt: skip
        return Returns.empty((west, north), cell, cell_m, shape)

    def pieces(self) -> Iterator[tuple[NDArray, NDArray, NDArray, NDArray, NDArray]]:
        """Returns by the million: x, y, height in metres, class, whether withheld."""
        factor = HEIGHT_UNITS[self.unit]
        for path in self.paths:
            with _opened(path, self.request) as file:
                for points in file.chunk_iterator(CHUNK_POINTS):
                    yield (
                        np.asarray(points.x), np.asarray(points.y), np.asarray(points.z) * factor,
                        np.asarray(points.classification), np.asarray(points.withheld).astype(bool),
                    )  # fmt: skip


def _files(path: Path) -> tuple[Path, ...]:
    if not path.is_dir():
        return (path,)
    return tuple(sorted(p for p in path.iterdir() if p.is_file() and p.suffix.lower() in SUFFIXES))


@contextmanager
def _opened(path: Path, request: Request) -> Iterator[laspy.LasReader]:
    """An open file; whatever its package finds wrong with it becomes one sentence."""
    try:
        import laspy
    except ImportError as error:
        raise request.error(
            "lidar surveys are read with the packages laspy and lazrs, which are not installed",
            mend='install them with: pip install "laspy[lazrs]"',
        ) from error
    try:
        with laspy.open(path) as file:
            yield file
    except InputError:
        raise
    except ImportError as error:
        raise request.error(
            "compressed surveys (LAZ) need the package lazrs, which is not installed",
            mend='install it with: pip install "laspy[lazrs]"',
        ) from error
    except Exception as error:
        inside = f"the file {path.name}" if path != request.path else "the file"
        if isinstance(error, laspy.LaspyException) and "backend" in str(error).lower():
            raise request.error(
                "compressed surveys (LAZ) need the package lazrs, which is not installed",
                mend='install it with: pip install "laspy[lazrs]"',
            ) from error
        raise request.error(
            f"{inside} cannot be read ({plain_reason(error, request)})", mend="copy it again from where it came from"
        ) from error


def _header(path: Path, request: Request) -> laspy.LasHeader:
    with _opened(path, request) as file:
        return file.header


def _crs_of(header: laspy.LasHeader) -> CRS | None:
    """The CRS that a file states, or None where it states none that can be understood."""
    try:
        return header.parse_crs()
    except Exception:
        return None


def _one_crs(found: Sequence[CRS | None], paths: Sequence[Path], request: Request) -> CRS:
    """The horizontal CRS of all files.

    Raises:
        CrsError: It is stated nowhere, the files differ, or it counts in degrees.
    """
    crs = flat(settle_crs(found[0], request))
    for path, other in zip(paths, found, strict=True):
        if (other is None) != (found[0] is None) or (other is not None and not same_crs(other, crs)):
            raise CrsError(
                f"the file {path.name} is in another CRS than {paths[0].name}", mend="bring all files into one CRS",
                file=request.spec.path, layer=request.layer,
            )  # fmt: skip
    if not crs.is_projected:
        raise CrsError(
            f"the survey's CRS {crs_name(crs_text(crs))} counts in degrees", expected="a projected CRS",
            mend="bring the survey into UTM, or correct the CRS that is stated", file=request.spec.path,
            layer=request.layer,
        )  # fmt: skip
    return crs


def _unit(header: laspy.LasHeader, found: CRS | None, crs: CRS, request: Request) -> tuple[str, str]:
    """The unit of the heights, and a phrase that says where it comes from."""
    if request.spec.unit in HEIGHT_UNITS:
        return str(request.spec.unit), f"heights in {request.spec.unit} as the plan states"
    stated = _vertical_word(found) or UNIT_CODES.get(_geo_key(header, VERTICAL_KEY))
    if stated is not None:
        return stated, f"heights in {stated} as the file states"
    own = OWN_WORDS.get(crs.axis_info[0].unit_name.lower())
    if own not in ("m", "ft", "us-ft"):
        raise request.error(
            f"the survey counts in {crs.axis_info[0].unit_name}", expected=listed(UNIT_CODES.values()),
            mend='state the unit of its heights: unit = "m"', field="unit",
        )  # fmt: skip
    return own, f"heights taken in {own} like the coordinates, since the file states no unit for them"


def _vertical_word(crs: CRS | None) -> str | None:
    """The unit of height in a compound CRS."""
    if crs is None or not crs.is_compound:
        return None
    names = [a.unit_name.lower() for part in crs.sub_crs_list if part.is_vertical for a in part.axis_info]
    return OWN_WORDS.get(names[0]) if names else None


def _geo_key(header: Any, number: int) -> int:
    """Value of a GeoTIFF key in the file's header, 0 where it is not there."""
    for record in header.vlrs:
        for key in getattr(record, "geo_keys", None) or ():
            if key.id == number and key.tiff_tag_location == 0:
                return int(key.value_offset)
    return 0


def _day(path: Path, header: laspy.LasHeader, request: Request) -> dt.date | None:
    """Day of the file's first return, where its times count from a known start."""
    if header.global_encoding.gps_time_type.name != "STANDARD" or "gps_time" not in header.point_format.dimension_names:
        return None
    with _opened(path, request) as file:
        times = np.asarray(file.read_points(1).gps_time) if header.point_count else np.empty(0)
    if not len(times) or not math.isfinite(times[0]) or not 0.0 < times[0] + GPS_SHIFT_S < 3e9:
        return None
    return (GPS_START + dt.timedelta(seconds=float(times[0]) + GPS_SHIFT_S)).date()
