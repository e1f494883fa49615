"""What a dropped file or folder is, by its content: a layer of the plan, several, or none."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boscage.errors import CrsError, InputError
from boscage.model.camtrap import PACKAGE
from boscage.model.recognised import GUESS, LIKELY, SURE, Recognised
from boscage.readers.columns import cell
from boscage.readers.crs import WGS84, check_numbers, flat
from boscage.readers.point_cloud import SUFFIXES as SURVEYS
from boscage.readers.protocol import RawRaster, RawVector, Reader, Request, choose_reader
from boscage.readers.raster import SUFFIXES as RASTERS
from boscage.readers.recognise_answer import LOG, NOTHING, made_of, reason_of, request_of, unknown
from boscage.readers.recognise_raster import SURVEY, look_at, raster_candidates, why_no_raster
from boscage.readers.recognise_table import recognise_table
from boscage.readers.recognise_vector import Facts, candidates, facts_of, is_log
from boscage.readers.ssurgo import holds_survey
from boscage.readers.table import SUFFIXES as TABLES
from boscage.readers.vector import SUFFIXES as VECTORS

if TYPE_CHECKING:
    import geopandas

FORMS = frozenset({".xlsx", ".xls"})
SIDES = frozenset({".shx", ".dbf", ".prj", ".cpg", ".qpj", ".sbn", ".sbx", ".tfw", ".xml", ".ovr", ".msk", ".hdr"})
STAND_IN = "EPSG:32633"
"""CRS that a raster without one is looked at in: its numbers tell what it is wherever it lies."""
GPX_PARTS = {"waypoints": "waypoints", "tracks": "tracks", "routes": "tracks"}


def recognise(path: Path, readers: Sequence[Reader]) -> tuple[Recognised, ...]:
    """What one file or folder is taken for.

    A file that holds several layers gives one answer for each thing in it. A folder that is no layer itself gives the
    answers of what lies in it; files there that are no data are left out.

    Args:
        path: The file or folder.
        readers: The readers to open it with.

    Returns:
        At least one answer; what is not recognised says why.
    """
    try:
        if not path.exists():
            return (unknown(path, "there is no such file or folder"),)
        return _folder(path, readers) if path.is_dir() else tuple(_file(path, readers))
    except InputError as error:
        return (unknown(path, reason_of(error)),)
    except OSError as error:
        return (unknown(path, f"it cannot be read ({error.strerror or error})"),)


def _folder(path: Path, readers: Sequence[Reader]) -> tuple[Recognised, ...]:
    whole = _one_layer(path, readers)
    if whole:
        return whole
    inside = sorted(p for p in path.iterdir() if not p.name.startswith(".") and p.suffix.lower() not in SIDES)
    found: list[Recognised] = []
    for part in inside:
        data = part.is_dir() or part.suffix.lower() in VECTORS | RASTERS | SURVEYS | FORMS | (TABLES - {".txt"})
        here = recognise(part, readers) if data else ()
        found += () if part.is_dir() and not any(here) and here[0].path == str(part) else here
    return tuple(found) or (unknown(path, "the folder holds no file that a reader opens"),)


def _one_layer(path: Path, readers: Sequence[Reader]) -> tuple[Recognised, ...]:
    """The answer for a folder that is one layer; empty where it is none."""
    folders = [p for p in path.iterdir() if p.is_dir() and not p.name.startswith(".")]
    if (path / PACKAGE).is_file() or (folders and all((p / PACKAGE).is_file() for p in folders)):
        return (_cameras(path),)
    if path.suffix.lower() == ".gdb" or holds_survey(path):
        return tuple(_file(path, readers))
    endings = {p.suffix.lower() for p in path.iterdir() if p.is_file()} - SIDES - {".txt", ".md", ".pdf", ".html", ""}
    if folders or not endings:
        return ()
    tiles = endings <= RASTERS - {".gpkg"} or endings <= SURVEYS
    return _raster(path, readers) if tiles else ()


def _cameras(path: Path) -> Recognised:
    packages = [path / PACKAGE] if (path / PACKAGE).is_file() else sorted(path.glob(f"*/{PACKAGE}"))
    try:
        profile = json.loads(packages[0].read_text(encoding="utf-8-sig")).get("profile", "")
    except (OSError, ValueError, AttributeError):
        return unknown(path, f"{packages[0].name} cannot be read; bring the package again from where it came from")
    if "camtrap" not in str(profile):
        return unknown(path, f"{packages[0].name} describes other data than a Camtrap DP package")
    return Recognised(
        path=str(path), layer="cameras", confidence=SURE, why="It holds the description of a Camtrap DP package.",
        read=f"{len(packages)} camera package{'s' if len(packages) > 1 else ''}",
    )  # fmt: skip


def _file(path: Path, readers: Sequence[Reader]) -> Iterator[Recognised]:
    """The answers for one file, or for a folder that is a database."""
    suffix = path.suffix.lower()
    if suffix in TABLES:
        yield recognise_table(path, readers)
        return
    if holds_survey(path):
        yield Recognised(
            path=str(path), layer="soils", confidence=SURE, read="soil survey",
            why="It holds the map units of a soil survey and their tables (SSURGO).",
        )  # fmt: skip
        return
    names = _inner_layers(path) if suffix in VECTORS else {}
    if suffix == ".zip" and not any(names.values()):
        yield recognise_table(path, readers)
    elif names or (suffix in VECTORS and suffix not in RASTERS):
        yield from _vectors(path, names, readers)
    elif suffix in FORMS:
        yield recognise_table(path, readers)
    else:
        yield from _raster(path, readers)


def _inner_layers(path: Path) -> dict[str, bool]:
    """Layers inside a vector file, and whether they hold geometry; of a GPX file only recorded things.

    Raises:
        InputError: The file cannot be opened.
    """
    import pyogrio

    try:
        names = {str(name): kind is not None for name, kind in pyogrio.list_layers(path)}
    except Exception as error:
        if path.suffix.lower() in RASTERS:
            return {}
        raise request_of(path, "parcels").error("it cannot be opened; save it again as GeoPackage") from error
    return {n: g for n, g in names.items() if n in GPX_PARTS} if path.suffix.lower() == ".gpx" else names


def _vectors(path: Path, names: Mapping[str, bool], readers: Sequence[Reader]) -> Iterator[Recognised]:
    """One answer for each layer of the plan that a file's layers make, and one for each that is none."""
    made: dict[str, Recognised] = {}
    for name, shaped in names.items() or {None: True}.items():
        found = _vector(path, name, len(names) > 1, readers) if shaped else _rows(path, str(name), len(names) > 1)
        if found is None:
            continue
        if found.layer in made and len(names) > 1:
            made[found.layer or ""] = _joined(made[found.layer or ""], found)
        else:
            made[found.layer or f"? {name}"] = found
    yield from made.values() or [unknown(path, "it holds no features")]


