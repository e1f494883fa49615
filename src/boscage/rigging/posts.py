"""Rings in which posts stand in for missing trees. A post is a free corner and counts as one built support.

No tree: the regular polygon with the best score, found among all numbers of posts; exact. One tree: the same polygon
with one corner on the tree, one post fewer; exact, as no ring of n corners is rounder than the regular one. Two or
more trees: the posts between two neighbouring trees lie evenly on an arc (`boscage.rigging.arcs`; for fixed trees and
numbers of posts that is what the roundest ring does), and the half turns of the arcs are found by sequential
quadratic programming. Which trees, and how many posts between them, is a local search from circles through pairs of
trees with many other trees near them: a local optimum with starts. Corners on trees are at the bark.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.spatial import cKDTree

from boscage.kernels.ring_corners import bark_corners
from boscage.model.rig import BUILT_COST, RingOptions
from boscage.rigging.arcs import arcs, chain_points
from boscage.rigging.polygon import area, regular_roundness, score_of, spans, turns

Array = NDArray[np.float64]

_GUARD = 1e-9
_MOST_POSTS = 60
_NEAR_M = 0.5  # how far off a circle a tree still counts as near it
_STARTS = 12
_MOST_PAIRS = 40_000


@dataclass(frozen=True, kw_only=True)
class PostRing:
    """A ring with posts. corners: (K, 2); trees: (K,) places in the list of trunks, -1 for a post."""

    corners: Array
    trees: NDArray[np.int64]
    score: float


def regular_ring(options: RingOptions, *, trees: int = 0) -> tuple[int, float]:
    """Corners and perimeter (m) of the regular ring with the best score; `trees` of the corners cost nothing.

    For each number of corners the longest perimeter is taken that needs no more built supports than the shortest one
    allowed. Equal scores go to fewer corners.
    """
    spacing, best = options.longest_span_m, (-math.inf, 0, 0.0)
    for count in range(max(3, options.contacts), _MOST_POSTS + 1):
        inner = max(math.ceil(options.least_m / count / spacing * (1.0 - _GUARD)) - 1, 0)
        perimeter = min(options.perimeter_m, count * (inner + 1) * spacing)
        score = 100.0 * (regular_roundness(count) - BUILT_COST * (count * (inner + 1) - trees))
        if score > best[0] + _GUARD:
            best = (score, count, perimeter)
    return best[1], best[2]


def place_posts(trunk: Array, options: RingOptions, around: tuple[float, float]) -> tuple[PostRing, int]:
    """The best ring found that may have posts, and how many sets of trees were looked at.

    Args:
        trunk: (N, 3) usable trees; may be empty.
        options: What a ring may be.
        around: Middle of a ring of posts alone.
    """
    if len(trunk) == 0:
        return _regular(np.array([*around, 0.0]), options, tree=False), 0
    heart = np.median(trunk[:, :2], axis=0)
    far = np.hypot(*(trunk[:, :2] - heart).T)
    order = np.lexsort((trunk[:, 0], trunk[:, 1], np.round(far, 9)))
    one = _regular(trunk[order[0]], options, tree=True)
    best = PostRing(corners=one.corners, trees=np.where(one.trees == 0, order[0], -1), score=one.score)
    tried = 1
    for centre, radius in _circles(trunk, options):
        found, looked = _around(trunk, centre, radius, options)
        tried += looked
        if found is not None and found.score > best.score + _GUARD:
            best = found
    return best, tried


def _regular(place: Array, options: RingOptions, *, tree: bool) -> PostRing:
    """A regular ring: round a place, or east of a tree with its westernmost corner on the bark."""
    count, perimeter = regular_ring(options, trees=int(tree))
    radius = perimeter / (2.0 * count * math.sin(math.pi / count))
    angle = math.pi + 2.0 * math.pi * np.arange(count) / count
    middle = place[:2] + np.array([place[2] + radius, 0.0]) if tree else place[:2]
    corners = middle + radius * np.column_stack([np.cos(angle), np.sin(angle)])
    if not tree:
        corners = np.roll(corners, -(count // 2), axis=0)
    score = score_of(corners, options.longest_span_m, options.least_m, options.perimeter_m)
    assert score is not None, "a regular ring within the window"
    trees = np.full(count, -1, np.int64)
    trees[0] = 0 if tree else -1
    return PostRing(corners=corners, trees=trees, score=score - 100.0 * BUILT_COST * (count - int(tree)))


def _circles(trunk: Array, options: RingOptions) -> list[tuple[Array, float]]:
    """Circles as long as a ring may be, through two trees' bark, that pass nearest to most trees; best first."""
    radii = np.linspace(options.least_m, options.perimeter_m, 3) / (2.0 * math.pi)
    tree = cKDTree(trunk[:, :2])
    pairs = tree.query_pairs(2.0 * (radii[-1] + float(trunk[:, 2].max())), output_type="ndarray")
    if len(pairs) == 0:
        return []
    pairs = pairs[np.lexsort((pairs[:, 1], pairs[:, 0]))][:_MOST_PAIRS]
    made: list[tuple[float, float, float, float]] = []
    for radius in radii:
        centres = _through(trunk[pairs[:, 0]], trunk[pairs[:, 1]], radius)
        near = tree.query_ball_point(centres, radius + float(trunk[:, 2].max()) + _NEAR_M)
        for centre, some in zip(centres, near, strict=True):
            off = np.abs(np.hypot(*(trunk[some, :2] - centre).T) - trunk[some, 2] - radius)
            worth = float(np.maximum(1.0 - (off / _NEAR_M) ** 2, 0.0).sum())
            made.append((-round(worth, 9), float(centre[1]), float(centre[0]), float(radius)))
    chosen: list[tuple[Array, float]] = []
    for _, y, x, radius in sorted(made):
        centre = np.array([x, y])
        if all(np.hypot(*(centre - c)) > 0.3 for c, _ in chosen):
            chosen.append((centre, radius))
        if len(chosen) == _STARTS:
            break
    return chosen


