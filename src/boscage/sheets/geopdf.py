"""Where the maps on a page lie on the ground, written into the PDF for other programs to read.

Each map becomes a viewport of its page with a geospatial measure: the Adobe Supplement to ISO 32000 (BaseVersion 1.7,
ExtensionLevel 3), since then ISO 32000-2, 12.10. The corners (`GPTS`) are degrees of latitude and longitude in the
datum of the map's CRS, as in the supplement and in the programs that write and read such files. The later standard's
wording, eastings and northings for a projected CRS, is not followed: readers would take them for degrees.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import IO, Any

from pypdf import PdfReader, PdfWriter
from pypdf.generic import (
    ArrayObject,
    DictionaryObject,
    FloatObject,
    NameObject,
    NumberObject,
    PdfObject,
    TextStringObject,
)
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from boscage.sheets.page import Box, PageMap

PT_PER_MM = 72.0 / 25.4
CORNERS = ((0.0, 0.0), (0.0, 1.0), (1.0, 1.0), (1.0, 0.0))
"""South-west, north-west, north-east, south-east: shares of a map's width and height from its lower left corner."""
_WGS84 = "EPSG:4326"
_FORMS = ("WKT1_ESRI", "WKT1_GDAL")
_MOST_OFF_DEG = 1e-8
"""About a millimetre: how far a CRS that is written and read again may move a corner."""


def georeference(pdf: bytes, maps: Sequence[Sequence[PageMap]]) -> bytes:
    """The same PDF with a viewport for each map.

    Nothing that is drawn changes, nor do fonts and properties; a file without maps comes back as it is. The same
    arguments give the same bytes. The largest map of a page stands first, for readers that take only one.

    Args:
        pdf: A whole PDF.
        maps: Those of each page, in the order of the pages.

    Raises:
        ValueError: There are not as many pages as lists of maps, or a CRS is unknown.
    """
    if not any(maps):
        return pdf
    writer = PdfWriter(clone_from=PdfReader(io.BytesIO(pdf)))
    systems: dict[str, _System] = {}
    for page, own in zip(writer.pages, maps, strict=True):
        ranked = sorted(own, key=lambda m: m.box.width * m.box.height, reverse=True)
        views = [v for n, m in enumerate(ranked, start=1) for v in _views(writer, systems, m, n, page.mediabox.top)]
        if views:
            page[NameObject("/VP")] = ArrayObject(views)
    _state_extension(writer)
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def box_on_page(box: Box, top_pt: float) -> tuple[float, float, float, float]:
    """Left, bottom, right and top of a box in points from the page's lower left corner.

    >>> [round(v, 6) for v in box_on_page(Box(25.4, 25.4, 50.8, 127.0), 792.0)]
    [72.0, 360.0, 216.0, 720.0]
    """
    return (
        box.x * PT_PER_MM, top_pt - box.bottom * PT_PER_MM, box.right * PT_PER_MM, top_pt - box.y * PT_PER_MM,
    )  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class _System:
    """A CRS as a file states it.

    Attributes:
        degrees: From the CRS to longitude and latitude of the stated system.
        entry: The dictionary of the file, or a reference to it.
    """

    degrees: Transformer
    entry: PdfObject


class _Degrees(FloatObject):
    """A number written with ten decimals, 0.01 mm on the ground; the library writes eight digits."""

    def write_to_stream(self, stream: IO[Any], *args: Any, **kwargs: Any) -> None:
        stream.write(f"{float(self):.10f}".encode("ascii"))


def _views(
    writer: PdfWriter, systems: dict[str, _System], placed: PageMap, number: int, top_pt: float
) -> Iterator[DictionaryObject]:
    """The viewport of a map; none where its corners have no longitude and latitude."""
    if placed.crs not in systems:
        systems[placed.crs] = _system(writer, placed)
    system = systems[placed.crs]
    points = _corners(placed, system.degrees)
    if not all(math.isfinite(v) for point in points for v in point):
        return
    square = [FloatObject(v) for corner in CORNERS for v in corner]
    measure = {
        "/Type": NameObject("/Measure"), "/Subtype": NameObject("/GEO"), "/Bounds": ArrayObject(square),
        "/LPTS": ArrayObject(square), "/GPTS": ArrayObject(_Degrees(v) for lon, lat in points for v in (lat, lon)),
        "/GCS": system.entry,
    }  # fmt: skip
    yield _dictionary(
        {
            "/Type": NameObject("/Viewport"),
            "/Name": TextStringObject(f"Map {number}"),
            "/BBox": ArrayObject(FloatObject(v) for v in box_on_page(placed.box, float(top_pt))),
            "/Measure": _dictionary(measure),
        }
    )


