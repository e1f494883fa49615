"""A county soil survey as the USDA hands it out (SSURGO): its polygons and its tables.

It comes as a folder with `spatial` and `tabular` inside (Shapefiles, and tables with `|` between the cells and no names
in the first line, the names in `mstabcol.txt`), as several such folders in one, or as one GeoPackage or file
geodatabase with a layer `mupolygon` beside tables of the same names.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boscage.model.soil import SoilOptions, SoilUnit
from boscage.readers.columns import cell, listed, objects
from boscage.readers.protocol import RawVector, Request, check_exists, plain_reason
from boscage.readers.ssurgo_units import COLUMNS, NEEDED, Table, make_units
from boscage.soil.components import flood_class
from boscage.soil.ground import unit_columns

if TYPE_CHECKING:
    import geopandas

FILES: Mapping[str, str] = {
    "mapunit": "mapunit", "component": "comp", "chorizon": "chorizon", "corestrictions": "crstrcts",
    "cosoilmoist": "csmoist", "comonth": "cmonth", "chfrags": "chfrags",
}  # fmt: skip
"""Names of the table files where `mstab.txt` does not say."""
DATABASES = frozenset({".gpkg", ".gdb", ".sqlite"})
SOURCE = "USDA-NRCS soil survey (SSURGO)"


@dataclass(frozen=True, kw_only=True)
class SoilSurvey:
    """A soil survey.

    Attributes:
        raw: Polygons with `unit` (key into `units`), `mapunit`, `name` and the columns of plain soil polygons.
        units: Map units by key.
    """

    raw: RawVector
    units: Mapping[str, SoilUnit]


class SsurgoReader:
    """Opens a folder of soil survey data as polygons with the columns of plain soil polygons."""

    name = "ssurgo"
    kinds = ("vector",)

    def claims(self, path: Path) -> bool:
        """Whether a folder holds soil survey polygons."""
        return path.is_dir() and path.suffix.lower() != ".gdb" and bool(_shapes(path))

    def read(self, request: Request) -> RawVector:
        """Read the polygons, each with what its map unit's soils come to.

        Raises:
            LayerError: As `read_survey`.
        """
        return read_survey(request).raw


def holds_survey(path: Path) -> bool:
    """Whether a folder or database is a soil survey: it has map unit polygons and at least the table of soils."""
    if path.suffix.lower() not in DATABASES:
        return path.is_dir() and bool(_shapes(path))
    if not path.exists():
        return False
    import pyogrio

    try:
        names = {str(name).lower() for name, _ in pyogrio.list_layers(path)}
    except Exception:
        return False
    return {"mupolygon", "component"} <= names


def read_survey(request: Request, options: SoilOptions | None = None, *, summary: bool = True) -> SoilSurvey:
    """Read a soil survey.

    Args:
        request: The folder, GeoPackage or file geodatabase.
        options: Limits for the summary columns.
        summary: Whether polygons get resistance, depth and rock fragments beside their flood class.

    Raises:
        LayerError: Polygons or a needed table or column are missing, a file is broken, or a cell holds what it cannot.
    """
    check_exists(request)
    doubts: list[str] = []
    if request.path.suffix.lower() in DATABASES:
        frame, tables = _read_database(request)
    else:
        frame = _read_shapes(request)
        tables = _read_folders(request)
    for name in ("cosoilmoist", "comonth"):
        if name not in tables:
            doubts.append(f"the table {name} is not there, so wet soil and flooding are unknown; bring it along.")
    units, said = make_units(tables, request, SOURCE)
    doubts += said
    frame = _join(frame, units, request, doubts)
    frame = _summed_up(frame, units, options or SoilOptions(), summary=summary)
    notes = (f"soil survey with {len(units)} map units", f"tables {', '.join(sorted(tables))}")
    return SoilSurvey(raw=RawVector(frame=frame, notes=notes, doubts=tuple(doubts)), units=units)


def _shapes(folder: Path) -> list[Path]:
    found = [p for p in folder.rglob("*") if p.suffix.lower() == ".shp"]
    return sorted(p for p in found if p.stem.lower().startswith(("soilmu_a", "mupolygon")))


def _read_shapes(request: Request) -> geopandas.GeoDataFrame:
    """The polygons of every survey area in a folder, in the first one's CRS."""
    import geopandas
    import pandas as pd

    paths = _shapes(request.path)
    if not paths:
        raise request.error(
            "the folder holds no soil polygons", expected="spatial/soilmu_a_*.shp beside the folder tabular",
            mend="unpack the whole download and name the folder that holds spatial and tabular",
        )  # fmt: skip
    frames = []
    for path in paths:
        try:
            frames.append(geopandas.read_file(path))
        except Exception as error:
            raise request.error(
                f"{path.name} cannot be opened ({plain_reason(error, request)})", mend="unpack the download again"
            ) from error
    first = frames[0].crs
    alike = [f if f.crs == first else f.to_crs(first) for f in frames]
    held = [f for f in alike if len(f)] or alike[:1]
    return geopandas.GeoDataFrame(pd.concat(held, ignore_index=True), geometry="geometry", crs=first)


