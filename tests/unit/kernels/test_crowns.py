"""Tree tops against a plain twin, and shapes whose answer is known."""

from __future__ import annotations

import itertools
import math

import numba
import numpy as np
import pytest

from boscage.kernels.crowns import (
    TopOut,
    Window,
    check_windows,
    count_blocks,
    list_tops,
    mark_tops,
    measure_tops,
    window_radius,
)

CLOSE = Window(1.0, 0.04, 0.0)
COMBINED = Window(2.51503, 0.0, 0.00901)


def marks(canopy: np.ndarray, window: Window = COMBINED, cell_m: float = 1.0, least_m: float = 5.0) -> np.ndarray:
    out = np.zeros(canopy.shape, np.uint8)
    mark_tops(np.ascontiguousarray(canopy, np.float32), (0, canopy.shape[0]), window, cell_m, least_m, out)
    return out


def measured(canopy: np.ndarray, cells: list[tuple[int, int]], cell_m: float = 1.0) -> TopOut:
    out = TopOut(*(np.empty(len(cells), np.float32) for _ in TopOut._fields))
    measure_tops(np.ascontiguousarray(canopy, np.float32), np.array(cells, np.int64).reshape(-1, 2), cell_m, out)
    return out


def twin(canopy: np.ndarray, window: Window, cell_m: float, least_m: float) -> np.ndarray:
    """The rule as its words say it, for canopies without equal neighbours."""
    rows, cols = canopy.shape
    out = np.zeros(canopy.shape, np.uint8)
    r, c = np.mgrid[:rows, :cols]
    for row in range(rows):
        for col in range(cols):
            h = canopy[row, col]
            if not h >= least_m:
                continue
            diameter = window.base + window.slope * min(h, 60.0) + window.square * min(h, 60.0) ** 2
            reach = max(1.0, diameter / 2 / cell_m)
            inside = (r - row) ** 2 + (c - col) ** 2 <= reach**2
            out[row, col] = not (canopy[inside] > h).any()
    return out


def cone(size: int, row: float, col: float, height: float, fall: float) -> np.ndarray:
    r, c = np.mgrid[:size, :size]
    return np.maximum(height - fall * np.hypot(r - row, c - col), 0.0)


@pytest.mark.nojit
@pytest.mark.parametrize("window", [CLOSE, COMBINED, Window(3.75105, -0.17919, 0.01241)])
@pytest.mark.parametrize("cell_m", [0.5, 1.0, 2.0])
def test_tops_equal_the_plain_twin(window: Window, cell_m: float) -> None:
    rng = np.random.default_rng(5)
    canopy = rng.uniform(0.0, 35.0, (24, 31)).astype(np.float32)
    canopy[rng.random(canopy.shape) < 0.1] = np.nan
    assert np.array_equal(marks(canopy, window, cell_m), twin(canopy, window, cell_m, 5.0))


@pytest.mark.nojit
def test_published_window_decides_between_two_trees() -> None:
    """A 20 m tree looks 6.119 / 2 = 3.06 m round (Popescu and Wynne 2004): 3 m off it is hidden, 4 m off it shows."""
    for apart, trees in ((3, 1), (4, 2)):
        canopy = np.zeros((20, 20))
        canopy[10, 5], canopy[10, 5 + apart] = 20.0, 21.0
        assert marks(canopy).sum() == trees
    assert window_radius(20.0, COMBINED, 1.0) == pytest.approx(6.1190 / 2, abs=1e-4)


@pytest.mark.nojit
def test_the_window_shrinks_with_the_centre_not_with_the_neighbour() -> None:
    """A 10 m tree looks 1.7 m round only, so it shows 2 m from a 30 m tree that itself looks 5.3 m round."""
    canopy = np.zeros((20, 20))
    canopy[10, 5], canopy[10, 7] = 10.0, 30.0
    assert marks(canopy).sum() == 2