def _corners(placed: PageMap, degrees: Transformer) -> list[tuple[float, float]]:
    """Longitude and latitude of the corners; infinite where there are none."""
    b = placed.bounds
    try:
        return [degrees.transform(b.west + u * b.width, b.south + v * b.height) for u, v in CORNERS]
    except ProjError:
        return [(math.inf, math.inf)]


def _system(writer: PdfWriter, placed: PageMap) -> _System:
    """A map's CRS as the file will state it: projected where that can be said in WKT 1, else WGS 84."""
    try:
        crs = _flat(CRS.from_user_input(placed.crs))
    except CRSError as error:
        raise ValueError(f"the CRS {placed.crs} of a map is unknown") from error
    own = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True) if _counts_degrees(crs) else None
    wkt = None if own is None else next((w for w in _texts(crs) if _gives_back(w, placed, own)), None)
    if own is None or wkt is None:
        degrees = Transformer.from_crs(crs, _WGS84, always_xy=True)
        return _System(degrees=degrees, entry=_entry(writer, "/GEOGCS", CRS(_WGS84).to_wkt("WKT1_ESRI"), 4326))
    code = crs.to_epsg(min_confidence=100)
    return _System(degrees=own, entry=_entry(writer, "/PROJCS", wkt, code))


def _flat(crs: CRS) -> CRS:
    """The horizontal system, without heights and without a way to another datum."""
    if crs.is_compound:
        return _flat(crs.sub_crs_list[0])
    if crs.is_bound:
        return _flat(crs.source_crs)
    return crs.to_2d()


def _counts_degrees(crs: CRS) -> bool:
    """Whether the geographic system under a CRS counts in degrees from Greenwich."""
    base = crs.geodetic_crs
    if base is None or base.prime_meridian is None or base.prime_meridian.longitude != 0.0:
        return False
    return all(axis.unit_name == "degree" for axis in base.axis_info)


def _texts(crs: CRS) -> Iterator[str]:
    """A CRS in the forms of WKT 1, in ASCII as the standard asks."""
    for form in _FORMS:
        try:
            text = crs.to_wkt(form)
        except CRSError:
            continue
        if text:
            yield text.encode("ascii", "replace").decode("ascii")


def _gives_back(wkt: str, placed: PageMap, own: Transformer) -> bool:
    """Whether the text, read again, gives a map the corners that the CRS itself gives it."""
    try:
        read = CRS.from_wkt(wkt)
        again = Transformer.from_crs(read, read.geodetic_crs, always_xy=True)
    except (CRSError, ProjError):
        return False
    pairs = zip(_corners(placed, own), _corners(placed, again), strict=False)
    return all(
        math.isclose(a, b, abs_tol=_MOST_OFF_DEG, rel_tol=0.0) for p, q in pairs for a, b in zip(p, q, strict=True)
    )


def _entry(writer: PdfWriter, kind: str, wkt: str, code: int | None) -> PdfObject:
    """The dictionary of a CRS, stored once; the answer refers to it."""
    made = {"/Type": NameObject(kind), "/WKT": TextStringObject(wkt)}
    if code is not None:
        made["/EPSG"] = NumberObject(code)
    return writer._add_object(_dictionary(made))


def _state_extension(writer: PdfWriter) -> None:
    """Say in the catalogue which extension of the standard the file uses."""
    writer.pdf_header = "%PDF-1.7"
    adobe = _dictionary({"/BaseVersion": NameObject("/1.7"), "/ExtensionLevel": NumberObject(3)})
    writer.root_object[NameObject("/Extensions")] = _dictionary({"/ADBE": adobe})


def _dictionary(entries: dict[str, PdfObject]) -> DictionaryObject:
    return DictionaryObject({NameObject(k): v for k, v in entries.items()})
