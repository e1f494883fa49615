"""Gaps in the canopy against shapely's largest inscribed circle, closed forms and open stem data.

Sources: shapely.maximum_inscribed_circle (GEOS); pad and circle sizes of NWCG, Helicopter Landing Zone Selection
(November 2020); approach surface of 14 CFR 77.23: limits of 12.5, 25, 50 and 100 ft at 100, 200, 400 and 800 ft,
7.125 degrees.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest
import shapely

from boscage.airlift.drop_points import DropGround, disk_values, floor_of
from boscage.airlift.gaps import CLOSE_M, GapSearch, widest_gaps
from boscage.airlift.landing import find_landings, half_width, screen_approaches
from boscage.model.drop import FT, HELICOPTERS, Gap
from boscage.values import Grid

CRS = "EPSG:32615"
LONGLEAF = Path(__file__).parents[1] / "data" / "stem_maps" / "longleaf.csv"


def open_shape(height: np.ndarray, grid: Grid, open_height: float) -> shapely.Geometry:
    """The open cells as one shape, exactly."""
    rows, cols = np.nonzero(height <= open_height)
    west, north = grid.west + cols * grid.cell_m, grid.north - rows * grid.cell_m
    return shapely.union_all(shapely.box(west, north - grid.cell_m, west + grid.cell_m, north))


def middle(grid: Grid) -> tuple[float, float]:
    return grid.west + grid.cols * grid.cell_m / 2, grid.north - grid.rows * grid.cell_m / 2


@pytest.mark.parametrize("seed", range(8))
def test_the_widest_circle_is_that_of_shapely(seed: int) -> None:
    """Random crowns and holes in the data on 60 x 80 cells: within a centimetre of the radius, far under a cell."""
    rng = np.random.default_rng(seed)
    grid = Grid(CRS, 500_000.0, 4_000_000.0, [1.0, 0.5, 2.0][seed % 3], 60, 80)
    rows, cols = np.mgrid[:60, :80]
    height = np.zeros((60, 80), dtype=np.float32)
    for _ in range(14):
        r, c, size = rng.uniform(0, 60), rng.uniform(0, 80), rng.uniform(2, 9)
        height[np.hypot(rows - r, cols - c) < size] = rng.uniform(4, 25)
    height[rng.random((60, 80)) < 0.002] = np.nan
    shape = open_shape(height, grid, 0.5)
    theirs = max(shapely.length(shapely.maximum_inscribed_circle(p, tolerance=0.001)) for p in shapely.get_parts(shape))
    (gap,) = widest_gaps(height, grid, middle(grid), GapSearch(open_height_m=0.5))
    assert gap.diameter_m / 2 == pytest.approx(theirs, abs=CLOSE_M + 0.0011)
    circle = shapely.Point(gap.x_m, gap.y_m).buffer(gap.diameter_m / 2 - 1e-6, quad_segs=64)
    assert shapely.covers(shape, circle)


def test_a_known_clearing() -> None:
    """A clearing of 9 x 21 cells of 1 m in closed forest takes a circle of 9 m; of 9 x 9 too."""
    grid = Grid(CRS, 0.0, 50.0, 1.0, 50, 60)
    height = np.full((50, 60), 18.0, dtype=np.float32)
    height[20:29, 10:31] = 0.2
    (gap,) = widest_gaps(height, grid, (30.0, 30.0), GapSearch(open_height_m=0.4572))
    assert gap.diameter_m == pytest.approx(9.0, abs=2 * CLOSE_M)
    assert gap.y_m == pytest.approx(50.0 - 24.5, abs=0.05)
    height[24, 20] = np.nan
    (gap,) = widest_gaps(height, grid, (30.0, 30.0), GapSearch(open_height_m=0.4572))
    assert gap.diameter_m == pytest.approx(9.0, abs=2 * CLOSE_M), "one cell without data still leaves a side of 9 x 10"
    height[24, 16:26:3] = 0.5
    (gap,) = widest_gaps(height, grid, (30.0, 30.0), GapSearch(open_height_m=0.4572))
    assert gap.diameter_m < 8.0, "half a metre is over 18 in"


def test_the_widest_gap_of_a_longleaf_stand() -> None:
    """Longleaf pines (Platt, Evans and Rathbun 1988): crowns of 3 m drawn on a 1 m grid, against the empty circle.

    The circle round the same crowns as shapes, by shapely; each crown's cells reach at most a cell's diagonal farther.
    """
    with LONGLEAF.open() as file:
        stems = np.array([[float(r["x_m"]), float(r["y_m"])] for r in csv.DictReader(file)])
    grid = Grid(CRS, 0.0, 200.0, 1.0, 200, 200)
    x, y = np.meshgrid(np.arange(200) + 0.5, 199.5 - np.arange(200))
    crowns = shapely.union_all(shapely.buffer(shapely.points(stems), 3.0, quad_segs=16))
    height = np.where(shapely.intersects_xy(crowns, x, y), 20.0, 0.0).astype(np.float32)
    free = shapely.box(0, 0, 200, 200).difference(crowns)
    theirs = max(shapely.length(shapely.maximum_inscribed_circle(p, tolerance=0.01)) for p in shapely.get_parts(free))
    (gap,) = widest_gaps(height, grid, (100.0, 100.0), GapSearch(open_height_m=0.5))
    assert gap.diameter_m / 2 == pytest.approx(theirs, abs=math.sqrt(2.0))
    assert gap.diameter_m / 2 <= np.hypot(*(stems - [gap.x_m, gap.y_m]).T).min()


def test_sizes_of_landing_places() -> None:
    """33.528, 27.432 and 22.860 m; 30, 20 and 15 ft (NWCG)."""
    assert [HELICOPTERS[t].circle_m for t in "123"] == pytest.approx([33.528, 27.432, 22.860])
    assert [HELICOPTERS[t].pad_m / FT for t in "123"] == pytest.approx([30, 20, 15])


def flat(cell: float = 10.0, size: int = 301) -> DropGround:
    grid = Grid(CRS, -size * cell / 2, size * cell / 2, cell, size, size)
    field = np.zeros((size, size), dtype=np.float32)
    return DropGround(grid=grid, canopy_m=field, terrain_m=field + 100.0)


@pytest.mark.parametrize(("away_ft", "limit_ft"), [(100, 12.5), (200, 25), (400, 50), (800, 100)])
def test_approach_surface(away_ft: float, limit_ft: float) -> None:
    """14 CFR 77.23: one tree due east; half a foot over the limit shows, half a foot under does not."""
    ground = flat()
    kind = HELICOPTERS["3"]
    gap = Gap(x_m=0.0, y_m=0.0, diameter_m=40.0, reach_m=0.0)
    edge = kind.circle_m / 2
    col = ground.grid.index(edge + away_ft * FT, 0.0)[1]
    at = ground.grid.centre(0, col)[0] - edge
    limit = at / 8.0
    assert limit / FT == pytest.approx(limit_ft, abs=10.0 / FT / 8.0), "the cell holds the published distance"
    for extra, is_over in ((0.5 * FT, True), (-0.5 * FT, False)):
        canopy = ground.canopy_m.copy()
        canopy[150, col] = limit + extra
        made = screen_approaches(DropGround(grid=ground.grid, canopy_m=canopy, terrain_m=ground.terrain_m), gap, kind)
        east = next(a for a in made if a.bearing_deg == 90.0)
        assert (east.over_m > 0.0) is is_over
        assert east.known_share == 1.0
        if is_over:
            assert (east.at_m, east.over_m) == pytest.approx((at, extra), abs=1e-5)
        assert next(a for a in made if a.bearing_deg == 270.0).over_m < 0.0
    assert math.degrees(math.atan(1 / 8)) == pytest.approx(7.125, abs=5e-4)


def test_the_surface_is_500_ft_wide_at_its_end_and_4000_ft_long() -> None:
    ground, kind = flat(), HELICOPTERS["1"]
    gap = Gap(x_m=0.0, y_m=0.0, diameter_m=40.0, reach_m=0.0)
    assert half_width(4000 * FT, kind.circle_m) == pytest.approx(250 * FT)
    assert half_width(0.0, kind.circle_m) == pytest.approx(55 * FT)
    for along, aside, is_seen in ((1190, 60, True), (1190, 100, False), (1290, 0, False)):
        canopy = ground.canopy_m.copy()
        row, col = ground.grid.index(along + kind.circle_m / 2, aside)
        canopy[row, col] = 400.0
        made = screen_approaches(
            DropGround(grid=ground.grid, canopy_m=canopy, terrain_m=ground.terrain_m), gap, kind, (90.0,)
        )
        assert (made[0].over_m > 0.0) is is_seen


def test_ground_that_rises_eight_to_one_touches_the_surface() -> None:
    """Rising ground of 1 in 8 to the north from the circle's edge is the surface itself; 1 in 6 is over it."""
    base, kind = flat(), HELICOPTERS["3"]
    gap = Gap(x_m=0.0, y_m=0.0, diameter_m=22.86, reach_m=0.0)
    north = base.grid.north - (np.arange(301) + 0.5) * 10.0 - kind.circle_m / 2
    for run, sign in ((8.5, -1), (6.0, 1)):
        terrain = np.repeat(100.0 + np.maximum(north, 0.0)[:, None] / run, 301, axis=1).astype(np.float32)
        ground = DropGround(grid=base.grid, canopy_m=base.canopy_m, terrain_m=terrain)
        (made,) = screen_approaches(ground, gap, kind, (0.0,))
        assert math.copysign(1, made.over_m) == sign
    (unknown,) = screen_approaches(DropGround(grid=base.grid, canopy_m=base.canopy_m), gap, kind, (0.0,))
    assert (unknown.over_m, unknown.known_share) == (None, 0.0)