def _joined(one: Recognised, other: Recognised) -> Recognised:
    """Two layers of a file that are one layer of the plan."""
    boxes = [b for b in (one.box, other.box) if b is not None]
    corners = np.array(boxes)
    box = (*corners[:, :2].min(axis=0), *corners[:, 2:].max(axis=0)) if boxes else None
    firmer = (
        one if [SURE, LIKELY, GUESS].index(one.confidence) <= [SURE, LIKELY, GUESS].index(other.confidence) else other
    )
    return replace(
        firmer, read=f"{one.read}; {other.read}", inner=", ".join(n for n in (one.inner, other.inner) if n),
        doubts=tuple(dict.fromkeys((*one.doubts, *other.doubts))), box=None if box is None else tuple(map(float, box)),
    )  # fmt: skip


def _vector(path: Path, name: str | None, several: bool, readers: Sequence[Reader]) -> Recognised | None:
    """One layer of a file; None for an empty one among several."""
    request = request_of(path, "parcels", name)
    raw = choose_reader(readers, request).read(request)
    assert isinstance(raw, RawVector), "a vector reader gives features"
    frame = raw.frame
    inner = name if several else None
    if frame.empty or frame.geometry.isna().all() or frame.geometry.is_empty.all():
        return None if several else unknown(path, "it holds no features")
    gpx = GPX_PARTS.get(name or "", "") if path.suffix.lower() == ".gpx" else ""
    facts = facts_of(frame, path.stem if gpx else f"{path.stem} {name or ''}", gpx)
    read = f"{facts.count} {' and '.join(sorted(facts.kinds))}{'s' if facts.count != 1 else ''}"
    found = (LOG,) if is_log(facts) else candidates(facts)
    doubts, box = _placed(frame, request)
    columns = ", ".join(facts.cells) or "none"
    no = f"{NOTHING} ({read}; the columns are {columns})"
    return made_of(path, found, read=read, no=no, inner=inner, doubts=(*raw.doubts, *doubts), box=box)


