"""Timber: the best ring within a walk, none where trees are mapped and hold none, no data where they are not mapped."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import scenes

from boscage.factors.timber import Timber, TimberOptions
from boscage.model.scene import RingField, Scene
from boscage.siting.ranking import Peak, settle_on_rings
from boscage.testing import check_factor
from boscage.values import Printer


def rings(*rows: tuple[float, float, float], mapped: np.ndarray) -> RingField:
    table = np.array(rows, dtype=np.float64).reshape(-1, 3)
    count = np.full(len(table), 6, dtype=np.int64)
    return RingField(
        x_m=table[:, 0] + scenes.X, y_m=table[:, 1] + scenes.Y, score=table[:, 2], contacts=count,
        built_supports=count - 3, mapped=mapped, note="made",
    )  # fmt: skip


def with_rings(*rows: tuple[float, float, float]) -> Scene:
    mapped = np.zeros((200, 200), dtype=bool)
    mapped[:, :100] = True
    return replace(scenes.scene(), rings=rings(*rows, mapped=mapped))


def test_the_best_ring_within_the_walk_counts() -> None:
    made = with_rings((500, 500, 60), (512, 500, 72), (900, 900, 95))
    found = check_factor(Timber(), made)
    score = found.figures["ring_score"]
    assert score[scenes.at(made, 505, 505)] == 72
    assert score[scenes.at(made, 485, 505)] == 60
    assert score[scenes.at(made, 700, 700)] == 0
    for row in range(120, 180, 7):
        for col in range(30, 70, 3):
            x, y = made.grid.centre(row, col)
            near = [s for u, v, s in ((500, 500, 60), (512, 500, 72), (900, 900, 95))
                    if np.hypot(u + scenes.X - x, v + scenes.Y - y) <= 20]  # fmt: skip
            assert score[row, col] == max(near, default=0)


def test_unmapped_ground_is_no_data() -> None:
    made = with_rings((500, 500, 60))
    found = Timber().measure(made, TimberOptions())
    assert np.isnan(found.values[scenes.at(made, 1500, 500)])
    assert found.values[scenes.at(made, 200, 200)] == 0.0
    none = {"ring_score": 0.0, "ring_contacts": 0.0}
    assert Timber().sentence(none, TimberOptions(), Printer("us")) == "No ring of mapped trees within 66 ft."
    blind = {"ring_score": float("nan"), "ring_contacts": 0.0}
    assert Timber().sentence(blind, TimberOptions(), Printer()).startswith("Trees not mapped")


def test_mapped_ground_without_any_ring() -> None:
    made = with_rings()
    found = Timber().measure(made, TimberOptions())
    assert (found.figures["ring_score"][:, :100] == 0).all()


def peak(made: Scene, u: float, v: float, score: float) -> Peak:
    row, col = scenes.at(made, u, v)
    return Peak(row=row, col=col, x_m=u + scenes.X, y_m=v + scenes.Y, score=score)


def test_a_site_stands_on_the_best_ring_near_its_peak() -> None:
    made = with_rings((508, 500, 60), (512, 503, 72), (540, 500, 95))
    score = np.full((200, 200), 50.0, np.float32)
    moved = settle_on_rings([peak(made, 500, 500, 50.0)], made.rings, score, made.grid, walk_m=20, spacing_m=100)
    assert (moved[0].x_m - scenes.X, moved[0].y_m - scenes.Y) == pytest.approx((512, 503))
    assert moved[0].ring_score == 72
    assert (moved[0].row, moved[0].col) == scenes.at(made, 512, 503)


def test_a_ring_on_ruled_out_ground_or_too_near_another_site_is_passed_over() -> None:
    made = with_rings((512, 503, 72), (495, 500, 60), (590, 500, 66))
    score = np.full((200, 200), 50.0, np.float32)
    score[scenes.at(made, 512, 503)] = np.nan
    peaks = [peak(made, 500, 500, 50.0), peak(made, 600, 500, 49.0)]
    moved = settle_on_rings(peaks, made.rings, score, made.grid, walk_m=20, spacing_m=100)
    assert moved[0].ring_score == 60
    assert moved[1].ring_score is None
    assert moved[1].x_m - scenes.X == 600
