"""The best closed ring through trunks: an exact search with branch and bound.

A ring is rooted at the lowest of its trunks (then leftmost, then thinnest). From each root, chains of trunks are
grown counter-clockwise, depth first, children with the highest bound first. A chain is dropped when no completion
can turn left everywhere, close within the perimeter, reach enough contacts, or score as high as the rings kept.

With trunks of radius 0 all tests are exact. On thick trunks a corner depends on the whole ring; the search then
carries for each trunk of the chain a point and a radius that hold the corner whatever follows, and every test
gives way by as much. Ends of the chain: the centre and the trunk's radius. Inner trunks: the bark point for the
neighbours' known places, with an error of at most r times half the sum of the two neighbours' angular errors.
Area: a corner is its centre moved inwards along the normal that halves the angle, so that putting centres in place
of corners, one after another, never takes area away. That holds for any part of the corners, hence for the two
ends of the chain. Closed rings are judged on their true corners.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from boscage.kernels.flags import jit
from boscage.kernels.ring_bounds import Chain, Limits, score_bound
from boscage.kernels.ring_corners import BUILT_COST, EDGE, bark_corners, narrow, ring_worth, supports_needed

ALL = 1 << 62  # no limit on the number of chains
TIE = 1e-9  # scores, and perimeters in metres, that differ by no more are equal
_ROUND_OFF = 1e-12


class Wood(NamedTuple):
    """Trunks and who is near whom.

    stem: float64 (N, 3) east, north, radius in metres, sorted by north, then east, then radius. near, first:
    trunks above i that can share a ring with i are near[first[i]:first[i + 1]], rising.
    """

    stem: NDArray[np.float64]
    near: NDArray[np.int64]
    first: NDArray[np.int64]


class Work(NamedTuple):
    """Room for one search of chains of at most M trunks.

    ids: int64 (M,). point: float64 (M, 3), where the corner is and how far off at most. sums: float64 (M, 4), low
    and high length, twice the area, supports, of the spans between settled corners. later: int64 (M, M), trunks
    that may follow, by depth. bound: float64 (M, M), of each of them. left: int64 (M,), how many; next: how many of
    them may follow at once; place: how many of those were tried. trunk: float64 (M, 3), corner: float64 (M, 2), disk:
    float64 (M, 3), worth: float64 (4,), of a closed ring.
    """

    ids: NDArray[np.int64]
    point: NDArray[np.float64]
    sums: NDArray[np.float64]
    later: NDArray[np.int64]
    bound: NDArray[np.float64]
    left: NDArray[np.int64]
    next: NDArray[np.int64]
    place: NDArray[np.int64]
    trunk: NDArray[np.float64]
    corner: NDArray[np.float64]
    disk: NDArray[np.float64]
    worth: NDArray[np.float64]


class Kept(NamedTuple):
    """The best rings so far, best first.

    worth: float64 (K, 4) score, perimeter, area, supports; the score is -inf in empty rows. contacts: int64 (K,).
    ids: int64 (K, M). tried: int64 (2,), chains looked at and rings judged.
    """

    worth: NDArray[np.float64]
    contacts: NDArray[np.int64]
    ids: NDArray[np.int64]
    tried: NDArray[np.int64]


class Task(NamedTuple):
    """What is searched and under which limits. table: of `ring_bounds.arc_table`."""

    wood: Wood
    limits: Limits
    table: NDArray[np.float64]


@jit
def open_work(most: int) -> Work:
    """Room for chains of at most `most` trunks."""
    return Work(
        np.empty(most, np.int64), np.empty((most, 3)), np.zeros((most, 4)), np.empty((most, most), np.int64),
        np.empty((most, most)), np.zeros(most, np.int64), np.zeros(most, np.int64), np.zeros(most, np.int64),
        np.empty((most, 3)), np.empty((most, 2)), np.empty((most, 3)), np.empty(4),
    )  # fmt: skip


@jit
def open_kept(rings: int, most: int) -> Kept:
    """Room for the best `rings` rings of at most `most` trunks; all rows empty."""
    worth = np.full((rings, 4), -math.inf)
    return Kept(worth, np.zeros(rings, np.int64), np.full((rings, most), -1, np.int64), np.zeros(2, np.int64))


@jit
def _can_turn_left(a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]) -> bool:
    """Whether some points within the three disks (x, y, radius) turn left, a to b to c."""
    abx, aby, acx, acy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    slack = _ROUND_OFF * (abs(abx) + abs(aby)) * (abs(acx) + abs(acy))
    if a[2] > 0.0 or b[2] > 0.0 or c[2] > 0.0:
        slack += a[2] * math.hypot(acx - abx, acy - aby) + b[2] * math.hypot(acx, acy) + c[2] * math.hypot(abx, aby)
        slack += a[2] * b[2] + b[2] * c[2] + c[2] * a[2]
    return abx * acy - aby * acx > -slack


@jit
def _settle(work: Work, stem: NDArray[np.float64], depth: int, after: int) -> bool:
    """Narrow the corner of the chain's last trunk, now that the next is known; False if it cannot turn left there."""
    return narrow(stem[work.ids[depth]], work.point[depth - 1], stem[after], work.point[depth])


