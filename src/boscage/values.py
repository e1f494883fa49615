"""Small frozen values used instead of bare numbers and tuples, and how quantities are read and printed."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Self

from boscage.errors import UnitError

_QUANTITY = re.compile(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z]+)?\s*$")


@dataclass(frozen=True, order=True)
class _Quantity:
    """A number in the SI unit of its kind, read from text that must carry a unit."""

    UNITS: ClassVar[Mapping[str, float]] = {}
    KIND: ClassVar[str] = "quantity"
    EXAMPLE: ClassVar[str] = ""

    si: float

    @classmethod
    def parse(cls, text: object) -> Self:
        """Read a quantity such as `60ft`.

        Raises:
            UnitError: The text is no number with a unit, the unit is unknown, or a bare number is given.
        """
        units = ", ".join(cls.UNITS)
        expected = f"a {cls.KIND} with its unit, such as {cls.EXAMPLE} (units: {units})"
        match = _QUANTITY.match(text) if isinstance(text, str) else None
        if isinstance(text, bool) or match is None:
            shown = f"{text}" if isinstance(text, int | float) and not isinstance(text, bool) else f"{text!r}"
            wrong = "has no unit" if isinstance(text, int | float) and not isinstance(text, bool) else "is not one"
            raise UnitError(
                f"the {cls.KIND} {shown} {wrong}", expected=expected, mend="write the unit behind the number"
            )
        number, unit = match.groups()
        if unit is None:
            raise UnitError(
                f"the {cls.KIND} {text.strip()} has no unit",
                expected=expected,
                mend="write the unit behind the number",
            )
        if unit not in cls.UNITS:
            raise UnitError(f"the {cls.KIND} {text.strip()!r} has an unknown unit", expected=expected)
        return cls(float(number) * cls.UNITS[unit])


@dataclass(frozen=True, order=True)
class Length(_Quantity):
    """A length; `m` is metres.

    >>> Length.parse("60ft").m
    18.288
    """

    UNITS: ClassVar[Mapping[str, float]] = {
        "m": 1.0, "cm": 0.01, "mm": 0.001, "km": 1000.0, "ft": 0.3048, "in": 0.0254, "yd": 0.9144, "mi": 1609.344,
    }  # fmt: skip
    KIND: ClassVar[str] = "length"
    EXAMPLE: ClassVar[str] = "18.3m or 60ft"

    @property
    def m(self) -> float:
        """Metres."""
        return self.si


@dataclass(frozen=True, order=True)
class Mass(_Quantity):
    """A mass; `kg` is kilograms.

    >>> round(Mass.parse("50lb").kg, 3)
    22.68
    """

    UNITS: ClassVar[Mapping[str, float]] = {"kg": 1.0, "g": 0.001, "lb": 0.45359237, "oz": 0.028349523125}
    KIND: ClassVar[str] = "mass"
    EXAMPLE: ClassVar[str] = "22.7kg or 50lb"

    @property
    def kg(self) -> float:
        """Kilograms."""
        return self.si


@dataclass(frozen=True)
class Bearing:
    """A direction in degrees clockwise from its north, in [0, 360)."""

    degrees: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "degrees", self.degrees % 360.0)

    def reverse(self) -> Bearing:
        """The opposite direction.

        >>> Bearing(350.0).reverse()
        Bearing(degrees=170.0)
        """
        return Bearing(self.degrees + 180.0)


@dataclass(frozen=True)
class Bounds:
    """An upright rectangle in metres east and north: west, south, east, north."""

    west: float
    south: float
    east: float
    north: float

    def padded(self, margin_m: float) -> Bounds:
        """The rectangle grown by a margin on every side."""
        return Bounds(self.west - margin_m, self.south - margin_m, self.east + margin_m, self.north + margin_m)

    def overlaps(self, other: Bounds) -> bool:
        """Whether the two rectangles share any ground."""
        return (
            self.west < other.east and other.west < self.east and self.south < other.north and other.south < self.north
        )

    @property
    def width(self) -> float:
        """Extent from west to east, metres."""
        return self.east - self.west

    @property
    def height(self) -> float:
        """Extent from south to north, metres."""
        return self.north - self.south


@dataclass(frozen=True)
class Grid:
    """A north-up raster frame of square cells; row 0 is the northernmost.

    Attributes:
        crs: Coordinate reference system as text that pyproj reads; projected, metres.
        west: Easting of the left edge, metres.
        north: Northing of the top edge, metres.
        cell_m: Cell width, metres.
        rows: Number of rows.
        cols: Number of columns.
    """

    crs: str
    west: float
    north: float
    cell_m: float
    rows: int
    cols: int

    @classmethod
    def covering(cls, bounds: Bounds, *, cell_m: float, crs: str) -> Grid:
        """The smallest grid over the bounds whose edges are whole multiples of the cell.

        >>> Grid.covering(Bounds(3.0, 4.0, 21.0, 29.0), cell_m=10.0, crs="EPSG:32615").rows
        3
        """
        west = math.floor(bounds.west / cell_m) * cell_m
        north = math.ceil(bounds.north / cell_m) * cell_m
        cols = max(1, math.ceil((bounds.east - west) / cell_m - 1e-9))
        rows = max(1, math.ceil((north - bounds.south) / cell_m - 1e-9))
        return cls(crs, west, north, cell_m, rows, cols)

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.rows, self.cols

    @property
    def bounds(self) -> Bounds:
        """The rectangle the grid covers."""
        south = self.north - self.rows * self.cell_m
        return Bounds(self.west, south, self.west + self.cols * self.cell_m, self.north)

    @property
    def cell_ha(self) -> float:
        """Area of one cell in hectares."""
        return self.cell_m**2 / 10_000.0

    @property
    def geotransform(self) -> tuple[float, float, float, float, float, float]:
        """Affine coefficients a, b, c, d, e, f: x = a*col + b*row + c, y = d*col + e*row + f."""
        return (self.cell_m, 0.0, self.west, 0.0, -self.cell_m, self.north)

    def centre(self, row: float, col: float) -> tuple[float, float]:
        """East and north of a cell's centre, metres."""
        return self.west + (col + 0.5) * self.cell_m, self.north - (row + 0.5) * self.cell_m

    def index(self, x_m: float, y_m: float) -> tuple[int, int]:
        """Row and column of the cell that holds a place; it may lie outside the grid."""
        return math.floor((self.north - y_m) / self.cell_m), math.floor((x_m - self.west) / self.cell_m)

    def holds(self, row: int, col: int) -> bool:
        """Whether the row and column are inside the grid."""
        return 0 <= row < self.rows and 0 <= col < self.cols

    def window(self, row: int, col: int, rows: int, cols: int) -> Grid:
        """The part of the grid that starts at a cell, cut off at the far edges."""
        rows, cols = min(rows, self.rows - row), min(cols, self.cols - col)
        west, north = self.west + col * self.cell_m, self.north - row * self.cell_m
        return Grid(self.crs, west, north, self.cell_m, rows, cols)


