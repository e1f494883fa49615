"""Cover: which cells each site draws on, and the same problem made smaller without changing its answer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_matrix
from scipy.spatial import cKDTree

from boscage.errors import InputError
from boscage.model.portfolio import CoverProblem
from boscage.values import Grid

_HASH_SEED = 20


def make_problem(
    places: NDArray[np.float64],
    cells: NDArray[np.float64],
    weights: NDArray[np.float64],
    *,
    radius_m: float,
    spacing_m: float = 0.0,
    names: Sequence[str] = (),
    groups: Sequence[str | None] = (),
    minutes: NDArray[np.float64] | None = None,
) -> CoverProblem:
    """Sites that cover every cell whose middle lies within a radius.

    Args:
        places: (S, 2) east and north of the sites, metres.
        cells: (D, 2) middles of the cells.
        weights: (D,) use of each cell, 0 or more.
        radius_m: Radius of influence; a cell exactly that far is covered.
        spacing_m: Sites nearer to each other than this never go together.
        names: One a site; numbers from 1 if left out.
        groups: Name of the group of animals that each site is for, or None.
        minutes: (S + 1, S + 1) travel minutes, the base first; None leaves rounds out.

    Raises:
        InputError: The numbers of names, groups, weights or minutes do not match, or a weight is negative.
    """
    count = len(places)
    for given, what in ((names, "names"), (groups, "groups")):
        if len(given) not in (0, count):
            raise InputError(f"there are {len(given)} {what} for {count} sites", expected=f"{count}")
    if len(cells) != len(weights):
        raise InputError(f"there are {len(weights)} weights for {len(cells)} cells", expected="one a cell")
    points = np.asarray(places, dtype=np.float64).reshape(-1, 2)
    lists = _within(points, np.asarray(cells, dtype=np.float64).reshape(-1, 2), radius_m)
    starts = np.concatenate([[0], np.cumsum([len(c) for c in lists])]).astype(np.int64)
    found = sorted({g for g in groups if g is not None})
    order = {g: i for i, g in enumerate(found)}
    return CoverProblem(
        names=tuple(names) or tuple(str(i + 1) for i in range(count)),
        weights=np.ascontiguousarray(weights, dtype=np.float64),
        starts=starts,
        cells=np.concatenate([np.zeros(0, dtype=np.int64), *lists]),
        groups=np.array([-1 if g is None else order[g] for g in groups] or [-1] * count, dtype=np.int64),
        apart=_too_near(points, spacing_m),
        minutes=minutes,
    )


def surface_cells(
    surface: NDArray[np.floating], grid: Grid, least: float = 0.0
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Middles (D, 2) and values (D,) of the cells of a surface that hold more than `least`; NaN is left out."""
    rows, cols = np.nonzero(np.nan_to_num(surface, nan=-np.inf) > least)
    east, north = grid.west + (cols + 0.5) * grid.cell_m, grid.north - (rows + 0.5) * grid.cell_m
    return np.column_stack([east, north]), surface[rows, cols].astype(np.float64)


def _within(places: NDArray[np.float64], cells: NDArray[np.float64], radius_m: float) -> list[NDArray[np.int64]]:
    """Cells within a radius of each place, rising."""
    if not len(cells) or not len(places):
        return [np.zeros(0, dtype=np.int64)] * len(places)
    found = cKDTree(cells).query_ball_point(places, radius_m, return_sorted=True)
    return [np.asarray(f, dtype=np.int64) for f in found]


def _too_near(places: NDArray[np.float64], spacing_m: float) -> NDArray[np.int64]:
    """(K, 2) pairs of places nearer than the spacing, each once, in order."""
    if spacing_m <= 0.0 or len(places) < 2:
        return np.zeros((0, 2), dtype=np.int64)
    pairs = cKDTree(places).query_pairs(spacing_m, output_type="ndarray").astype(np.int64)
    away = np.hypot(*(places[pairs[:, 0]] - places[pairs[:, 1]]).T) if len(pairs) else np.zeros(0)
    pairs = pairs[away < spacing_m]
    return pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))]


@dataclass(frozen=True, kw_only=True)
class Reduced:
    """A problem with fewer sites and cells and the same best cover.

    Attributes:
        sites: (S,) index in the whole problem of each site kept, rising.
        cover: (S, D) csr of ones: cells by site; cells that the same sites cover are one.
        weights: (D,) use of each.
        forbids: (S, S) csr of ones: sites that never go together, by spacing or by group.
        groups: (S,) int64.
        apart: (K, 2) int64 pairs by spacing alone.
    """

    sites: NDArray[np.int64]
    cover: csr_matrix
    weights: NDArray[np.float64]
    forbids: csr_matrix
    groups: NDArray[np.int64]
    apart: NDArray[np.int64]


