"""Rings for the tests of tying, made from the parts of the fit or by closed forms."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from boscage.model.rig import Contact, Ring, RingOptions, Span, Stem, Tried
from boscage.rigging.finish import finish
from boscage.rigging.polygon import area, roundness, spans


def ring_from(corners, stems, options):
    """A ring with given corners; `stems` holds a Stem or None (a post) for each."""
    corners = np.asarray(corners, dtype=float)
    length = spans(corners)
    built = np.maximum(np.ceil(length / options.longest_span_m * (1 - 1e-9)).astype(int) - 1, 0)
    done = finish(corners, built, options.perimeter_m)
    contacts = tuple(
        Contact(
            x_m=float(x), y_m=float(y), stem=stem,
            standoff_m=0.0 if stem is None else math.hypot(stem.x_m - x, stem.y_m - y) - stem.radius_m,
        )
        for (x, y), stem in zip(corners, stems, strict=True)
    )  # fmt: skip
    count = len(contacts)
    made = tuple(
        Span(
            first=i, second=(i + 1) % count, length_m=float(length[i]), finished_m=float(done.span_m[i]),
            supports=tuple((float(x), float(y)) for x, y in done.supports[i]),
        )
        for i in range(count)
    )  # fmt: skip
    posts = sum(s is None for s in stems)
    return Ring(
        support="posts" if posts == count else "hybrid" if posts else "trees",
        score=100 * (roundness(corners) - 0.03 * (int(built.sum()) + posts)), roundness=roundness(corners),
        perimeter_m=float(length.sum()), area_m2=area(corners), finished_roundness=done.roundness,
        finished_m=done.length_m, finished_m2=done.area_m2, contacts=contacts, spans=made, options=options,
        tried=Tried(),
    )  # fmt: skip


def regular(count=6, radius_m=2.8, *, dbh_m=0.3, standoff_m=0.2, posts=(), start_deg=30.0, **options):
    """Trees round a regular polygon, corners straight in front of them; the corners named in `posts` are posts."""
    angle = np.radians(start_deg + 360.0 / count * np.arange(count))
    unit = np.column_stack([np.cos(angle), np.sin(angle)])
    centre = unit * (radius_m + standoff_m + dbh_m / 2)
    stems = [
        None if k in posts else Stem(stem=str(k + 1), x_m=float(x), y_m=float(y), dbh_m=dbh_m)
        for k, (x, y) in enumerate(centre)
    ]
    around = 2 * count * radius_m * math.sin(math.pi / count)
    given = {"perimeter_m": around * 1.04, **options}
    return ring_from(unit * radius_m, stems, RingOptions(**given))


def trees(ring):
    return [c.stem for c in ring.contacts if c.stem is not None]


@pytest.fixture
def rings():
    return SimpleNamespace(ring_from=ring_from, regular=regular, trees=trees)
