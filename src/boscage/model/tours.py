"""Shortest tours of every part of a few places, exactly: what a crew's rounds and a helicopter's flights share.

Places are numbered from 1 in a table of costs, 0 being where tours begin and end; a part is a bit mask, a bit a place.

References:
    M. Held, R. M. Karp (1962), A dynamic programming approach to sequencing problems, J. SIAM 10.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def tour_ends(table: Floats, stay: Floats) -> Floats:
    """(2^N, N) least cost from the start through a part that ends at place n; inf where the part lacks it.

    Args:
        table: (N + 1, N + 1) cost from row to column, the start first.
        stay: (N,) cost at each place.
    """
    count = len(stay)
    best = np.full((1 << count, count), np.inf)
    masks = np.arange(1 << count)
    held = (masks[:, None] >> np.arange(count)) & 1
    size = held.sum(axis=1)
    for n in range(count):
        best[1 << n, n] = table[0, n + 1] + stay[n]
    for level in range(1, count):
        for n in range(count):
            old = masks[(size == level) & (held[:, n] == 0)]
            best[old | 1 << n, n] = (best[old] + table[1:, n + 1]).min(axis=1) + stay[n]
    return best


def tour_order(table: Floats, ends: Floats, part: int) -> tuple[int, ...]:
    """Places of a part, from 0, in the order of its shortest tour."""
    out: list[int] = []
    following = 0
    while part:
        n = int(np.argmin(ends[part] + table[1:, following]))
        out.append(n)
        part, following = part & ~(1 << n), n + 1
    return tuple(reversed(out))


def parts_of(mask: int) -> NDArray[np.int64]:
    """Every part of a mask, 0 and the mask itself among them.

    >>> sorted(parts_of(0b101).tolist())
    [0, 1, 4, 5]
    """
    made = np.zeros(1, dtype=np.int64)
    bit = 1
    while bit <= mask:
        if mask & bit:
            made = np.concatenate([made, made | bit])
        bit <<= 1
    return made