@jit
def _append(work: Work, task: Task, depth: int, after: int) -> Chain:
    """Put a trunk behind the chain, whose last trunk is settled; the sums of the longer chain.

    Slack of the area: moving corner i by e adds at most e * |distance between its neighbours| / 2, and two
    neighbours together at most e * e' / 2 more.
    """
    stem, spacing = task.wood.stem, task.limits.spacing_m
    point, ahead, root = work.point, stem[after], stem[work.ids[0]]
    for k in range(4):
        work.sums[depth + 1, k] = work.sums[depth, k]
    settled = work.sums[depth + 1]
    last_area2 = 0.0
    if depth > 0:
        a, b = point[depth - 1], point[depth]
        span = math.hypot(b[0] - a[0], b[1] - a[1])
        low = max(0.0, span - a[2] - b[2])
        settled[0] += low
        settled[1] += span + a[2] + b[2]
        settled[3] += supports_needed(low, spacing)
        if depth > 1:
            settled[2] += (a[0] - root[0]) * (b[1] - root[1]) - (a[1] - root[1]) * (b[0] - root[0])
        if b[2] > 0.0:
            settled[2] += b[2] * (math.hypot(ahead[0] - a[0], ahead[1] - a[1]) + ahead[2] + a[2])
        last_area2 = (b[0] - root[0]) * (ahead[1] - root[1]) - (b[1] - root[1]) * (ahead[0] - root[0])
    work.ids[depth + 1] = after
    for k in range(3):
        point[depth + 1, k] = ahead[k]
    span = math.hypot(ahead[0] - point[depth, 0], ahead[1] - point[depth, 1])
    low, high = max(0.0, span - point[depth, 2] - ahead[2]), span + point[depth, 2] + ahead[2]
    chord = math.hypot(ahead[0] - root[0], ahead[1] - root[1])
    built = int(settled[3]) + supports_needed(low, spacing)
    area = 0.5 * (settled[2] + last_area2)
    return Chain(settled[0] + low, settled[1] + high, area, built, chord, root[2] + ahead[2])


@jit
def _winnow(work: Work, task: Task, depth: int, low_m: float) -> int:
    """List the trunks that may come after the chain's last one, at any later place; how many."""
    stem, point = task.wood.stem, work.point
    root, back, here = point[0], point[depth - 1], point[depth]
    room = task.limits.most_m * (1.0 + EDGE) - low_m
    count = 0
    for k in range(work.left[depth - 1]):
        one = work.later[depth - 1, k]
        if one == work.ids[depth]:
            continue
        there = stem[one]
        out = math.hypot(there[0] - here[0], there[1] - here[1]) - here[2] - there[2]
        home = math.hypot(there[0] - root[0], there[1] - root[1]) - root[2] - there[2]
        if max(0.0, out) + max(0.0, home) > room or not _can_turn_left(back, here, there):
            continue
        if depth == 1 or _can_turn_left(root, here, there):
            work.later[depth, count] = one
            count += 1
    work.left[depth] = count
    return count


