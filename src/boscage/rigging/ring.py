"""The ring that trees hold: the best one that there is, finished, or why there is none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boscage.model.rig import (
    BUILT_COST,
    Contact,
    NoRing,
    Ring,
    RingOptions,
    Span,
    Stem,
    Support,
    Tried,
    check_stems,
)
from boscage.rigging.corners import Placing, place_corners
from boscage.rigging.finish import Finished, finish
from boscage.rigging.miss import why_none
from boscage.rigging.polygon import area, roundness, spans
from boscage.rigging.posts import place_posts

Array = NDArray[np.float64]

_GUARD = 1e-9


def fit_ring(stems: Sequence[Stem], options: RingOptions) -> Ring | NoRing:
    """The ring of the highest score that the trees hold.

    With `reach_m` 0 it is a global optimum over all sets of trees. With reach it is never below that, and a local
    optimum beyond it (`boscage.rigging.corners`). Equal scores: more contacts, then the longer perimeter, then trees
    farther south, then west. With `posts`, and where trees alone hold no ring, posts stand in
    (`boscage.rigging.posts`); where they do, a ring with posts that scores higher is given beside it. The order of
    the stems does not matter.

    Args:
        stems: All stems; only trees of the least diameter and over hold the ring.
        options: What a ring may be.

    Raises:
        InputError: A stem has no place or a negative diameter, or an id comes twice.

    >>> corners = [(0.0, 0.0), (2.0, 0.0), (3.0, 1.7), (2.0, 3.4), (0.0, 3.4), (-1.0, 1.7)]
    >>> trees = [Stem(stem=str(n), x_m=x, y_m=y, dbh_m=0.0) for n, (x, y) in enumerate(corners)]
    >>> ring = fit_ring(trees, RingOptions(perimeter_m=12.0, spacing_m=2.0, reach_m=0.0, min_dbh_m=0.0))
    >>> len(ring.contacts), ring.built_supports, round(ring.roundness, 3)
    (6, 0, 0.907)
    """
    check_stems(stems)
    usable = sorted(_usable(stems, options), key=lambda s: (s.y_m, s.x_m, s.dbh_m, s.stem))
    trunk = np.array([(s.x_m, s.y_m, s.radius_m) for s in usable]).reshape(-1, 3)
    origin = np.rint(np.median(trunk[:, :2], axis=0)) if usable else np.zeros(2)  # far from 0 digits are lost
    trunk[:, :2] -= origin
    placing = place_corners(trunk, options)
    tried = Tried(stems=len(stems), usable=len(usable), chains=placing.chains, rings=placing.rings, placed=placing.sets)
    trees: Ring | NoRing | None = _of_trees(placing, usable, options, tried, origin)
    if not trees:
        reason, nearest = why_none(stems, usable, options)
        trees = NoRing(reason=reason, nearest_miss=nearest, options=options, tried=tried)
    return _beside_posts(trees, stems, usable, trunk, origin) if options.posts else trees


def _usable(stems: Sequence[Stem], options: RingOptions) -> list[Stem]:
    return [s for s in stems if s.kind == "tree" and s.dbh_m >= options.min_dbh_m * (1.0 - _GUARD)]


def _of_trees(
    placing: Placing, usable: Sequence[Stem], options: RingOptions, tried: Tried, origin: Array
) -> Ring | None:
    if placing.best is None:
        return None
    held = [usable[i] for i in placing.best.trees]
    at_bark = None if placing.at_bark is None else placing.at_bark.score
    ring = _ring(placing.best.corners + origin, held, placing.best.score, options, tried)
    return replace(ring, best_at_bark=at_bark)


def _beside_posts(
    trees: Ring | NoRing, stems: Sequence[Stem], usable: Sequence[Stem], trunk: Array, origin: Array
) -> Ring | NoRing:
    """The trees' ring with a better one with posts beside it, or the ring with posts where trees hold none."""
    options = trees.options
    middle = np.mean([(s.x_m, s.y_m) for s in stems], axis=0) if stems else origin
    found, looked = place_posts(trunk, options, (float(middle[0] - origin[0]), float(middle[1] - origin[1])))
    tried = replace(trees.tried, placed=trees.tried.placed + looked)
    held = [None if i < 0 else usable[i] for i in found.trees]
    ring = replace(_ring(found.corners + origin, held, found.score, options, tried), trees_only=trees)
    if isinstance(trees, NoRing):
        return ring
    better = ring.posts > 0 and ring.score > trees.score + _GUARD
    return replace(trees, tried=tried, with_posts=replace(ring, trees_only=None) if better else None)


def _ring(corners: Array, held: Sequence[Stem | None], score: float, options: RingOptions, tried: Tried) -> Ring:
    """The finished ring of given corners."""
    length = spans(corners)
    share = length / options.longest_span_m * (1.0 - _GUARD)
    built = np.maximum(np.ceil(share).astype(np.int64) - 1, 0)
    trunk = np.array([(*corners[k], 0.0) if s is None else (s.x_m, s.y_m, s.radius_m) for k, s in enumerate(held)])
    done = finish(corners, built, options.perimeter_m, trunk)
    posts = sum(s is None for s in held)
    support: Support = "trees" if posts == 0 else "posts" if posts == len(held) else "hybrid"
    plain = roundness(corners)
    assert abs(score - 100.0 * (plain - BUILT_COST * (int(built.sum()) + posts))) < 1e-6, "the score of the corners"
    return Ring(
        support=support, score=score, roundness=plain, perimeter_m=float(length.sum()), area_m2=area(corners),
        finished_roundness=max(done.roundness, plain), finished_m=done.length_m, finished_m2=done.area_m2,
        contacts=_contacts(corners, held), spans=_spans(length, done), options=options, tried=tried,
    )  # fmt: skip


def _contacts(corners: Array, held: Sequence[Stem | None]) -> tuple[Contact, ...]:
    made = []
    for (x, y), stem in zip(corners.tolist(), held, strict=True):
        off = 0.0 if stem is None else np.hypot(x - stem.x_m, y - stem.y_m) - stem.radius_m
        made.append(Contact(x_m=x, y_m=y, stem=stem, standoff_m=max(0.0, float(off)) if off > _GUARD else 0.0))
    return tuple(made)


def _spans(length_m: Array, done: Finished) -> tuple[Span, ...]:
    count = len(length_m)
    return tuple(
        Span(
            first=k, second=(k + 1) % count, length_m=float(length_m[k]), finished_m=float(done.span_m[k]),
            supports=tuple((float(x), float(y)) for x, y in done.supports[k]),
        )
        for k in range(count)
    )  # fmt: skip