def _through(first: Array, second: Array, radius: float) -> Array:
    """Middles of the circles of one radius outside which both of two trunks stand and touch it; (M, 2)."""
    a, b = radius + first[:, 2], radius + second[:, 2]
    way = second[:, :2] - first[:, :2]
    far = np.hypot(*way.T)
    with np.errstate(divide="ignore", invalid="ignore"):
        along = (far**2 + a**2 - b**2) / (2.0 * far)
        across = np.sqrt(a**2 - along**2)
        unit = way / far[:, None]
    left = np.column_stack([-unit[:, 1], unit[:, 0]])
    both = [first[:, :2] + along[:, None] * unit + side * across[:, None] * left for side in (-1.0, 1.0)]
    centres = np.vstack(both)
    return centres[np.isfinite(centres).all(axis=1)]


def _around(trunk: Array, centre: Array, radius: float, options: RingOptions) -> tuple[PostRing | None, int]:
    """The best ring found near a circle: the trees near it, then one fewer as long as that is better."""
    away = trunk[:, :2] - centre
    off = np.abs(np.hypot(*away.T) - trunk[:, 2] - radius)
    near = np.flatnonzero(off < _NEAR_M)
    angle = np.arctan2(away[near, 1], away[near, 0])
    trees = near[np.argsort(angle, kind="stable")]
    best, tried = _with_trees(trunk, trees, centre, options), 1
    while len(trees) > 2:
        rest = [np.delete(trees, k) for k in range(len(trees))]
        found = [_with_trees(trunk, some, centre, options) for some in rest]
        tried += len(rest)
        scores = [-math.inf if f is None else f.score for f in found]
        top = int(np.argmax(scores))
        if best is not None and scores[top] <= best.score:
            break
        if scores[top] == -math.inf:  # drop the tree that is farthest off the circle
            top = int(np.argmax(off[trees]))
        trees, best = rest[top], found[top] if best is None or scores[top] > best.score else best
    return best, tried


def _with_trees(trunk: Array, trees: NDArray[np.int64], centre: Array, options: RingOptions) -> PostRing | None:
    """The roundest ring through the trees' bark with posts wherever a span would be too long; None where none fits."""
    if len(trees) < 2:
        return None
    tree = trunk[trees]
    corners = tree[:, :2] + _unit(centre - tree[:, :2]) * tree[:, 2:]
    seen = np.unwrap(np.arctan2(*(corners - centre).T[::-1]))
    gap = np.append(np.diff(seen), seen[0] + 2.0 * math.pi - seen[-1])
    if (gap <= 1e-3).any() or (gap >= 1.9 * math.pi).any():
        return None
    far = np.hypot(*(corners - centre).T)
    run = np.maximum(0.5 * (far + np.roll(far, -1)) * gap, spans(corners))
    sides = np.maximum(np.ceil(0.97 * run / options.longest_span_m), 1.0).astype(np.int64)
    sides = np.where((gap > 0.9 * math.pi) & (sides < 2), 2, sides)
    best: PostRing | None = None
    for more in range(2):
        if more:
            sides[int(np.argmax(run / sides))] += 1
        found = _bent(tree, trees, corners, sides, options)
        if found is not None and (best is None or found.score > best.score):
            best = found
    return best