@jit
def _rank(work: Work, task: Task, depth: int, target: float) -> None:
    """Keep, of the trunks that may follow at once, those with a bound over `target`; highest bound first.

    The others stay behind them in the list: they may still come later. work.next[depth] becomes their number.
    """
    count, good = work.left[depth], 0
    for k in range(count):
        one = work.later[depth, k]
        if depth > 0 and not _settle(work, task.wood.stem, depth, one):
            continue
        chain = _append(work, task, depth, one)
        bound = score_bound(chain, count - 1, task.limits, task.table, math.inf)
        if bound < target:
            continue
        work.later[depth, k] = work.later[depth, good]
        place = good
        while place > 0 and work.bound[depth, place - 1] < bound:
            work.bound[depth, place], work.later[depth, place] = (
                work.bound[depth, place - 1],
                work.later[depth, place - 1],
            )
            place -= 1
        work.bound[depth, place], work.later[depth, place] = bound, one
        good += 1
    work.next[depth], work.place[depth] = good, 0


@jit
def _close(work: Work, task: Task, kept: Kept, depth: int, chain: Chain) -> None:
    """Judge the ring that closes behind the chain's last trunk, and keep it if it is among the best."""
    limits, stem, target = task.limits, task.wood.stem, kept.worth[-1, 0] - TIE
    back = max(0.0, chain.chord_m - chain.ends_m)
    low, high = chain.low_m + back, chain.high_m + chain.chord_m + chain.ends_m
    if low > limits.most_m * (1.0 + EDGE) or high < limits.least_m * (1.0 - EDGE):
        return
    shortest = max(low, limits.least_m * (1.0 - EDGE))
    built = chain.built + supports_needed(back, limits.spacing_m)
    if 100.0 * (4.0 * math.pi * chain.area_m2 / (shortest * shortest) - BUILT_COST * built) + TIE < target:
        return
    root, first = work.point[0], work.point[1]
    before, last = work.point[depth - 1], work.point[depth]
    if not (_can_turn_left(before, last, root) and _can_turn_left(last, root, first)):
        return
    count = depth + 1
    if not _narrow_ring(work, stem, count):
        return
    if not _may_be_kept(work, limits, count, target):
        return
    kept.tried[1] += 1
    corner = work.corner[:count]
    if bark_corners(work.trunk[:count], corner) and ring_worth(
        corner, limits.spacing_m, limits.least_m, limits.most_m, work.worth
    ):
        _keep(work, kept, count)


@jit
def _narrow_ring(work: Work, stem: NDArray[np.float64], count: int) -> bool:
    """Fill the closed ring's trunks and a guess of its corners; False if some corner cannot turn left.

    Each round narrows the disk of every corner once, given its neighbours' disks. The corners of the chain itself,
    which the search goes on with, stay as they are.
    """
    thick = False
    for i in range(count):
        work.disk[i] = work.point[i]
        work.trunk[i] = stem[work.ids[i]]
        thick = thick or work.trunk[i, 2] > 0.0
    for _ in range(2 if thick else 1):
        for k in range(-1, count - 1):
            i = k % count
            if not narrow(work.trunk[i], work.disk[(k - 1) % count], work.disk[(k + 1) % count], work.disk[i]):
                return False
    work.corner[:count] = work.disk[:count, :2]
    return True


@jit
def _may_be_kept(work: Work, limits: Limits, count: int, target: float) -> bool:
    """Whether a ring with its corners somewhere in the closed ring's disks can fit the window and reach the target."""
    middle, slack, area2, slack2, built = 0.0, 0.0, 0.0, 0.0, 0
    disk = work.disk
    for i in range(count):
        a, b, c = disk[(i - 1) % count], disk[i], disk[(i + 1) % count]
        span = math.hypot(c[0] - b[0], c[1] - b[1])
        middle += span
        slack += 2.0 * b[2]
        area2 += (b[0] - disk[0, 0]) * (c[1] - disk[0, 1]) - (b[1] - disk[0, 1]) * (c[0] - disk[0, 0])
        slack2 += b[2] * (math.hypot(c[0] - a[0], c[1] - a[1]) + c[2])
        built += supports_needed(span - b[2] - c[2], limits.spacing_m)
    shortest = max(middle - slack, limits.least_m * (1.0 - EDGE))
    if shortest > limits.most_m * (1.0 + EDGE) or middle + slack < limits.least_m * (1.0 - EDGE):
        return False
    return 100.0 * (2.0 * math.pi * (area2 + slack2) / (shortest * shortest) - BUILT_COST * built) + TIE > target


