"""Bait places against the published spacing of 1 to 2 km: which double up, which leave holes, what lies outside."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import label
from scipy.spatial import cKDTree

from boscage.errors import InputError
from boscage.model.portfolio import BaitOptions, BaitPlace, BaitSpacing
from boscage.values import Grid, Printer

LEAST_GAP_HA = 1.0
_ROWS = 256


def check_bait_spacing(
    places: NDArray[np.float64],
    options: BaitOptions,
    *,
    printer: Printer,
    land: tuple[Grid, NDArray[np.bool_]] | None = None,
    days_without_visit: Sequence[float] = (),
) -> BaitSpacing:
    """Distance of every bait place to its nearest neighbour, and the ground that bait reaches.

    A place at exactly the least or the greatest distance is spaced.

    Args:
        places: (N, 2) east and north, metres.
        land: Grid and (rows, cols) bool, where bait may be put; None leaves the ground out.
        days_without_visit: Days that bait has lain at each place without a visit, NaN where it was visited or that is
            not known; empty to leave it out.

    Raises:
        InputError: A coordinate is no number, or the numbers do not match.
    """
    points = np.asarray(places, dtype=np.float64).reshape(-1, 2)
    if not np.isfinite(points).all():
        bad = int(np.flatnonzero(~np.isfinite(points).all(axis=1))[0]) + 1
        raise InputError("a bait place has no place", expected="east and north", row=bad)
    if len(days_without_visit) not in (0, len(points)):
        raise InputError(f"there are {len(days_without_visit)} days for {len(points)} bait places", expected="one each")
    nearest, away = _nearest(points)
    ground = _Ground(points, land, options.reach.m) if land is not None else None
    made = tuple(_place(k, nearest, away, options, ground) for k in range(len(points)))
    expected = (0, 0)
    if ground is not None:
        expected = (_count(ground.land_ha, options.most.m), _count(ground.land_ha, options.least.m))
    nan = math.nan
    return BaitSpacing(
        places=made, reached_ha=ground.reached_ha if ground else nan,
        unreached_ha=ground.unreached_ha if ground else nan,
        gaps=ground.gaps if ground else np.zeros((0, 3)), expected=expected,
        notes=(*_notes(made, options, printer), *_ground_notes(ground, expected, len(points), options, printer),
               *_visit_notes(days_without_visit, options)),
    )  # fmt: skip


def _count(land_ha: float, spacing_m: float) -> int:
    """Places that ground takes at one for each square of the spacing, at least one."""
    return max(1, round(land_ha * 1e4 / spacing_m**2)) if spacing_m > 0.0 else 0


def _nearest(points: NDArray[np.float64]) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
    """Index of and distance to the nearest other place; -1 and NaN for a single one."""
    if len(points) < 2:
        return np.full(len(points), -1), np.full(len(points), np.nan)
    apart = np.hypot(*(points[:, None] - points[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    nearest = apart.argmin(axis=1)
    return nearest, apart[np.arange(len(points)), nearest]


class _Ground:
    """Land by the bait place nearest to it.

    Args:
        points: (N, 2) bait places.
        land: Grid and mask.
        reach_m: Distance over which bait draws.
    """

    def __init__(self, points: NDArray[np.float64], land: tuple[Grid, NDArray[np.bool_]], reach_m: float) -> None:
        grid, mask = land
        if mask.shape != grid.shape:
            raise InputError(f"the land is {mask.shape[0]} by {mask.shape[1]} cells", expected="the grid's own size")
        self.cell_ha, self.reach_ha = grid.cell_ha, math.pi * reach_m**2 / 1e4
        self.own = np.zeros(len(points), dtype=np.int64)
        self.within = np.zeros(len(points), dtype=np.int64)
        beyond = mask.copy()
        away = np.zeros(grid.shape, dtype=np.float32)
        tree = cKDTree(points) if len(points) else None
        for begin in range(0, grid.rows, _ROWS):
            rows, cols = np.nonzero(mask[begin : begin + _ROWS])
            if tree is None or not rows.size:
                continue
            rows = rows + begin
            east, north = grid.west + (cols + 0.5) * grid.cell_m, grid.north - (rows + 0.5) * grid.cell_m
            middles = np.column_stack([east, north])
            distance, owner = tree.query(middles)
            away[rows, cols] = distance
            near = distance <= reach_m
            beyond[rows[near], cols[near]] = False
            self.own += np.bincount(owner[near], minlength=len(points))
            self.within += np.array([np.sum(np.hypot(*(middles - p).T) <= reach_m) for p in points])
        self.land_ha = float(mask.sum()) * grid.cell_ha
        self.unreached_ha = float(beyond.sum()) * grid.cell_ha
        self.reached_ha = self.land_ha - self.unreached_ha
        self.gaps = _gaps(grid, beyond, away)

    def outside_share(self, k: int) -> float:
        """Share of a place's circle that lies off the land."""
        return min(1.0, max(0.0, 1.0 - float(self.within[k]) * self.cell_ha / self.reach_ha))

    def own_ha(self, k: int) -> float:
        """Land within reach of a place and nearer to it than to another."""
        return float(self.own[k]) * self.cell_ha