def _rows(path: Path, name: str, several: bool) -> Recognised | None:
    """A table without geometry inside a database: a log, or nothing that is told where there is more."""
    import pyogrio

    frame = pyogrio.read_dataframe(path, layer=name, read_geometry=False, datetime_as_string=True)
    cells = {str(c): [cell(v) for v in frame[c].tolist()] for c in frame.columns}
    facts = Facts(kinds=frozenset(), count=len(frame), cells=cells, name=name)
    if is_log(facts):
        return made_of(path, (LOG,), read=f"{len(frame)} rows", inner=name if several else None)
    no = f"the table {name} has no places (the columns are {', '.join(cells) or 'none'})"
    return None if several else unknown(path, no)


def _placed(
    frame: geopandas.GeoDataFrame, request: Request
) -> tuple[tuple[str, ...], tuple[float, float, float, float] | None]:
    """Doubts about where features lie, and their box in degrees."""
    from pyproj import CRS, Transformer

    if frame.crs is None:
        return ('the file states no CRS; state it in the plan: crs = "EPSG:...".',), None
    bounds = tuple(float(v) for v in frame.total_bounds)
    try:
        check_numbers(bounds, flat(CRS.from_user_input(frame.crs)), request)  # type: ignore[arg-type]
    except InputError as error:
        return (f"{reason_of(error)}.",), None
    box = Transformer.from_crs(frame.crs, WGS84, always_xy=True).transform_bounds(*bounds)
    return (), box if np.isfinite(box).all() else None


def _raster(path: Path, readers: Sequence[Reader]) -> tuple[Recognised, ...]:
    survey = path.suffix.lower() in SURVEYS or (
        path.is_dir() and any(p.suffix.lower() in SURVEYS for p in path.iterdir())
    )
    if survey:
        return (made_of(path, SURVEY, read="lidar survey"),)
    request = request_of(path, "terrain")
    reader = choose_reader(readers, request)
    try:
        raw: RawRaster = reader.read(request)  # type: ignore[assignment]
        doubts: tuple[str, ...] = ()
    except CrsError as error:
        raw = reader.read(replace(request, spec=replace(request.spec, crs=STAND_IN)))  # type: ignore[assignment]
        doubts = (f"{reason_of(error)[:1].upper()}{reason_of(error)[1:]}.",)
    look, box = look_at(raw)
    if look is None:
        return (unknown(path, "it holds no data, only cells without a value"),)
    read = "; ".join((*raw.notes, f"cells of {look.cell_m:.3g} m"))
    found = raster_candidates(raw, look, path.stem)
    box = None if doubts else box
    return (made_of(path, found, read=read, no=why_no_raster(raw, look), doubts=doubts, box=box),)