@jit
def _beats(work: Work, kept: Kept, count: int, row: int) -> bool:
    """Whether the judged ring comes before a kept one: score, then contacts, then perimeter, then trunks in order."""
    if kept.contacts[row] == 0 or work.worth[0] > kept.worth[row, 0] + TIE:
        return True
    if work.worth[0] < kept.worth[row, 0] - TIE:
        return False
    if count != kept.contacts[row]:
        return count > kept.contacts[row]
    if abs(work.worth[1] - kept.worth[row, 1]) > TIE:
        return work.worth[1] > kept.worth[row, 1]
    for i in range(count):
        if work.ids[i] != kept.ids[row, i]:
            return work.ids[i] < kept.ids[row, i]
    return False


@jit
def _keep(work: Work, kept: Kept, count: int) -> None:
    """Put the judged ring in its place among the kept ones."""
    row = kept.contacts.size
    while row > 0 and _beats(work, kept, count, row - 1):
        row -= 1
    if row == kept.contacts.size:
        return
    for k in range(kept.contacts.size - 1, row, -1):
        kept.worth[k], kept.contacts[k], kept.ids[k] = kept.worth[k - 1], kept.contacts[k - 1], kept.ids[k - 1]
    kept.worth[row], kept.contacts[row] = work.worth, count
    kept.ids[row, :count] = work.ids[:count]


@jit
def search_root(root: int, task: Task, work: Work, kept: Kept, most_chains: int) -> None:
    """Look at every ring whose lowest trunk is `root` and keep the best; stop after `most_chains` chains.

    Answers do not depend on the order in which chains are tried: equal scores are put in order by `_beats`, and
    a chain is dropped only when its bound is below the last kept score by more than a tie.
    """
    wood, contacts = task.wood, task.limits.contacts
    begin, end = wood.first[root], wood.first[root + 1]
    if end - begin + 1 < max(3, contacts):
        return
    work.ids[0], work.left[0] = root, end - begin
    work.later[0, : end - begin] = wood.near[begin:end]
    work.point[0] = wood.stem[root]
    work.sums[0, :] = 0.0
    _rank(work, task, 0, kept.worth[-1, 0] - 2.0 * TIE)
    depth, last = 0, kept.tried[0] + most_chains
    while depth >= 0 and kept.tried[0] < last:
        k, target = work.place[depth], kept.worth[-1, 0] - 2.0 * TIE
        if k >= work.next[depth] or work.bound[depth, k] < target:
            depth -= 1
            continue
        work.place[depth] += 1
        if _grow(work, task, kept, depth):
            depth += 1
            _rank(work, task, depth, kept.worth[-1, 0] - 2.0 * TIE)


@jit
def _grow(work: Work, task: Task, kept: Kept, depth: int) -> bool:
    """Put the next trunk behind the chain and judge the ring that closes there; whether to look further along it."""
    kept.tried[0] += 1
    one = work.later[depth, work.place[depth] - 1]
    if depth > 0:
        _settle(work, task.wood.stem, depth, one)
    chain = _append(work, task, depth, one)
    if depth + 2 >= max(3, task.limits.contacts):
        _close(work, task, kept, depth + 1, chain)
    further = _winnow(work, task, depth + 1, chain.low_m)
    if further == 0 or depth + 2 + further < task.limits.contacts:
        return False
    target = kept.worth[-1, 0] - 2.0 * TIE
    return score_bound(chain, further, task.limits, task.table, target) >= target


@jit
def search_all(task: Task, kept: Kept, most_chains: int) -> None:
    """The best rings of the whole wood, whatever their lowest trunk; at most so many chains from each."""
    work = open_work(kept.ids.shape[1])
    for root in range(task.wood.stem.shape[0]):
        search_root(root, task, work, kept, most_chains)
