"""United States National Grid read back: the square that a reference names."""

from __future__ import annotations

import re
from dataclasses import dataclass

import mgrs
from pyproj import Transformer

from boscage.errors import InputError

_FORM = re.compile(r"^(\d{1,2})([C-HJ-NP-X])([A-HJ-NP-Z]{2})(\d*)$")


@dataclass(frozen=True, kw_only=True)
class GridSquare:
    """The square of a grid reference, WGS 84.

    Attributes:
        zone: UTM zone; `is_north` its hemisphere.
        east_m, north_m: South-west corner in that zone.
        side_m: Side of the square: 100,000 m without digits, 1 m with ten.
        lat, lon: Middle of the square.
    """

    zone: int
    is_north: bool
    east_m: float
    north_m: float
    side_m: float
    lat: float
    lon: float


def read_usng(text: str) -> GridSquare:
    """The square of a reference such as `14R PU 43948 75148`, blanks or not.

    Raises:
        InputError: The text is no reference, or has an odd number of digits.

    >>> square = read_usng("38S MB 44 88")
    >>> round(square.lat, 5), round(square.lon, 5), square.side_m
    (33.33424, 44.40363, 1000.0)
    """
    bare = "".join(text.split()).upper()
    match = _FORM.match(bare)
    if match is None or len(match[4]) % 2 or len(match[4]) > 10 or not 1 <= int(match[1]) <= 60:
        raise InputError(
            f"{text!r} is no grid reference", expected="zone, square and an even number of digits, such as "
            "14R PU 43948 75148", mend="copy it again, with all its letters and digits",
        )  # fmt: skip
    try:
        zone, letter, east, north = mgrs.MGRS().MGRSToUTM(bare)
    except mgrs.core.MGRSError as error:
        raise InputError(
            f"{text!r} names a square that does not exist", expected="a square of that zone",
            mend="copy it again, with all its letters and digits",
        ) from error  # fmt: skip
    side = 10.0 ** (5 - len(match[4]) // 2)
    # some releases of the library give the corner and some the middle
    east, north = east // side * side, north // side * side
    crs = f"EPSG:{(32600 if letter == 'N' else 32700) + zone}"
    lon, lat = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform(east + side / 2, north + side / 2)
    return GridSquare(
        zone=zone, is_north=letter == "N", east_m=float(east), north_m=float(north), side_m=side, lat=lat, lon=lon
    )
