"""The best ring of every root of a large wood, over all cores."""

import math
from typing import NamedTuple

import numpy as np
from numba import prange
from numpy.typing import NDArray

from boscage.kernels.flags import jit, parallel_jit
from boscage.kernels.ring import ALL, Task, Wood, open_kept, open_work, search_root
from boscage.kernels.ring_bounds import Limits

_RUN = 512


class Found(NamedTuple):
    """The best ring of each root, that is, of all rings whose lowest trunk it is.

    worth: float64 (N, 4), score (-inf where there is none), perimeter, area, supports. contacts: int64 (N,). ids: int64
    (near.size + N,); the ring of root i starts at first[i] + i.
    """

    worth: NDArray[np.float64]
    contacts: NDArray[np.int64]
    ids: NDArray[np.int64]


@jit
def _search_run(run: int, most: int, task: Task, found: Found) -> None:
    """Fill one run of roots."""
    first = task.wood.first
    work, kept = open_work(most), open_kept(1, most)
    for root in range(run * _RUN, min(first.size - 1, (run + 1) * _RUN)):
        kept.worth[:] = -math.inf
        kept.contacts[:] = 0
        search_root(root, task, work, kept, ALL)
        found.worth[root] = kept.worth[0]
        found.contacts[root] = kept.contacts[0]
        begin = first[root] + root
        found.ids[begin : begin + kept.contacts[0]] = kept.ids[0, : kept.contacts[0]]


@parallel_jit
def search_each(task: Task, found: Found) -> None:
    """Fill the best ring of each root.

    Roots are worked in runs of 512, each with its own room, and do not know of one another, so that the number of
    threads changes nothing.
    """
    # a loop over the cores takes arrays and numbers only
    stem, near, first, table = task.wood.stem, task.wood.near, task.wood.first, task.table
    least_m, most_m, limits = task.limits.least_m, task.limits.most_m, task.limits
    spacing_m, least = limits.spacing_m, limits.contacts
    worth, contacts, ids = found.worth, found.contacts, found.ids
    room = 1 + np.max(first[1:] - first[:-1])
    for run in prange((first.size - 1 + _RUN - 1) // _RUN):
        part = Task(Wood(stem, near, first), Limits(least_m, most_m, spacing_m, least), table)
        _search_run(run, room, part, Found(worth, contacts, ids))