def _unit(v: Array) -> Array:
    return v / np.maximum(np.hypot(*v.T), 1e-12)[:, None]


def _bent(
    tree: Array, trees: NDArray[np.int64], corners: Array, sides: NDArray[np.int64], options: RingOptions
) -> PostRing | None:
    """Bend the spans between fixed corners, then put the corners where the bark is; None where no ring comes out."""
    for _ in range(2):
        half_turn = _half_turns(corners, sides, options)
        if half_turn is None:
            return None
        whole, owner = _laid(corners, sides, half_turn, trees)
        thick = np.zeros((len(whole), 3))
        thick[:, :2] = whole
        thick[owner >= 0] = tree
        placed = whole.copy()
        if not bark_corners(thick, placed):
            return None
        corners = placed[owner >= 0]
    if len(placed) < options.contacts:
        return None
    score = score_of(placed, options.longest_span_m, options.least_m, options.perimeter_m)
    if score is None:
        return None
    posts = int((owner < 0).sum())
    return PostRing(corners=placed, trees=owner, score=score - 100.0 * BUILT_COST * posts)


def _laid(
    corners: Array, sides: NDArray[np.int64], half_turn: Array, trees: NDArray[np.int64]
) -> tuple[Array, NDArray[np.int64]]:
    """All corners of the ring and whose they are (-1 for posts)."""
    points, owner = [], []
    ends = np.roll(corners, -1, axis=0)
    for a, b, n, h, one in zip(corners, ends, sides, half_turn, trees, strict=True):
        points += [a[None, :], chain_points(a, b, int(n), float(h))]
        owner += [int(one), *([-1] * (int(n) - 1))]
    return np.vstack(points), np.array(owner, np.int64)


def _half_turns(corners: Array, sides: NDArray[np.int64], options: RingOptions) -> Array | None:
    """Half turns of the chains for the roundest ring: within the window, sides no longer than a span, convex."""
    chord, turn, inner = spans(corners), turns(corners), area(corners)
    if len(corners) == 2:
        turn, inner = np.full(2, math.pi), 0.0
    if (turn <= 1e-6).any():
        return None
    most = np.where(sides > 1, 0.97 * math.pi / sides, 0.0)
    take = np.diag(sides - 1.0)
    take = take + np.roll(take, 1, axis=0)
    room, least, rope = options.longest_span_m, options.least_m + 1e-6, options.perimeter_m - 1e-6

    def loss(h: Array) -> tuple[float, Array]:
        made = arcs(chord, sides, np.maximum(h, 1e-6))
        length, whole = float(made.length_m.sum()), max(inner + float(made.area_m2.sum()), 1e-6)
        rise = np.where(sides > 1, made.apothem_m, 0.0) * made.slope_m
        return 2.0 * math.log(length) - math.log(whole), 2.0 * made.slope_m / length - rise / whole

    def limits(h: Array) -> Array:
        made = arcs(chord, sides, np.maximum(h, 1e-6))
        length = float(made.length_m.sum())
        short = room * sides - made.length_m - 1e-7
        return np.concatenate([turn - take @ h - 1e-3, short, [length - least, rope - length]])

    def slopes(h: Array) -> Array:
        slope = arcs(chord, sides, np.maximum(h, 1e-6)).slope_m
        return np.vstack([-take, -np.diag(slope), slope, -slope])

    start = np.minimum(math.pi / max(int(sides.sum()), 3), most)
    found = minimize(
        loss, start, jac=True, method="SLSQP", bounds=list(zip(np.zeros_like(most), most, strict=True)),
        constraints={"type": "ineq", "fun": limits, "jac": slopes}, options={"maxiter": 60, "ftol": 1e-9},
    )  # fmt: skip
    if not np.isfinite(found.x).all() or limits(found.x).min() < -1e-6:
        return None
    return np.clip(found.x, 0.0, most)