def test_a_landing_place_is_as_wide_as_its_type_asks() -> None:
    """A clearing of 90 ft and a bit takes types 2 and 3, not 1."""
    grid = Grid(CRS, 0.0, 120.0, 1.0, 120, 120)
    x, y = np.meshgrid(np.arange(120) + 0.5, 119.5 - np.arange(120))
    canopy = np.where(np.hypot(x - 60, y - 60) < 15.0, 0.3, 18.0).astype(np.float32)
    ground = DropGround(grid=grid, canopy_m=canopy, terrain_m=np.full((120, 120), 50.0, dtype=np.float32))
    found = {t: find_landings((60.0, 60.0), ground, HELICOPTERS[t], reach_m=50.0) for t in "123"}
    assert [len(found[t]) for t in "123"] == [0, 1, 1]
    assert found["2"][0].slope_percent == pytest.approx(0.0, abs=1e-9)
    assert not found["2"][0].below_surface, "forest all round, and data that end"
    assert all(a.known_share < 0.2 for a in found["2"][0].approaches)


def test_the_floor_is_the_plane_through_it() -> None:
    """Ground that rises by 3 in 100 to the east and 4 in 100 to the north slopes by 5 per cent."""
    grid = Grid(CRS, 0.0, 60.0, 1.0, 60, 60)
    x, y = np.meshgrid(np.arange(60) + 0.5, 59.5 - np.arange(60))
    ground = DropGround(
        grid=grid, canopy_m=np.zeros((60, 60), np.float32), terrain_m=(200 + 0.03 * x + 0.04 * y).astype(np.float32)
    )
    slope, level = floor_of(ground, Gap(x_m=30.0, y_m=20.0, diameter_m=14.0, reach_m=0.0))
    assert slope == pytest.approx(5.0, abs=1e-3)
    assert level == pytest.approx(200 + 0.9 + 0.8, abs=0.02)