@pytest.mark.nojit
@pytest.mark.parametrize("window", [CLOSE, COMBINED])
def test_a_level_patch_is_one_tree(window: Window) -> None:
    shapes = {
        "bar": [(5, 5), (5, 6), (5, 7)], "corner": [(5, 6), (6, 5), (6, 6)], "slant": [(5, 7), (6, 6), (7, 5)],
        "vee": [(5, 5), (6, 6), (5, 7)], "block": [(r, c) for r in range(4, 9) for c in range(4, 9)],
    }  # fmt: skip
    for name, cells in shapes.items():
        canopy = np.full((14, 14), 2.0)
        for cell in cells:
            canopy[cell] = 12.0
        found = np.argwhere(marks(canopy, window))
        assert len(found) == 1, name
        assert tuple(found[0]) == min(cells), name


@pytest.mark.nojit
def test_a_step_on_a_slope_is_no_tree() -> None:
    """Heights in whole metres make steps; only the summit is a tree, whatever side the steps are on."""
    for turn in range(4):
        canopy = np.rot90(np.floor(cone(25, 12.3, 11.6, 20.4, 0.55)), turn)
        found = np.argwhere(marks(canopy, CLOSE))
        assert len(found) == 1
        assert canopy[tuple(found[0])] == 20.0


@pytest.mark.nojit
def test_edges_and_missing_cells_hide_nothing_and_count_for_nothing() -> None:
    canopy = np.full((6, 6), np.nan, np.float32)
    canopy[0, 0], canopy[5, 3], canopy[2, 2] = 9.0, 8.0, 7.0
    assert [tuple(c) for c in np.argwhere(marks(canopy))] == [(0, 0), (2, 2), (5, 3)]
    assert marks(np.full((4, 4), np.nan)).sum() == 0
    assert marks(np.zeros((3, 0))).shape == (3, 0)
    assert marks(np.array([[4.9, 0.0, 5.0]])).tolist() == [[0, 0, 1]]
    assert marks(np.array([[9.0]])).tolist() == [[1]]


def test_answer_does_not_depend_on_threads_or_on_the_piece() -> None:
    rng = np.random.default_rng(8)
    canopy = np.round(rng.uniform(0, 30, (300, 200)), 0).astype(np.float32)
    whole = marks(canopy)
    before = numba.get_num_threads()
    try:
        for threads in range(1, min(2, before) + 1):
            numba.set_num_threads(threads)
            assert np.array_equal(marks(canopy), whole)
    finally:
        numba.set_num_threads(before)
    halo = 18
    piece = marks(canopy[100 - halo : 200 + halo, 50 - halo : 150 + halo])
    assert np.array_equal(piece[halo:-halo, halo:-halo], whole[100:200, 50:150])
    part = np.full(canopy.shape, 7, np.uint8)
    mark_tops(canopy, (40, 60), COMBINED, 1.0, 5.0, part)
    assert np.array_equal(part[40:60], whole[40:60])
    assert (part[:40] == 7).all() and (part[60:] == 7).all()


@pytest.mark.nojit
@pytest.mark.parametrize(("down", "across"), [(0.0, 0.0), (0.3, -0.2), (-0.45, 0.45)])
def test_a_bowl_is_placed_where_it_was_drawn(down: float, across: float) -> None:
    """The vertex of a parabola through three of its points is exact."""
    r, c = np.mgrid[:15, :15]
    canopy = 18.0 - 0.5 * ((r - 7 - down) ** 2 + (c - 7 - across) ** 2)
    out = measured(canopy, [(7, 7)])
    assert out.down[0] == pytest.approx(down, abs=1e-4)
    assert out.across[0] == pytest.approx(across, abs=1e-4)


@pytest.mark.nojit
def test_a_top_beside_missing_data_is_placed_at_its_cell() -> None:
    canopy = np.full((5, 5), 3.0)
    canopy[0, 4] = 9.0
    out = measured(canopy, [(0, 4)])
    assert (out.down[0], out.across[0]) == (0.0, 0.0)
    assert out.open_rays[0] == pytest.approx(5 / 8)


