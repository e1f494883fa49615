"""Fewest trips: unchanged by order and scale, never fewer for more to carry, never more for more room."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from boscage.packing.trips import Kinds, fewest_trips

PIECES = st.lists(st.integers(1, 60), min_size=1, max_size=12)


def kinds(sizes: list[int], limits: tuple[int, ...] = (60, 75), cargo: int = 110, scale: int = 1) -> Kinds:
    return Kinds(
        masses=np.array(sizes) * scale, counts=np.ones(len(sizes), dtype=np.int64), limits=np.array(limits) * scale,
        carrier=np.zeros(len(limits), dtype=np.int64), cargo=np.array([cargo]) * scale,
    )  # fmt: skip


@settings(derandomize=True, deadline=None, max_examples=40)
@given(PIECES, st.integers(0, 1000))
def test_order_and_scale_change_nothing(sizes: list[int], seed: int) -> None:
    first = fewest_trips(kinds(sizes))
    assert first.is_fewest
    turned = np.random.default_rng(seed).permutation(sizes).tolist()
    assert len(fewest_trips(kinds(turned)).fillings) == len(first.fillings)
    assert len(fewest_trips(kinds(sizes, scale=7)).fillings) == len(first.fillings)


@settings(derandomize=True, deadline=None, max_examples=40)
@given(PIECES, st.integers(1, 60), st.integers(0, 30))
def test_more_to_carry_and_more_room(sizes: list[int], more: int, room: int) -> None:
    base = len(fewest_trips(kinds(sizes)).fillings)
    assert base <= len(fewest_trips(kinds([*sizes, more])).fillings) <= base + 1
    assert len(fewest_trips(kinds(sizes, (60 + room, 75), 110 + room)).fillings) <= base


@settings(derandomize=True, deadline=None, max_examples=40)
@given(PIECES)
def test_a_count_is_so_many_pieces(sizes: list[int]) -> None:
    masses, counts = np.unique(sizes, return_counts=True)
    limits = np.array([60, 75])
    merged = Kinds(
        masses=masses, counts=counts, limits=limits, carrier=np.zeros(2, dtype=np.int64), cargo=np.array([110])
    )
    assert len(fewest_trips(merged).fillings) == len(fewest_trips(kinds(sizes)).fillings)
