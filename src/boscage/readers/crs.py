"""The working CRS of a ranch, and coordinates that contradict the CRS they come with."""

from __future__ import annotations

import math
import warnings

import numpy as np
from pyproj import CRS, Geod, Transformer
from pyproj.aoi import AreaOfInterest
from pyproj.exceptions import CRSError, ProjError
from pyproj.transformer import TransformerGroup

from boscage.errors import CrsError
from boscage.readers.protocol import Request

WGS84 = "EPSG:4326"
MOST_SCALE_ERROR = 0.01
DOUBTED_SHIFT_M = 5.0
Box = tuple[float, float, float, float]


def crs_text(crs: object) -> str:
    """A CRS as `EPSG:n` where it has such a code, else as WKT; '' for none.

    >>> crs_text(CRS.from_epsg(26915))
    'EPSG:26915'
    """
    if crs is None:
        return ""
    found = CRS.from_user_input(crs)
    code = found.to_epsg(min_confidence=100)
    if code is None:
        code = found.to_epsg(min_confidence=70) if found.name and "unnamed" not in found.name.lower() else None
        code = code if code is not None and CRS.from_epsg(code).equals(found, ignore_axis_order=True) else None
    return f"EPSG:{code}" if code is not None else found.to_wkt()


def crs_name(text: str) -> str:
    """A CRS as people should see it: its code, or its name where it has none."""
    if not text or text.startswith("EPSG:"):
        return text
    return CRS.from_user_input(text).name


def utm_code(lon: float, lat: float) -> str:
    """The UTM zone (WGS 84) of a place, plain six-degree zones.

    >>> utm_code(-92.7, 36.2), utm_code(151.2, -33.9), utm_code(180.0, 10.0)
    ('EPSG:32615', 'EPSG:32756', 'EPSG:32601')
    """
    zone = math.floor((lon + 180.0) / 6.0) % 60 + 1
    return f"EPSG:{32600 + zone if lat >= 0 else 32700 + zone}"


def choose_crs(stated: str | None, lon: float, lat: float, *, file: str) -> tuple[str, str]:
    """The ranch's working CRS and the reason for it.

    Args:
        stated: The plan's `[ranch] crs`, or None for the UTM zone of the place.
        lon, lat: Middle of the parcels, WGS 84 degrees.
        file: The plan file, for messages.

    Raises:
        CrsError: The stated CRS is unknown, geographic, not in metres, has axes that do not run east and north, or its
            lengths at the ranch are off by more than 1 %.
    """
    nearest = utm_code(lon, lat)
    if stated is None:
        return nearest, "the UTM zone of the parcels"
    try:
        crs = CRS.from_user_input(stated)
    except CRSError:
        raise _refused(f"the CRS {stated} is unknown", nearest, file) from None
    if crs.is_compound:
        crs = crs.sub_crs_list[0]
    if crs.is_geographic:
        raise _refused(f"the CRS {stated} ({crs.name}) counts in degrees", nearest, file)
    if not crs.is_projected:
        raise _refused(f"the CRS {stated} ({crs.name}) is not projected", nearest, file)
    units = {a.unit_name for a in crs.axis_info if abs(a.unit_conversion_factor - 1.0) > 1e-9}
    if units:
        raise _refused(f"the CRS {stated} ({crs.name}) counts in {units.pop()}, not metres", nearest, file)
    if {a.direction for a in crs.axis_info} != {"east", "north"}:
        raise _refused(f"the axes of the CRS {stated} ({crs.name}) do not run east and north", nearest, file)
    scale = scale_at(crs, lon, lat)
    if not math.isfinite(scale):
        raise _refused(f"the CRS {stated} ({crs.name}) does not reach the parcels", nearest, file)
    if abs(scale - 1.0) > MOST_SCALE_ERROR:
        how = f"{scale:.2f} times too long" if scale > 1 else f"{1 / scale:.2f} times too short"
        raise _refused(f"lengths in the CRS {stated} ({crs.name}) come out {how} at the parcels", nearest, file)
    return crs_text(crs), "stated in the plan"


def _refused(wrong: str, nearest: str, file: str) -> CrsError:
    return CrsError(
        wrong, expected="a projected CRS in metres that fits the ranch",
        mend=f'write crs = "{nearest}" (the UTM zone of the parcels), or leave crs out', file=file, field="ranch.crs",
    )  # fmt: skip


def scale_at(crs: CRS, lon: float, lat: float) -> float:
    """Length in the CRS over length on the ellipsoid at a place: that of four 1 km geodesics that is farthest from 1.

    Infinite where the CRS does not reach the place.
    """
    forward = Transformer.from_crs(WGS84, crs, always_xy=True)
    geod = Geod(ellps="WGS84")
    azimuths = np.array([0.0, 45.0, 90.0, 135.0])
    lons, lats, _ = geod.fwd(np.full(4, lon), np.full(4, lat), azimuths, np.full(4, 1000.0))
    try:
        x, y = forward.transform(np.append(lons, lon), np.append(lats, lat))
    except ProjError:
        return math.inf
    lengths = np.hypot(x[:4] - x[4], y[:4] - y[4]) / 1000.0
    if not np.isfinite(lengths).all():
        return math.inf
    return float(lengths[np.argmax(np.abs(lengths - 1.0))])


