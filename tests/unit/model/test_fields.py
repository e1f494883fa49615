"""Cells inside shapes and distances to shapes, against shapely and closed forms."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.model.fields import burn, cell_centres, cells_along, distance_field
from boscage.values import Grid

GRID = Grid("EPSG:32615", 1000.0, 5000.0, 10.0, 40, 60)


def test_burn_takes_cells_whose_centre_is_inside() -> None:
    shape = shapely.union_all([shapely.Point(1200, 4800).buffer(93), shapely.box(1400, 4650, 1433, 4700)])
    hole = shape.difference(shapely.Point(1200, 4800).buffer(31))
    x, y = np.meshgrid(*cell_centres(GRID))
    assert np.array_equal(burn(hole, GRID), shapely.contains_xy(hole, x, y))
    assert burn(hole, GRID).sum() > 100


def test_burn_of_nothing_and_of_shapes_off_the_grid() -> None:
    assert not burn(shapely.Polygon(), GRID).any()
    assert not burn(shapely.box(0, 0, 10, 10), GRID).any()
    assert not burn(shapely.LineString([(1000, 4900), (1200, 4900)]), GRID).any()


def test_distance_is_never_short_and_hardly_long() -> None:
    shapes = np.array([shapely.LineString([(1050, 4950), (1300, 4700), (1500, 4700)]), shapely.Point(1580, 4620)])
    x, y = np.meshgrid(*cell_centres(GRID))
    true = np.minimum(*[shapely.distance(s, shapely.points(x, y)) for s in shapes])
    ours = distance_field(shapes, GRID)
    assert np.all(ours >= true - 1e-3)
    assert np.all(ours <= np.sqrt(true**2 + 0.25) + 1e-3)


def test_distance_is_zero_inside_polygons_and_infinite_without_shapes() -> None:
    pond = shapely.Point(1300, 4800).buffer(80)
    field = distance_field(np.array([pond]), GRID)
    assert np.array_equal(field == 0.0, burn(pond, GRID))
    assert field[0, 0] == pytest.approx(shapely.distance(pond, shapely.Point(1005, 4995)), abs=0.01)
    assert np.isinf(distance_field(np.array([], dtype=object), GRID)).all()


@settings(derandomize=True, deadline=None, max_examples=60)
@given(st.lists(st.tuples(st.floats(1001, 1599), st.floats(4601, 4999)), min_size=2, max_size=5, unique=True))
def test_cells_along_holds_every_cell_that_a_line_crosses_for_long(points: list[tuple[float, float]]) -> None:
    line = shapely.LineString(points)
    legs = shapely.linestrings([points[k : k + 2] for k in range(len(points) - 1)])
    rows, cols = cells_along(line, GRID)
    found = set(zip(rows.tolist(), cols.tolist(), strict=True))
    for row in range(GRID.rows):
        for col in range(GRID.cols):
            x, y = GRID.centre(row, col)
            inside = shapely.box(x - 4.999999, y - 4.999999, x + 4.999999, y + 4.999999)
            length = shapely.length(shapely.intersection(legs, inside)).max()
            if length > GRID.cell_m / 3 + 1e-6:
                assert (row, col) in found
    for row, col in found:
        x, y = GRID.centre(row, col)
        assert line.distance(shapely.box(x - 5, y - 5, x + 5, y + 5)) < 1e-6
