"""Trees: those measured with tape and compass, and those seen from above."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from boscage.errors import InputError
from boscage.model.rig import Stem
from boscage.values import Bounds

Floats = NDArray[np.float64]

# Diameter of the window round a top, m: base + slope h + square h**2. The last three are those of Popescu and Wynne
# (2004), PE&RS 70:589-604, where the window is as wide as one crown; `close` was fitted to simulated woods of 200 to
# 800 trees a hectare whose crowns overlap, and keeps more of the trees that stand near taller ones. On a rough canopy
# it takes branches for trees: a crown of 10 m in a lidar survey of two returns a square metre falls into five to ten.
WINDOWS: Mapping[str, tuple[float, float, float]] = {
    "close": (1.0, 0.04, 0.0),
    "combined": (2.51503, 0.0, 0.00901),
    "deciduous": (3.09632, 0.0, 0.00895),
    "pines": (3.75105, -0.17919, 0.01241),
}

# dbh in cm = a (height in m x crown diameter in m)**b exp(s**2 / 2): Jucker et al. (2017), Global Change Biology
# 23:177-190, all the world's trees, and broadleaf and conifer trees of the temperate mixed forests of North America.
DIAMETERS: Mapping[str, tuple[float, float, float]] = {
    "any": (0.557, 0.809, 0.056),
    "broadleaf": (0.367, 0.887, 0.0),
    "conifer": (0.861, 0.755, 0.0),
}
AUTO = "auto"
CROWDED_PER_HA = 1000.0  # tops on a hectare of canopy above which `auto` no longer takes every top for a tree
WIDEST_WINDOW_M = 60.0
LOWEST_TOP_M = 0.5


@dataclass(frozen=True, kw_only=True)
class TreeOptions:
    """How trees are found in canopy heights.

    Attributes:
        window: `close`, `combined`, `deciduous` or `pines`; or the window's own diameter in metres as three numbers:
            base, times the height, times its square. `auto` is `close`, and `combined` in squares of 20 m where `close`
            finds more than 1,000 tops on a hectare of canopy, which are branches.
        least_height_m: Lower tops are no trees, metres.
        group: `any`, `broadleaf` or `conifer`: the equation that gives the stem's diameter from height and crown.

    Raises:
        InputError: A word is unknown, the least height is under 0.5 m, or the window has no width at some height.
    """

    window: str | tuple[float, float, float] = AUTO
    least_height_m: float = 5.0
    group: str = "any"

    def __post_init__(self) -> None:
        if isinstance(self.window, str) and self.window not in (AUTO, *WINDOWS):
            raise InputError(
                f"the window is {self.window!r}", expected=f"one of {', '.join((AUTO, *WINDOWS))}, or three numbers",
                field="window",
            )  # fmt: skip
        if self.group not in DIAMETERS:
            raise InputError(f"the group is {self.group!r}", expected=f"one of {', '.join(DIAMETERS)}", field="group")
        if not LOWEST_TOP_M <= self.least_height_m < math.inf:
            raise InputError(
                f"the least height is {self.least_height_m:g} m", expected=f"{LOWEST_TOP_M} m or more",
                field="least_height",
            )  # fmt: skip
        low, high = self.window_range_m()
        if not 0.0 < low <= high <= WIDEST_WINDOW_M:
            raise InputError(
                f"the window is {low:.1f} m to {high:.1f} m wide for trees up to 60 m",
                expected=f"over 0 and up to {WIDEST_WINDOW_M:.0f} m at every height", field="window",
            )  # fmt: skip

    @property
    def coefficients(self) -> tuple[float, float, float]:
        """Base, slope and square of the window's diameter, metres; for `auto` those of `close`."""
        if self.window == AUTO:
            return WINDOWS["close"]
        return WINDOWS[self.window] if isinstance(self.window, str) else self.window

    @property
    def crowded(self) -> tuple[float, float, float] | None:
        """The same for squares with too many tops; None where the window is the same everywhere."""
        return WINDOWS["combined"] if self.window == AUTO else None

    def window_m(self, height_m: float | Floats) -> Floats:
        """Diameter of the window round a top of this height, metres.

        >>> round(float(TreeOptions(window="pines").window_m(20.0)), 4)
        5.1312
        """
        base, slope, square = self.coefficients
        h = np.asarray(height_m, dtype=np.float64)
        return base + slope * h + square * h**2

    def window_range_m(self) -> tuple[float, float]:
        """Least and greatest diameter of the window (of both, for `auto`) between the least height and 60 m."""
        heights = np.linspace(min(self.least_height_m, 60.0), 60.0, 1201)
        both = (self.coefficients, self.crowded or self.coefficients)
        widths = [base + slope * heights + square * heights**2 for base, slope, square in both]
        return float(np.min(widths)), float(np.max(widths))