def _read_folders(request: Request) -> dict[str, Table]:
    """The tables of every survey area in a folder."""
    folders = sorted({p.parent for p in request.path.rglob("*") if p.stem.lower() in ("mapunit", "comp", "component")})
    tables: dict[str, list[Table]] = {}
    for folder in folders:
        for name, table in _read_folder(folder, request).items():
            tables.setdefault(name, []).append(table)
    _need_tables(tables, request)
    return {name: _together(parts) for name, parts in tables.items()}


def _need_tables(tables: Mapping[str, object], request: Request) -> None:
    for name in NEEDED:
        if name not in tables:
            raise request.error(
                f"the soil survey holds no table {name}", expected=f"the tables {', '.join(NEEDED)} at least",
                mend="bring the folder tabular along, whole",
            )  # fmt: skip


def _together(parts: Sequence[Table]) -> Table:
    """One table of several; they must have the same columns in use."""
    wanted = parts[0].header
    rows: list[Sequence[object]] = []
    for part in parts:
        index = [part.header.index(c) if c in part.header else -1 for c in wanted]
        rows += [[row[i] if 0 <= i < len(row) else "" for i in index] for row in part.rows]
    return Table(name=parts[0].name, file=parts[0].file, header=wanted, rows=rows)


def _read_folder(folder: Path, request: Request) -> dict[str, Table]:
    files = {p.name.lower(): p for p in folder.iterdir() if p.is_file()}
    stated = {row[0].lower(): row[4].lower() for row in _cells(files.get("mstab.txt"), request) if len(row) > 4}
    names: dict[str, list[str]] = {}
    for row in _cells(files.get("mstabcol.txt"), request):
        if len(row) > 2:
            names.setdefault(row[0].lower(), []).append(row[2].lower())
    tables = {}
    for name, usual in FILES.items():
        stems = (stated.get(name, usual), usual, name)
        path = next((files[f"{s}{e}"] for s in stems for e in (".txt", ".csv") if f"{s}{e}" in files), None)
        if path is None:
            continue
        rows = _cells(path, request)
        first = [c.strip().lower() for c in rows[0]] if rows else []
        if set(first) & set(COLUMNS[name]):
            header, rows = first, rows[1:]
        elif name in names:
            header = names[name]
        else:
            raise request.error(
                f"{path.name} names no columns and there is no mstabcol.txt that does",
                mend="bring mstabcol.txt of the same download along",
            )  # fmt: skip
        if any(len(row) != len(header) for row in rows):
            bad = next(i for i, row in enumerate(rows, start=1) if len(row) != len(header))
            raise request.error(
                f"{path.name} has {len(rows[bad - 1])} cells in a row, and {len(header)} columns",
                mend="take mstabcol.txt and the tables from the same download", row=bad,
            )  # fmt: skip
        tables[name] = Table(name=name, file=path.name, header=header, rows=rows)
    return tables


