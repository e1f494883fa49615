"""A ranch of three squares of land for reports whose right answer is known by construction, and its log.

In metres of EPSG:32615 from a corner O: `West` (0..4000 east, 0..6000 north) and `East` (4000..8000, 0..6000) are of
two owners with permission; `Corner` (8000..9000, 0..6000) is refused.
"""

from __future__ import annotations

import contextlib
import json
import struct
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import geopandas as gpd
import pyogrio
import shapely
from pyproj import Transformer

CRS = "EPSG:32615"
O = (520_000.0, 4_000_000.0)  # noqa: E741
DATE = "2026-11-21"
HEAD = "date,site,event,boar,sow,yearling,piglet,group,hours,note,time,person,x,y"
WEST, EAST, CORNER = "Juniper Land", "Alder Creek Partners", "Estate of the Corner"
LAND = {"West": (WEST, "granted", (0, 4000)), "East": (EAST, "granted", (4000, 8000)),
        "Corner": (CORNER, "refused", (8000, 9000))}  # fmt: skip


def place(u: float, v: float) -> tuple[float, float]:
    """East and north of a local place."""
    return O[0] + u, O[1] + v


@dataclass(frozen=True)
class Row:
    """One row of the log by its columns; a place is local."""

    date: str
    site: str
    event: str
    take: tuple[int, int, int, int] | None = None
    group: str = ""
    hours: str = ""
    note: str = ""
    time: str = ""
    person: str = ""
    at: tuple[float, float] | None = None

    def text(self) -> str:
        """The row as it stands in the file."""
        take = ["", "", "", ""] if self.take is None else [str(n) for n in self.take]
        where = ["", ""] if self.at is None else [repr(v) for v in place(*self.at)]
        cells = [self.date, self.site, self.event, *take, self.group, self.hours, self.note, self.time, self.person]
        return ",".join([*cells, *where])


def build(folder: Path, rows: list[Row] | str, *, plan: str = "", ranch: str = "", layers: str = "") -> Path:
    """Write parcels, log and plan; returns the plan.

    Args:
        rows: Of the log, or its whole text.
        plan: Further tables.
        ranch: Further lines of `[ranch]`; `layers` of `[layers]`.
    """
    folder.mkdir(parents=True, exist_ok=True)
    shapes = [shapely.box(*place(a, 0), *place(b, 6000)) for _, _, (a, b) in LAND.values()]
    table = {
        "parcel": list(LAND),
        "owner": [o for o, _, _ in LAND.values()],
        "access": [a for _, a, _ in LAND.values()],
    }
    gpd.GeoDataFrame(table, geometry=shapes, crs=CRS).to_file(folder / "parcels.gpkg", layer="parcels", driver="GPKG")
    text = rows if isinstance(rows, str) else "\n".join([HEAD, *(r.text() for r in rows)]) + "\n"
    (folder / "log.csv").write_text(text, encoding="utf-8")
    path = folder / "plan.toml"
    path.write_text(
        f'[ranch]\nname = "Test Ranch"\nunits = "metric"\ndate = {DATE}\ncrs = "{CRS}"\n{ranch}\n'
        f'[layers]\nparcels = "parcels.gpkg"\ncanopy_cover = "none.tif"\nlog = "log.csv"\n{layers}\n'
        f'[report]\nradius = "1000m"\n{plan}\n',
        encoding="utf-8",
    )
    return path


def told(out: Path) -> Any:
    """`report.json`."""
    return json.loads((out / "report.json").read_text(encoding="utf-8"))


def bytes_of(path: Path) -> bytes:
    """A file's bytes, and behind them every stream of a PDF unpacked."""
    raw = path.read_bytes()
    if path.suffix != ".pdf":
        return raw
    out, at = [raw], 0
    while (begin := raw.find(b"stream", at)) >= 0:
        start = raw.find(b"\n", begin) + 1
        end = raw.find(b"endstream", start)
        if end < 0:
            break
        with contextlib.suppress(zlib.error):
            out.append(zlib.decompress(raw[start:end].rstrip(b"\r\n")))
        at = end + 9
    return b"\n".join(out)


def spellings(x_m: float, y_m: float, crs: str = CRS) -> list[str]:
    """Texts that would give a place away: metres to a metre and degrees to four digits, whole and cut off."""
    lon, lat = Transformer.from_crs(crs, 4326, always_xy=True).transform(x_m, y_m)
    out = [f"{v:.0f}" for v in (x_m, y_m)] + [str(int(v)) for v in (x_m, y_m)]
    for value in (lon, lat):
        size = abs(value)
        minutes = (size - int(size)) * 60.0
        out += [f"{size:.4f}", f"{int(size * 1e4) / 1e4:.4f}", f"{minutes:.3f}"]
    return sorted(set(out))


def vertices(path: Path) -> list[tuple[float, float]]:
    """Every corner of every geometry of a GeoPackage."""
    out: list[tuple[float, float]] = []
    for name, _ in pyogrio.list_layers(path):
        out += [tuple(c) for c in shapely.get_coordinates(gpd.read_file(path, layer=name).geometry.to_numpy()).tolist()]
    return out


def packed(value: float) -> list[bytes]:
    """A number as a file holds it in binary, either way round."""
    return [struct.pack("<d", value), struct.pack(">d", value)]