@pytest.mark.nojit
@pytest.mark.parametrize("cell_m", [0.5, 1.0])
@pytest.mark.parametrize("radius_m", [2.0, 3.5, 5.0])
def test_crown_radius_of_a_lone_tree(cell_m: float, radius_m: float) -> None:
    """A bowl over bare ground: rays end at the rim, so the radius is right to three quarters of a cell."""
    size = 31
    r, c = np.mgrid[:size, :size]
    away = np.hypot(r - 15, c - 15) * cell_m
    canopy = np.where(away <= radius_m, 20.0 * (1.0 - 0.35 * (away / radius_m) ** 2), 0.0)
    assert measured(canopy, [(15, 15)], cell_m).radius[0] == pytest.approx(radius_m, abs=0.75 * cell_m)


@pytest.mark.nojit
def test_crown_ends_at_the_valley_between_two_trees() -> None:
    """Two equal cones 6 m apart meet after 3 m; the ray toward the neighbour must not run into it."""
    canopy = np.maximum(cone(31, 15, 12, 20.0, 1.0), cone(31, 15, 18, 20.0, 1.0))
    alone = measured(cone(31, 15, 12, 20.0, 1.0), [(15, 12)]).radius[0]
    beside = measured(canopy, [(15, 12)]).radius[0]
    assert beside < alone
    rays = [8.5] * 3 + [5.5 * math.sqrt(2)] * 4 + [3.5]
    want = math.sqrt(sum(v * v for v in rays) / 8)
    assert beside == pytest.approx(want, abs=1e-5)


@pytest.mark.nojit
def test_listing_and_counting() -> None:
    canopy = np.array([[9.0, np.nan, 0.0], [0.0, 0.0, 8.0]], np.float32)
    found = np.empty((5, 2), np.int64)
    assert list_tops(marks(canopy), (0, 2), (0, 3), found) == 2
    assert found[:2].tolist() == [[0, 0], [1, 2]]
    assert list_tops(marks(canopy), (0, 2), (1, 3), found) == 1
    assert list_tops(marks(canopy), (0, 2), (0, 3), found[:1]) == 1


@pytest.mark.nojit
def test_listing_a_wide_row_misses_none() -> None:
    rng = np.random.default_rng(6)
    flags = (rng.random((3, 203)) < 0.05).astype(np.uint8)
    found = np.empty((700, 2), np.int64)
    count = list_tops(flags, (0, 3), (5, 201), found)
    want = np.argwhere(flags[:, 5:201]) + [0, 5]
    assert np.array_equal(found[:count], want)


@pytest.mark.nojit
def test_blocks_are_counted_wherever_the_piece_begins() -> None:
    rng = np.random.default_rng(9)
    canopy = rng.uniform(0, 4, (23, 31)).astype(np.float32)
    canopy[rng.random(canopy.shape) < 0.2] = np.nan
    rows, cols = np.array([0, 4, 10, 23]), np.array([0, 7, 27, 31])
    want = np.array(
        [[[f(canopy[a:b, c:d]) for c, d in itertools.pairwise(cols)] for a, b in itertools.pairwise(rows)]
         for f in (lambda v: np.isfinite(v).sum(), lambda v: (v >= 2.0).sum())]
    )  # fmt: skip
    out = np.zeros((2, 3, 3), np.int64)
    count_blocks(canopy, (0, 0), rows, cols, out)
    assert np.array_equal(out, want)
    out[:] = 0
    for top, bottom in ((0, 9), (9, 23)):
        for left, right in ((0, 15), (15, 31)):
            count_blocks(canopy[top:bottom, left:right], (top, left), rows, cols, out)
    assert np.array_equal(out, want)


@pytest.mark.nojit
def test_tops_of_a_wider_window_are_among_those_of_the_narrow_one() -> None:
    rng = np.random.default_rng(10)
    canopy = np.round(rng.uniform(0, 30, (40, 40)), 1).astype(np.float32)
    cells = np.argwhere(marks(canopy, CLOSE))
    wide = np.zeros(len(cells), bool)
    check_windows(canopy, cells, COMBINED, 1.0, wide)
    assert 0 < wide.sum() < len(cells)
    assert {tuple(c) for c in cells[wide]} == {tuple(c) for c in np.argwhere(marks(canopy, COMBINED))}