def reduce_problem(problem: CoverProblem, keep: NDArray[np.bool_], *, drop_dominated: bool) -> Reduced:
    """Leave out sites, drop dominated ones, and merge cells that the same sites cover.

    A site is dominated when another covers all its cells, is for the same group, and is forbidden to go with no site
    that the first could go with: whatever set holds the first, the other in its place covers as much.

    Args:
        keep: (S,) bool, sites that may be chosen.
        drop_dominated: Whether dominated sites go; not where rounds matter, since a dominated site may be nearer.
    """
    count = len(problem.names)
    shape = (count, problem.weights.size)
    cover = csr_matrix((np.ones(problem.cells.size), problem.cells, problem.starts), shape=shape)
    sites = np.flatnonzero(keep & (np.diff(problem.starts) > 0))
    forbids = _forbidden(problem)
    merged, weights = merge_cells(cover[sites], problem.weights)
    if drop_dominated and sites.size:
        stay = ~_dominated(merged, problem.groups[sites], forbids[sites][:, sites])
        sites = sites[stay]
        merged, weights = merge_cells(merged[stay], weights)
    place = np.full(count, -1, dtype=np.int64)
    place[sites] = np.arange(sites.size)
    apart = place[problem.apart]
    return Reduced(
        sites=sites, cover=merged, weights=weights, forbids=forbids[sites][:, sites].tocsr(),
        groups=problem.groups[sites], apart=apart[(apart >= 0).all(axis=1)],
    )  # fmt: skip


def _forbidden(problem: CoverProblem) -> csr_matrix:
    """(S, S) ones where two sites are too near or for one group; none on the diagonal."""
    count = len(problem.names)
    pairs = [problem.apart]
    for group in np.unique(problem.groups[problem.groups >= 0]):
        members = np.flatnonzero(problem.groups == group)
        first, second = np.triu_indices(members.size, k=1)
        pairs.append(np.column_stack([members[first], members[second]]))
    both = np.concatenate(pairs)
    both = np.concatenate([both, both[:, ::-1]])
    made = csr_matrix((np.ones(len(both)), (both[:, 0], both[:, 1])), shape=(count, count))
    made.data[:] = 1.0
    return made


def merge_cells(cover: csr_matrix, weights: NDArray[np.float64]) -> tuple[csr_matrix, NDArray[np.float64]]:
    """One cell for all those that the same sites cover; cells that none covers and cells without use are left out."""
    by_cell = cover.T.tocsr()
    by_cell.sort_indices()
    marks = np.random.default_rng(_HASH_SEED).integers(1, 2**62, size=(2, cover.shape[0] + 1), dtype=np.int64)
    sums = np.zeros((2, by_cell.shape[0]), dtype=np.int64)
    owner = np.repeat(np.arange(by_cell.shape[0]), np.diff(by_cell.indptr))
    for k in range(2):
        np.add.at(sums[k], owner, marks[k][by_cell.indices])
    used = np.flatnonzero((np.diff(by_cell.indptr) > 0) & (weights > 0.0))
    _, first, group = np.unique(sums[:, used], axis=1, return_index=True, return_inverse=True)
    total = np.bincount(group.ravel(), weights=weights[used], minlength=first.size)
    order = np.argsort(used[first], kind="stable")
    return by_cell[used[first][order]].T.tocsr(), total[order]


def _dominated(cover: csr_matrix, groups: NDArray[np.int64], forbids: csr_matrix) -> NDArray[np.bool_]:
    """(S,) bool; of sites that are equal in all respects the first stays."""
    sizes = np.diff(cover.indptr)
    shared = (cover @ cover.T).tocoo()
    inside = (shared.data >= sizes[shared.row] - 0.5) & (shared.row != shared.col)
    small, large = shared.row[inside], shared.col[inside]
    same = groups[small] == groups[large]
    first = (sizes[large] > sizes[small]) | (large < small)
    out = np.zeros(len(sizes), dtype=bool)
    rows = [set(forbids.indices[forbids.indptr[s] : forbids.indptr[s + 1]].tolist()) for s in range(len(sizes))]
    for s, t in zip(small[same & first], large[same & first], strict=True):
        if not out[s] and not out[t] and rows[t] - {s} <= rows[s] - {t}:
            out[s] = True
    return out
