"""Parcels of three invented owners: survey lines, with edges along Dunnock Creek."""

from __future__ import annotations

import geopandas as gpd
import numpy as np
from shapely.geometry import LineString, Point, Polygon
from shapely.ops import polygonize, unary_union

from generate.frame import CELL_M, CRS, GRID, SOUTH_M

# Corners in cells (column, row) of the ranch grid; a survey section is about 161 cells.
OUTLINE = [
    (32, 114.5), (112, 114.2), (112.4, 34), (515, 34.4), (515, 75), (676, 75.3), (676.3, 517), (582, 516.6),
    (582, 645), (193, 645.4), (193.2, 588), (32, 588.3),
]  # fmt: skip
# Ends run a little over, so that lines that should meet do.
LINES = [
    [(30, 195), (193, 195.6), (480, 196.5)],
    [(30, 356.2), (193, 356), (345, 355)],
    [(30, 517), (193, 516.5), (345, 516)],
    [(193, 194), (193, 272), (197.5, 272), (197.5, 358)],
    [(193, 515), (193.2, 590)],
    [(280, 275.4), (680, 275)],
    [(280, 436), (680, 437)],
    [(565, 73), (565.4, 277)],
]
INHOLDING = [(434, 352), (515, 353), (515, 436.5), (434, 436.2)]
# A point inside each parcel (column, row), its name, owner and access.
LAND, PARTNERS, ESTATE = "Dunnock Hollow Land", "Teasel Creek Partners", "Estate of the North Forty"
PARCELS = [
    ((200, 120), "Prairie Basin", LAND, "granted"),
    ((100, 270), "West Basin", LAND, "granted"),
    ((240, 280), "Long Hollow", LAND, "granted"),
    ((150, 430), "Whetstone Ridge", LAND, "granted"),
    ((250, 600), "Lower Bottom", LAND, "granted"),
    ((100, 555), "Southwest Corner", ESTATE, "unknown"),
    ((500, 200), "Upper Creek", LAND, "granted"),
    ((620, 180), "East Bench", PARTNERS, "granted"),
    ((600, 350), "Cedar Draws", PARTNERS, "granted"),
    ((470, 400), "Bell Glade", ESTATE, "refused"),
    ((450, 560), "South Hollow", LAND, "granted"),
]


def _place(corner: tuple[float, float]) -> tuple[float, float]:
    return GRID.west_m + corner[0] * CELL_M, GRID.north_m - corner[1] * CELL_M


def build(hollow: LineString) -> gpd.GeoDataFrame:
    """Parcels that fill the ranch without gap or overlap.

    Raises ValueError when a named parcel has no polygon, or a polygon of some size no name.
    """
    outline = Polygon([_place(c) for c in OUTLINE])
    inholding = Polygon([_place(c) for c in INHOLDING])
    creek = hollow.simplify(4.0)
    sides = [LineString([_place(c) for c in line]) for line in LINES]
    west, east = _banks(outline, creek)
    cut = [west.boundary, east.boundary]
    cut += [line.intersection((west if n < 5 else east).buffer(2.0)) for n, line in enumerate(sides)]
    faces = [f.difference(inholding) for f in polygonize(unary_union(cut))] + [inholding]
    rows = []
    for corner, name, owner, access in PARCELS:
        point = Point(_place(corner))
        face = next((f for f in faces if f.contains(point)), None)
        if face is None:
            raise ValueError(f"parcel {name}: no polygon at {point.wkt}; move its point or mend the lines")
        faces.remove(face)
        rows.append(
            {
                "parcel": name,
                "owner": owner,
                "access": access,
                "area_ha": round(face.area / 1e4, 1),
                "geometry": face,
            }
        )
    left = sum(f.area for f in faces)
    if left > 1e4:
        raise ValueError(f"{left / 1e4:.1f} ha of the ranch belong to no parcel; name them")
    return gpd.GeoDataFrame(rows, crs=CRS)


def _banks(outline: Polygon, creek: LineString) -> tuple[Polygon, Polygon]:
    """The outline west and east of the creek, which is carried on to the outline's edges."""
    points = np.asarray(creek.coords)
    head, mouth = points[0], points[-1]
    run = LineString([(head[0], GRID.north_m + 500), *points, (mouth[0], SOUTH_M - 500)])
    far = GRID.west_m - 1000
    left = Polygon([*run.coords, (far, SOUTH_M - 500), (far, GRID.north_m + 500)]).buffer(0)
    return outline.intersection(left), outline.difference(left)
