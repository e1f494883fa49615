"""The kernels behind a ranking: each equals its plain twin, ties and edges included."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, maximum_filter

from boscage.siting.ranking import PEAK_RADIUS_M, find_peaks
from boscage.siting.scoring import open_score, weighted_score
from boscage.values import Grid


def plain_peaks(score: np.ndarray, grid: Grid, count: int, spacing_m: float, apart: np.ndarray) -> list[tuple]:
    """Every local maximum sorted, then taken one by one."""
    filled = np.where(np.isnan(score), -1.0, score.astype(float))
    reach = max(1, int(min(PEAK_RADIUS_M, spacing_m) / grid.cell_m))
    side = 2 * reach + 1
    top = maximum_filter(filled, size=side, mode="constant", cval=-1.0)
    rows, cols = np.nonzero((filled >= top) & ~np.isnan(score))
    padded = np.pad(np.maximum(filled, 0.0), reach)
    around = [np.floor(padded[r : r + side, c : c + side].sum() / side**2 * 1000 + 0.5)
              for r, c in zip(rows, cols, strict=True)]  # fmt: skip
    taken: list[tuple[int, int]] = []
    for i in np.lexsort((cols, rows, -np.array(around), -score[rows, cols])) if len(rows) else ():
        if len(taken) == count:
            break
        x, y = grid.centre(int(rows[i]), int(cols[i]))
        near = any(np.hypot(rows[i] - r, cols[i] - c) * grid.cell_m < spacing_m - 1e-9 for r, c in taken)
        kept_out = any(np.hypot(x - ax, y - ay) < least - 1e-9 for ax, ay, least in apart)
        if not near and not kept_out:
            taken.append((int(rows[i]), int(cols[i])))
    return taken


def field(rng: np.random.Generator, kind: str, shape: tuple[int, int]) -> np.ndarray:
    smooth = gaussian_filter(rng.standard_normal(shape), 3.0)
    made = np.clip(50.0 + 200.0 * smooth, 0.0, 100.0)
    if kind == "steps":
        made = np.round(made / 20.0) * 20.0
    if kind == "noise":
        made = rng.integers(0, 3, shape).astype(float)
    if kind == "flat":
        made = np.full(shape, 40.0)
    made[gaussian_filter(rng.standard_normal(shape), 2.0) > 0.12] = np.nan
    return made.astype(np.float32)


@pytest.mark.parametrize("kind", ["smooth", "steps", "noise", "flat"])
@pytest.mark.parametrize("seed", range(6))
def test_peaks_equal_those_of_the_plain_search(kind: str, seed: int) -> None:
    rng = np.random.default_rng(100 + seed)
    shape = tuple(int(n) for n in rng.integers(5, 70, 2))
    score = field(rng, kind, shape)
    grid = Grid("EPSG:32615", 500_000.0, 4_000_000.0, float(rng.choice([5.0, 10.0, 30.0])), *shape)
    spacing = float(rng.choice([0.0, 40.0, 95.0, 300.0]))
    count = int(rng.integers(1, 30))
    apart = np.column_stack([
        grid.west + rng.random(3) * shape[1] * grid.cell_m, grid.north - rng.random(3) * shape[0] * grid.cell_m,
        rng.random(3) * 100.0,
    ])[: int(rng.integers(0, 4))]  # fmt: skip
    ours = find_peaks(score, grid, count=count, spacing_m=spacing, apart=apart)
    assert [(p.row, p.col) for p in ours] == plain_peaks(score, grid, count, spacing, apart)
    assert [p.score for p in ours] == [float(score[p.row, p.col]) for p in ours]


def test_a_wide_plateau_on_fine_cells_is_taken_in_its_middle_and_quickly() -> None:
    """Every cell of a plateau is a maximum; the search must not look round each of them."""
    score = np.full((600, 600), 10.0, np.float32)
    score[100:500, 100:500] = 90.0
    grid = Grid("EPSG:32615", 0.0, 600.0, 1.0, 600, 600)
    best = find_peaks(score, grid, count=3, spacing_m=100.0)
    assert all(p.score == 90.0 for p in best)
    assert all(150 <= p.row < 450 and 150 <= p.col < 450 for p in best), "amid the plateau, 50 m from its rim"


@pytest.mark.nojit
def test_nothing_to_pick_gives_nothing() -> None:
    grid = Grid("EPSG:32615", 0.0, 100.0, 10.0, 10, 10)
    none = np.full((10, 10), np.nan, np.float32)
    assert find_peaks(none, grid, count=5, spacing_m=10.0) == []
    assert find_peaks(np.zeros((10, 10), np.float32), grid, count=0, spacing_m=10.0) == []
    assert len(find_peaks(np.zeros((10, 10), np.float32), grid, count=1, spacing_m=10.0)) == 1


def factors(rng: np.random.Generator, count: int, shape: tuple[int, int]) -> list[np.ndarray]:
    made = []
    for _ in range(count):
        values = rng.random(shape).astype(np.float32)
        values[rng.random(shape) < rng.choice([0.0, 0.3, 1.0], p=[0.4, 0.5, 0.1])] = np.nan
        made.append(values)
    return made


@pytest.mark.parametrize("seed", range(12))
def test_the_score_equals_the_plain_one_bit_for_bit(seed: int) -> None:
    rng = np.random.default_rng(seed)
    shape = (int(rng.integers(1, 400)), int(rng.integers(1, 400)))
    values = factors(rng, int(rng.integers(1, 10)), shape)
    weights = (rng.random(len(values)) * 9.0 + 0.01).tolist()
    least = float(rng.choice([0.0, 0.5, 1.0]))
    open_cells = rng.random(shape) < 0.7
    plain, _ = weighted_score(values, weights, least_data=least)
    plain[~open_cells] = np.nan
    ours = open_score(values, weights, open_cells, least_data=least)
    assert ours.dtype == np.float32
    known = ~np.isnan(plain)
    assert np.array_equal(known, ~np.isnan(ours))
    assert np.array_equal(ours[known].view(np.int32), plain[known].view(np.int32))


def test_the_order_of_adding_is_that_of_the_factors() -> None:
    """Single precision is not associative: the same order as the plain sum is what makes it equal."""
    rng = np.random.default_rng(5)
    values = factors(rng, 8, (200, 200))
    weights = [3.0, 3.0, 2.0, 2.0, 2.0, 1.0, 0.7, 1.3]
    everywhere = np.ones((200, 200), bool)
    straight = open_score(values, weights, everywhere, least_data=0.0)
    turned = open_score(values[::-1], weights[::-1], everywhere, least_data=0.0)
    assert not np.array_equal(straight, turned, equal_nan=True)
    assert np.nanmax(np.abs(straight - turned)) < 1e-4


@pytest.mark.nojit
def test_a_cell_with_too_few_data_or_not_open_has_no_score() -> None:
    nan = np.nan
    values = [np.array([[1.0, nan, 1.0, nan]], np.float32), np.array([[0.0, 0.5, nan, nan]], np.float32)]
    open_cells = np.array([[True, True, True, True]])
    score = open_score(values, [3.0, 1.0], open_cells, least_data=0.5)
    assert score[0, 0] == 75.0
    assert score[0, 2] == 100.0
    assert np.isnan(score[0, [1, 3]]).all(), "a quarter of the weight, and none"
    assert np.isnan(open_score(values, [3.0, 1.0], ~open_cells, least_data=0.0)).all()