def settle_crs(found: object, request: Request) -> CRS:
    """The CRS of a file: the file's own, or the plan's where the file has none.

    Raises:
        CrsError: Neither states one, the plan's is unknown, or the two contradict each other.
    """
    stated = request.spec.crs
    where = {"file": request.spec.path, "layer": request.layer}
    if stated is None:
        if found is None:
            raise CrsError(
                "the file states no CRS", expected="the system that its coordinates are in",
                mend='state it in the layer\'s table: crs = "EPSG:..."', **where,
            )  # fmt: skip
        return flat(CRS.from_user_input(found))
    try:
        own = flat(CRS.from_user_input(stated))
    except CRSError:
        raise CrsError(
            f"the CRS {stated} is unknown", expected="a code such as EPSG:26915", field="crs", **where
        ) from None
    if found is not None and not same_crs(found, own):
        theirs = crs_name(crs_text(flat(CRS.from_user_input(found))))
        raise CrsError(
            f"the plan states {stated} and the file says {theirs}",
            mend="leave crs out of the plan, or mend the file", field="crs", **where,
        )  # fmt: skip
    return own


def flat(crs: CRS) -> CRS:
    """The horizontal part of a CRS."""
    if crs.is_compound:
        return flat(crs.sub_crs_list[0])
    return crs.to_2d() if len(crs.axis_info) > 2 else crs


def same_crs(one: object, other: object) -> bool:
    """Whether two systems give the same numbers to every place (heights aside)."""
    first, second = flat(CRS.from_user_input(one)), flat(CRS.from_user_input(other))
    if first.equals(second, ignore_axis_order=True):
        return True
    codes = first.to_epsg(min_confidence=100), second.to_epsg(min_confidence=100)
    return codes[0] is not None and codes[0] == codes[1]


def check_numbers(box: Box, crs: CRS, request: Request) -> None:
    """Refuse coordinates that the CRS cannot have.

    Args:
        box: Least x, least y, greatest x, greatest y in the file's CRS.

    Raises:
        CrsError: Degrees in a projected system, large numbers in degrees, or latitudes that are none.
    """
    west, south, east, north = box
    largest_x, largest_y = max(abs(west), abs(east)), max(abs(south), abs(north))
    where = {"file": request.spec.path, "layer": request.layer}
    name = crs_name(crs_text(crs))
    degrees = largest_x <= 180.0 and largest_y <= 90.0
    if not crs.is_geographic and degrees:
        raise CrsError(
            f"the coordinates ({west:g}, {south:g}) look like degrees, but the CRS {name} counts in "
            f"{crs.axis_info[0].unit_name}", mend='mend the file\'s CRS (degrees are often crs = "EPSG:4326")', **where,
        )  # fmt: skip
    if crs.is_geographic and largest_y > 90.0 and largest_x <= 90.0 and largest_y <= 180.0:
        raise swapped(request, f"the latitude {south if abs(south) > 90 else north:g} does not exist")
    if crs.is_geographic and (largest_x > 360.0 or largest_y > 90.0):
        raise CrsError(
            f"the coordinates ({west:g}, {south:g}) are no degrees, but the CRS {name} counts in degrees",
            mend='mend the file\'s CRS, such as crs = "EPSG:26915" for UTM zone 15 north', **where,
        )  # fmt: skip


def swapped(request: Request, why: str) -> CrsError:
    """The error for coordinates written in the wrong order."""
    return CrsError(
        f"the axes look swapped: {why}", expected="longitude (or easting) first, latitude (or northing) second",
        mend="exchange the two coordinates in the file", file=request.spec.path, layer=request.layer,
    )  # fmt: skip


def _datum(crs: CRS) -> CRS:
    """The geographic system, without heights, that a system's coordinates stand for."""
    return flat(crs).geodetic_crs.to_2d()


def doubt_shift(source: object, target: str, box: Box) -> tuple[str, ...]:
    """A doubt where the change between two datums is known to 5 m or worse on this machine, as from NAD27.

    Args:
        source: The file's CRS.
        target: The ranch's CRS.
        box: Least x, least y, greatest x, greatest y in the ranch's CRS.
    """
    own, goal = CRS.from_user_input(source), CRS.from_user_input(target)
    if _datum(own) == _datum(goal):
        return ()
    west, south, east, north = Transformer.from_crs(target, WGS84, always_xy=True).transform_bounds(*box)
    area = AreaOfInterest(max(west, -180.0), max(south, -90.0), min(east, 180.0), min(north, 90.0))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        ways = TransformerGroup(own, target, always_xy=True, area_of_interest=area).transformers
    best = ways[0].accuracy if ways else -1.0
    if 0.0 <= best < DOUBTED_SHIFT_M:
        return ()
    how = f"to {best:.0f} m only" if best >= 0.0 else "to an unknown accuracy"
    return (f"the change from {crs_name(crs_text(own))} to the ranch's CRS is known {how}; use newer coordinates.",)