def format_ddm(lat: float, lon: float, *, digits: int = 3) -> tuple[str, str]:
    """Latitude and longitude as degrees and decimal minutes; minutes that round to 60 carry into the degrees.

    >>> format_ddm(29.999999, -95.999)
    ('30 00.000 N', '095 59.940 W')
    """
    return _ddm(lat, 2, "NS", digits), _ddm(lon, 3, "EW", digits)


def _ddm(angle: float, width: int, letters: str, digits: int) -> str:
    units = round(abs(angle) * 60 * 10**digits)
    degrees, rest = divmod(units, 60 * 10**digits)
    letter = letters[1] if angle < 0 and units else letters[0]
    return f"{degrees:0{width}d} {rest / 10**digits:0{digits + 3}.{digits}f} {letter}"


@dataclass(frozen=True)
class Printer:
    """Prints quantities for people in US customary or metric units, with no more digits than they deserve.

    >>> Printer("us").length(402.336), Printer("metric").length(402.336)
    ('1,320 ft', '402 m')
    """

    units: str = "us"

    def length(self, metres: float) -> str:
        """A ground distance: feet up to half a mile, then miles; metres up to a kilometre, then kilometres."""
        if self.units == "us":
            feet = metres / 0.3048
            return f"{_three(feet)} ft" if feet < 2640 else f"{metres / 1609.344:.1f} mi"
        return f"{_three(metres)} m" if metres < 1000 else f"{metres / 1000:.1f} km"

    def height(self, metres: float) -> str:
        """An elevation or a tree height, whole feet or metres."""
        return f"{metres / 0.3048:,.0f} ft" if self.units == "us" else f"{metres:,.0f} m"

    def small(self, metres: float) -> str:
        """A short length on the ground or in the soil: inches, or centimetres."""
        return f"{metres / 0.0254:.0f} in" if self.units == "us" else f"{metres * 100:.0f} cm"

    def area(self, hectares: float) -> str:
        """An area of land: acres, or hectares."""
        return f"{_three(hectares / 0.40468564224)} ac" if self.units == "us" else f"{_three(hectares)} ha"

    def mass(self, kg: float) -> str:
        """A mass: pounds, or kilograms."""
        return f"{_three(kg / 0.45359237)} lb" if self.units == "us" else f"{_three(kg)} kg"

    def per_area(self, per_km2: float) -> str:
        """A density over land: per 100 acres, or per square kilometre."""
        if self.units == "us":
            return f"{_two(per_km2 * 0.40468564224)} per 100 ac"
        return f"{_two(per_km2)} per km²"

    def pressure(self, mpa: float) -> str:
        """A soil's resistance: pounds per square inch, or megapascals."""
        return f"{_two(mpa * 145.03773773)} psi" if self.units == "us" else f"{mpa:.1f} MPa"


def _three(number: float) -> str:
    """Three figures at the most: 1,320; 98.5 becomes 98; 4.2 stays 4.2."""
    if abs(number) < 9.95:
        return f"{number:.1f}"
    return f"{round(number, -1 if abs(number) >= 1000 else 0):,.0f}"


def _two(number: float) -> str:
    """Two figures at the most, never in scientific notation."""
    if number == 0:
        return "0"
    digits = 1 - math.floor(math.log10(abs(number)))
    rounded = round(number, digits)
    return f"{rounded:,.{max(0, digits)}f}" if abs(rounded) < 10 else f"{rounded:,.0f}"