def estimate_dbh_m(height_m: Floats, crown_radius_m: Floats, group: str = "any") -> Floats:
    """Diameter at breast height in metres from height and crown: an estimate, never a measurement.

    References: Jucker et al. (2017); see `DIAMETERS`.

    >>> round(float(estimate_dbh_m(np.array(20.0), np.array(3.0))), 3)
    0.268
    """
    a, b, s = DIAMETERS[group]
    product = np.asarray(height_m, dtype=np.float64) * 2.0 * np.asarray(crown_radius_m, dtype=np.float64)
    return a * product**b * math.exp(s * s / 2.0) / 100.0


@dataclass(frozen=True, kw_only=True, eq=False)
class TreeMap:
    """Trees seen from above, from north to south by the rows of the canopy raster.

    Only trees whose top shows are there: those under or close beside a taller one are missed. Their diameter is an
    estimate from height and crown.

    Attributes:
        x_m, y_m: Places of the tops, metres east and north in `crs`; shape (n,).
        height_m: Canopy height at the top, metres.
        crown_radius_m: Radius of the crown as far as it shows, metres.
        dbh_m: Estimated diameter at breast height, metres.
        crs: CRS of the places.
        cell_m: Cell of the canopy raster, metres.
        options: How they were found.
        canopy_ha: Ground that had canopy heights, hectares.
        doubts: Sentences on what may be wrong.
    """

    x_m: Floats
    y_m: Floats
    height_m: Floats
    crown_radius_m: Floats
    dbh_m: Floats
    crs: str
    cell_m: float
    options: TreeOptions
    canopy_ha: float
    doubts: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.x_m)

    def taken(self, which: NDArray) -> TreeMap:
        """The trees at some indices, or where a mask is true."""
        names = [f.name for f in fields(self)][:5]
        return replace(self, **{name: getattr(self, name)[which] for name in names})

    def within(self, bounds: Bounds) -> TreeMap:
        """The trees inside a rectangle, its west and south edge included."""
        inside = (bounds.west <= self.x_m) & (self.x_m < bounds.east)
        return self.taken(inside & (bounds.south <= self.y_m) & (self.y_m < bounds.north))

    def stems(self) -> tuple[Stem, ...]:
        """The trees as stems called T1, T2, ...; whoever shows their diameters must say that they are estimates."""
        return tuple(
            Stem(stem=f"T{i}", x_m=float(x), y_m=float(y), dbh_m=float(d))
            for i, (x, y, d) in enumerate(zip(self.x_m, self.y_m, self.dbh_m, strict=True), start=1)
        )


@dataclass(frozen=True, kw_only=True)
class StemList:
    """Stems measured on the ground.

    Attributes:
        stems: In file order, metres.
        frame: What the places are counted in: `pivot` (metres east and true north of the pivot), `crs` (easting and
            northing in `crs`) or `grid` (a grid of the writer's own; its y axis is taken as true north).
        crs: The CRS of the frame `crs`, else None.
        declination_deg: East of true north; bearings printed are true less this.
        convergence_deg: Angle of grid north east of true north at the stems in the frame `crs`, else 0.
        pivot: East and north of the pivot in the frame: (0, 0) for tape and compass, else None.
        doubts: Sentences on what may be wrong.
    """

    stems: tuple[Stem, ...]
    frame: str
    crs: str | None = None
    declination_deg: float = 0.0
    convergence_deg: float = 0.0
    pivot: tuple[float, float] | None = None
    doubts: tuple[str, ...] = ()

    def magnetic_deg(self, east_m: float, north_m: float) -> float:
        """Magnetic bearing of a direction in the frame, degrees from 0 up to 360.

        >>> StemList(stems=(), frame="pivot", declination_deg=-0.6).magnetic_deg(1.0, 0.0)
        90.6
        """
        grid = math.degrees(math.atan2(east_m, north_m))
        return (grid + self.convergence_deg - self.declination_deg) % 360.0
