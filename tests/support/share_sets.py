"""What a phone might get of Dunnock Hollow Ranch: every kind, names in many scripts, holes, parts and empties."""

from __future__ import annotations

import datetime as dt

import numpy as np
import shapely

from boscage.model.share import AREA_KINDS, TRACK_KINDS, WAYPOINT_KINDS, Area, Route, ShareSet, Track, Waypoint

DAY = dt.date(2026, 11, 21)
FOREIGN = "Bäckerwäldchen – Ñandú 鹿"
LONG_NAMES = tuple(f"North Fork of Long Hollow Creek, upper bench {n}" for n in range(1, 13))


def ring(lon: float, lat: float, half: float) -> list[tuple[float, float]]:
    return [(lon - half, lat - half), (lon + half, lat - half), (lon + half, lat + half), (lon - half, lat + half)]


def two_parts_one_hole() -> shapely.MultiPolygon:
    holed = shapely.Polygon(ring(-92.7, 36.2, 0.01), [ring(-92.7, 36.2, 0.002), ring(-92.695, 36.195, 0.001)])
    return shapely.MultiPolygon([holed, shapely.Polygon(ring(-92.65, 36.25, 0.005))])


def long_names() -> ShareSet:
    """Twelve sites with long names that differ at the end only."""
    points = [Waypoint(name=n, lon=-92.7 + i / 1000, lat=36.2, kind="site") for i, n in enumerate(LONG_NAMES)]
    return ShareSet(title="Dunnock Hollow", date=DAY, waypoints=tuple(points))


def full() -> ShareSet:
    """Every kind once, and what is awkward."""
    rng = np.random.default_rng(20261121)
    places = rng.uniform((-92.8, 36.1), (-92.6, 36.3), (len(WAYPOINT_KINDS), 2))
    points = [
        Waypoint(name=f"DH-{n:02d} {kind}", lon=lon, lat=lat, kind=kind, elevation_m=200.0 + n, text=f"Text {n} < & >.")
        for n, (kind, (lon, lat)) in enumerate(zip(WAYPOINT_KINDS, places.tolist(), strict=True), start=1)
    ]
    points += [
        Waypoint(name=FOREIGN, lon=-92.712345678, lat=36.298765432),
        Waypoint(name=FOREIGN, lon=-92.5, lat=36.0, elevation_m=-3.25, kind="site"),
        Waypoint(name="<b>A & B</b> \"'", lon=-92.51, lat=36.01, kind="hazard"),
    ]
    outside = Waypoint(name="Fuel truck", lon=-92.9, lat=36.4, kind="other")
    lines = rng.uniform((-92.8, 36.1), (-92.6, 36.3), (len(TRACK_KINDS), 5, 2))
    tracks = [
        Track(name=f"DH-01 in, {kind}", lines=(line,), kind=kind) for kind, line in zip(TRACK_KINDS, lines, strict=True)
    ]
    heights = np.array([[-92.7, 36.2, 201.5], [-92.71, 36.21, np.nan], [-92.72, 36.22, 203.0]])
    tracks += [
        Track(name=f"Fence {FOREIGN}", lines=(lines[0], lines[1][:3]), kind="fence"),
        Track(name="DH-02 in with heights", lines=(heights,), kind="foot"),
        Track(name="DH-03 in, never found", lines=(), kind="foot"),
        Track(name="DH-04 in, one point", lines=(lines[0][:1], np.empty((0, 2))), kind="atv"),
    ]
    shapes = [shapely.Polygon(ring(-92.7 + n / 50, 36.2, 0.004)) for n in range(len(AREA_KINDS))]
    areas = [
        Area(name=f"{kind} land", polygons=shape, kind=kind) for kind, shape in zip(AREA_KINDS, shapes, strict=True)
    ]
    areas += [
        Area(name=f"Covered {FOREIGN}", polygons=two_parts_one_hole(), kind="covered", text="Two parts."),
        Area(name="Ruled out, nowhere", polygons=shapely.Polygon(), kind="ruled_out"),
    ]
    routes = (
        Route(name="Flight 1", points=(points[2], points[0], outside, points[2])),
        Route(name=f"Round {FOREIGN}", points=tuple(points[::-1]), text="Backwards."),
        Route(name="Flight 2, one stop", points=(points[4],)),
        Route(name="Flight 3, none", points=()),
    )
    return ShareSet(
        title="Dunnock Hollow Ranch", date=DAY, waypoints=tuple(points), routes=routes, tracks=tuple(tracks),
        areas=tuple(areas), note="For the crew of November.",
    )  # fmt: skip