def _cells(path: Path | None, request: Request) -> list[list[str]]:
    """Rows of a table file; text may hold line ends inside quotes. Empty without a file."""
    if path is None:
        return []
    data = path.read_bytes()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", errors="replace")
    first = text.partition("\n")[0]
    delimiter = "|" if "|" in first else ","
    csv.field_size_limit(10_000_000)
    try:
        return [row for row in csv.reader(text.splitlines(keepends=True), delimiter=delimiter) if row]
    except csv.Error as error:
        raise request.error(f"{path.name} cannot be read ({error})", mend="unpack the download again") from error


def _read_database(request: Request) -> tuple[geopandas.GeoDataFrame, dict[str, Table]]:
    import pyogrio

    try:
        by_name = {str(name).lower(): str(name) for name, _ in pyogrio.list_layers(request.path)}
    except Exception as error:
        raise request.error(
            f"the file cannot be opened ({plain_reason(error, request)})", mend="fetch it again"
        ) from error
    if "mupolygon" not in by_name:
        raise request.error(
            "the file holds no layer mupolygon", expected="a soil survey with its polygons and tables",
            mend=f"its layers are {listed(sorted(by_name), most=8)}",
        )  # fmt: skip
    _need_tables(by_name, request)
    frame = pyogrio.read_dataframe(request.path, layer=by_name["mupolygon"])
    if frame.geometry.name != "geometry":
        frame = frame.rename_geometry("geometry")
    tables = {}
    for name in FILES:
        if name in by_name:
            held = pyogrio.read_dataframe(request.path, layer=by_name[name], read_geometry=False)
            header = [str(c).lower() for c in held.columns]
            rows = [list(row) for row in held.itertuples(index=False)]
            tables[name] = Table(name=name, file=by_name[name], header=header, rows=rows)
    return frame, tables


def _join(
    frame: geopandas.GeoDataFrame, units: Mapping[str, SoilUnit], request: Request, doubts: list[str]
) -> geopandas.GeoDataFrame:
    """Polygons with the key, symbol and name of their map unit."""
    import geopandas

    by_name = {str(c).lower(): c for c in frame.columns}
    if "mukey" not in by_name:
        raise request.error(
            f"the soil polygons have no column mukey (the columns are {', '.join(sorted(by_name))})",
            expected="mukey, which ties a polygon to its map unit", field="mukey",
        )  # fmt: skip
    keys = [cell(v) for v in frame[by_name["mukey"]]]
    lost = [i for i, key in enumerate(keys, start=1) if key not in units]
    if lost:
        doubts.append(f"polygons whose map unit is in no table: {len(lost)} (rows {listed(lost)}); they are unknown.")
    symbols = [cell(v) for v in frame[by_name["musym"]]] if "musym" in by_name else keys
    data: dict[str, object] = {
        "unit": objects(keys),
        "mapunit": objects(units[k].symbol if k in units else s for k, s in zip(keys, symbols, strict=True)),
        "name": objects(units[k].name if k in units else "" for k in keys),
        "row": np.arange(1, len(keys) + 1),
    }
    return geopandas.GeoDataFrame(data, geometry=list(frame.geometry), crs=frame.crs)


def _summed_up(
    frame: geopandas.GeoDataFrame, units: Mapping[str, SoilUnit], options: SoilOptions, *, summary: bool
) -> geopandas.GeoDataFrame:
    """The polygons with the columns of plain soil polygons, or with the flood class alone."""
    keys = frame["unit"].tolist()
    held = [k for k in dict.fromkeys(keys) if k in units]
    if not summary:
        floods = {k: flood_class(units[k], options.flood_share) for k in held}
        return frame.assign(flood_class=objects(floods.get(k) for k in keys))
    columns = {k: unit_columns(units[k], options) for k in held}
    made = {
        name: np.array([columns[k][name] if k in columns else np.nan for k in keys], dtype=float)
        for name in ("resistance_mpa", "depth_cm", "rock_pct")
    }
    return frame.assign(**made, flood_class=objects(columns[k]["flood_class"] if k in columns else None for k in keys))