def _gaps(grid: Grid, beyond: NDArray[np.bool_], away: NDArray[np.float32]) -> NDArray[np.float64]:
    """(G, 3): the spot of each stretch beyond reach that is farthest from bait, and its hectares, widest first."""
    stretches, count = label(beyond)
    sizes = np.bincount(stretches.ravel(), minlength=count + 1)[1:] * grid.cell_ha
    made = []
    for number in np.flatnonzero(sizes >= LEAST_GAP_HA) + 1:
        rows, cols = np.nonzero(stretches == number)
        far = int(np.argmax(away[rows, cols]))
        made.append((*grid.centre(int(rows[far]), int(cols[far])), float(sizes[number - 1])))
    return np.array(sorted(made, key=lambda g: -g[2])).reshape(-1, 3)


def _place(
    k: int, nearest: NDArray[np.int64], away: NDArray[np.float64], options: BaitOptions, ground: _Ground | None
) -> BaitPlace:
    if nearest[k] < 0:
        state = "alone"
    elif away[k] < options.least.m:
        state = "too near"
    else:
        state = "too far" if away[k] > options.most.m else "spaced"
    return BaitPlace(
        nearest=int(nearest[k]) if nearest[k] >= 0 else None, nearest_m=float(away[k]), state=state,  # type: ignore[arg-type]
        outside_share=ground.outside_share(k) if ground else math.nan, own_ha=ground.own_ha(k) if ground else math.nan,
    )  # fmt: skip


def _notes(places: Sequence[BaitPlace], options: BaitOptions, printer: Printer) -> list[str]:
    least, most = printer.length(options.least.m), printer.length(options.most.m)
    said = []
    for k, place in enumerate(places):
        other = place.nearest
        if other is not None and place.state == "too near" and not (places[other].nearest == k and other < k):
            pair, distance = f"Bait places {k + 1} and {other + 1}", printer.length(place.nearest_m)
            said.append(f"{pair} are {distance} apart, under {least}: they feed the same animals; move one.")
        if place.state == "too far":
            distance = printer.length(place.nearest_m)
            said.append(f"Bait place {k + 1} has none within {most}; the nearest is {distance} off.")
        if place.outside_share > 0.5:
            share = f"{100.0 * place.outside_share:.0f} %"
            said.append(f"{share} of the ground that bait place {k + 1} draws on lies off the land with permission.")
    return said


def _ground_notes(
    ground: _Ground | None, expected: tuple[int, int], count: int, options: BaitOptions, printer: Printer
) -> list[str]:
    if ground is None:
        return []
    least, most = printer.length(options.least.m), printer.length(options.most.m)
    said = [f"{printer.area(ground.land_ha)} take {expected[0]} bait places at {most} to {expected[1]} at {least}; "
            f"there are {count}."]  # fmt: skip
    if ground.unreached_ha >= LEAST_GAP_HA:
        reach = printer.length(options.reach.m)
        said.append(f"{printer.area(ground.unreached_ha)} lie farther than {reach} from any bait.")
    return said


def _visit_notes(days: Sequence[float], options: BaitOptions) -> list[str]:
    late = [k + 1 for k, d in enumerate(days) if d > options.wait_days]
    if not late:
        return []
    places = ", ".join(str(k) for k in late)
    return [
        f"No visit in {options.wait_days:g} days, in which 80 % of places are first visited: {places}; move the bait."
    ]