def test_cells_off_the_grid_count_as_unknown() -> None:
    grid = Grid(CRS, 0.0, 60.0, 1.0, 60, 60)
    *_, values = disk_values(np.ones((60, 60), np.float32), grid, (0.0, 30.0), 20.0)
    assert np.isnan(values).mean() == pytest.approx(0.5, abs=0.01)
    assert values.size == pytest.approx(math.pi * 400, rel=0.01)


def test_only_the_ground_near_the_site_is_looked_at() -> None:
    """The same gaps on a large grid as on the part of it within twice the reach; none where the site is far off it."""
    rng = np.random.default_rng(3)
    grid = Grid(CRS, 0.0, 300.0, 1.0, 300, 300)
    height = np.where(rng.random((300, 300)) < 0.03, 15.0, 0.0).astype(np.float32)
    search = GapSearch(open_height_m=0.5, far_m=30.0, least_m=4.0, count=5)
    found = widest_gaps(height, grid, (150.0, 140.0), search)
    part = grid.window(300 - 140 - 60, 150 - 60, 120, 120)
    assert widest_gaps(height[100:220, 90:210], part, (150.0, 140.0), search) == found
    assert len(found) == 5 and all(g.diameter_m >= 4.0 for g in found)
    assert widest_gaps(height, grid, (900.0, 140.0), search) == ()


def test_an_approach_over_unknown_ground_is_not_below_the_surface() -> None:
    """Flat ground: all 24 approaches where the data reach far enough, none where they end or have a hole."""
    kind = HELICOPTERS["3"]
    (far,) = find_landings((0.0, 0.0), flat(), kind, reach_m=20.0, count=1)
    assert len(far.below_surface) == 24
    (short,) = find_landings((0.0, 0.0), flat(size=101), kind, reach_m=20.0, count=1)
    assert all(a.over_m < 0.0 for a in short.approaches) and short.below_surface == ()
    ground = flat()
    ground.canopy_m[150, 200] = np.nan
    (holed,) = find_landings((0.0, 0.0), ground, kind, reach_m=20.0, count=1)
    assert 90.0 not in {a.bearing_deg for a in holed.below_surface} and len(holed.below_surface) > 15
