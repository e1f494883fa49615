"""Rings in published stem maps (sources in tests/data/stem_maps/README.txt): the exact answers are pinned.

Net of 60 ft, gather 0.10, five contacts, corners at the bark, trees of 4 in and over.
"""

from __future__ import annotations

import csv
import math
from pathlib import Path

import brute_rings
import numpy as np
import pytest

from boscage.model.rig import RingOptions, Stem
from boscage.rigging.ring import fit_ring
from boscage.rigging.search import best_rings

DATA = Path(__file__).resolve().parents[1] / "data" / "stem_maps"
P = 18.288
BARK = RingOptions(perimeter_m=P, reach_m=0.0)


def plot(name: str) -> tuple[np.ndarray, np.ndarray]:
    with (DATA / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    table = np.array([(float(r["x_m"]), float(r["y_m"]), float(r["dbh_cm"]) / 200) for r in rows])
    thick = table[table[:, 2] * 2 >= 0.1016]
    return thick[:, :2], thick[:, 2]


@pytest.mark.parametrize(
    "name, trees, rings, best",
    [("longleaf", 426, 17, 60.92894), ("spruces", 134, 39, 65.72858), ("waka", 492, 116, 70.42781)],
)
def test_best_rings_of_real_plots(name: str, trees: int, rings: int, best: float) -> None:
    places, radii = plot(name)
    found = best_rings(places, radii, BARK)
    assert len(places) == trees
    assert int((found.contacts > 0).sum()) == rings
    assert np.nanmax(found.score) == pytest.approx(best, abs=1e-4)
    for root in np.argsort(-np.nan_to_num(found.score, nan=-1.0))[:5]:
        if found.contacts[root] == 0:
            continue
        ids = found.ring(int(root))
        corners = brute_rings.bark_ring(np.column_stack([places[ids], radii[ids]]))
        step = np.roll(corners, -1, axis=0) - corners
        span = np.hypot(*step.T)
        x, y = corners.T
        area = 0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))
        built = np.maximum(np.ceil(span / (P / 10) - 1e-9) - 1, 0).sum()
        assert 0.9 * P - 1e-6 <= span.sum() <= P + 1e-6
        score = 100 * (4 * math.pi * area / span.sum() ** 2 - 0.03 * built)
        assert found.score[root] == pytest.approx(score, abs=1e-5)


def test_the_single_answer_is_the_best_of_all_roots() -> None:
    places, radii = plot("spruces")
    stems = [
        Stem(stem=str(k), x_m=x, y_m=y, dbh_m=2 * r) for k, ((x, y), r) in enumerate(zip(places, radii, strict=True))
    ]
    ring = fit_ring(stems, BARK)
    assert ring.score == pytest.approx(float(np.nanmax(best_rings(places, radii, BARK).score)), abs=1e-9)
