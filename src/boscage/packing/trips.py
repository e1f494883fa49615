"""Fewest trips: pieces of whole grams on parts with limits, parts on carriers with a limit in all; proven by a bound.

A trip is one filling of every part at once. Column generation gives a bound that no plan can beat (Gilmore and Gomory
1961, Farley 1990); a first-fit plan, then whole numbers of the fillings found, then the whole model meet it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_matrix, lil_matrix

Ints = NDArray[np.int64]
Filling = Ints
"""(I, K) pieces of each kind on each part."""

_ROUNDS = 2000
_WHOLE_MODEL = 6000
_SECONDS, _NODES = 60.0, 2000
"""The nodes stop a search, so that it ends alike on every machine; the seconds only one that hangs."""
_TINY = 1e-9


@dataclass(frozen=True, kw_only=True)
class Kinds:
    """Pieces to carry and where they may lie; all masses in whole grams.

    Attributes:
        masses: (I,) of one piece of each kind, at least 1.
        counts: (I,) pieces of each kind, at least 1.
        limits: (K,) of each part.
        carrier: (K,) index of the carrier that each part belongs to.
        cargo: (V,) most cargo of each carrier; `limits.sum()` or more where nothing is stated.
    """

    masses: Ints
    counts: Ints
    limits: Ints
    carrier: Ints
    cargo: Ints

    def fits(self, filling: Filling) -> bool:
        """Whether one trip can be loaded so."""
        load = self.masses @ filling
        by_carrier = np.bincount(self.carrier, weights=load, minlength=len(self.cargo))
        return bool((filling >= 0).all() and (load <= self.limits).all() and (by_carrier <= self.cargo).all())

    def alone(self) -> NDArray[np.bool_]:
        """(I,) whether one piece of the kind fits anywhere by itself."""
        room = np.minimum(self.limits, self.cargo[self.carrier])
        return self.masses <= (room.max() if len(room) else 0)

    @property
    def volume_bound(self) -> int:
        """Trips that the mass alone asks for."""
        room = np.minimum(np.bincount(self.carrier, weights=self.limits, minlength=len(self.cargo)), self.cargo).sum()
        return math.ceil(int(self.masses @ self.counts) / int(room)) if len(self.masses) else 0


@dataclass(frozen=True, kw_only=True)
class Trips:
    """Fillings, one a trip, that carry every piece, and a number of trips that none can go below."""

    fillings: tuple[Filling, ...]
    bound: int

    @property
    def is_fewest(self) -> bool:
        """Whether it is proven that no plan takes fewer."""
        return len(self.fillings) == self.bound


def fewest_trips(kinds: Kinds, *, seconds: float = _SECONDS) -> Trips:
    """A plan with the fewest trips that was found, and a proven bound.

    Args:
        seconds: For each of the two searches in whole numbers.

    Raises:
        ValueError: A piece fits nowhere even by itself.
    """
    if not kinds.alone().all():
        raise ValueError("a piece fits on no part")
    best, bound = first_fit(kinds), kinds.volume_bound
    if len(best) > bound:
        relaxed, columns = generate(kinds, best)
        bound = max(bound, relaxed)
        if len(best) > bound:
            best = min(best, _whole_columns(kinds, columns, seconds) or best, key=len)
    while len(best) > bound and kinds.masses.size * kinds.limits.size * bound <= _WHOLE_MODEL:
        found, is_settled = whole_model(kinds, bound, seconds=seconds)
        if found is not None:
            best = found
        elif not is_settled:
            break
        else:
            bound += 1
    return Trips(fillings=tuple(best), bound=bound)


def first_fit(kinds: Kinds) -> list[Filling]:
    """One trip after the other filled with the heaviest pieces that it still takes; never proven."""
    fillings: list[Filling] = []
    order = np.argsort(-kinds.masses, kind="stable")
    pieces = [int(i) for i in order for _ in range(kinds.counts[i])]
    left = pieces
    while left:
        fillings.append(np.zeros((len(kinds.masses), len(kinds.limits)), dtype=np.int64))
        left = pour(kinds, fillings[-1:], left)
    return fillings


def pour(kinds: Kinds, fillings: Sequence[Filling], pieces: Sequence[int]) -> list[int]:
    """Put pieces, in the order given, where they leave least room; the fillings are changed. What finds no room."""
    loads = [kinds.masses @ f for f in fillings]
    parts = [kinds.limits - load for load in loads]
    own = [np.bincount(kinds.carrier, load, len(kinds.cargo)).astype(np.int64) for load in loads]
    cargo = [kinds.cargo - o for o in own]
    missed: list[int] = []
    for i in pieces:
        mass = kinds.masses[i]
        rooms = [_room(kinds, *rest) for rest in zip(parts, cargo, strict=True)]
        fitting = [(r[k], t, k) for t, r in enumerate(rooms) for k in np.flatnonzero(r >= mass)]
        if not fitting:
            missed.append(i)
            continue
        _, t, k = min(fitting)
        fillings[t][i, k] += 1
        parts[t][k] -= mass
        cargo[t][kinds.carrier[k]] -= mass
    return missed


def _room(kinds: Kinds, parts: Ints, cargo: Ints) -> Ints:
    """(K,) grams that each part still takes."""
    return np.minimum(parts, cargo[kinds.carrier])


def generate(kinds: Kinds, start: Sequence[Filling]) -> tuple[int, list[Filling]]:
    """Bound on trips by column generation, and the fillings that came up.

    With prices p >= 0 of the kinds and v the dearest filling under them, any plan takes sum(p d) / max(v, 1) trips.

    References: P. C. Gilmore, R. E. Gomory (1961), Operations Research 9, 849-859; A. A. Farley (1990), Operations
    Research 38, 922-923.
    """
    columns = [*start, *_singles(kinds)]
    best = 0.0
    for _ in range(_ROUNDS):
        cover = csr_matrix(np.column_stack([-c.sum(axis=1) for c in columns]).astype(float))
        made = linprog(np.ones(len(columns)), A_ub=cover, b_ub=-kinds.counts.astype(float), method="highs")
        prices = np.maximum(0.0, -made.ineqlin.marginals)
        filling, value, at_most = dearest(kinds, prices)
        best = max(best, float(prices @ kinds.counts) / max(1.0, at_most))
        if value <= 1.0 + 1e-7 or any(np.array_equal(filling, c) for c in columns):
            break
        columns.append(filling)
    return math.ceil(best - 1e-6), columns


def _singles(kinds: Kinds) -> list[Filling]:
    room = np.minimum(kinds.limits, kinds.cargo[kinds.carrier])
    made = []
    for i in range(len(kinds.masses)):
        filling = np.zeros((len(kinds.masses), len(kinds.limits)), dtype=np.int64)
        k = int(np.argmax(room))
        filling[i, k] = min(kinds.counts[i], room[k] // kinds.masses[i])
        made.append(filling)
    return made


def dearest(kinds: Kinds, prices: NDArray[np.float64]) -> tuple[Filling, float, float]:
    """The filling of greatest price, its price, and a price that none exceeds."""
    if len(kinds.limits) == 1:
        return _dearest_one(kinds, prices)
    filling, ceiling = _solve(kinds, prices, 1, kinds.counts, _SECONDS)
    assert filling is not None
    value = float(prices @ filling[0].sum(axis=1))
    return filling[0], value, max(value, ceiling)


def _dearest_one(kinds: Kinds, prices: NDArray[np.float64]) -> tuple[Filling, float, float]:
    """One part: the bounded knapsack by dynamic programming over its grams."""
    room = int(min(kinds.limits[0], kinds.cargo[0]))
    step = int(np.gcd.reduce(kinds.masses))
    room //= step
    lots = [(i, n) for i, c in enumerate(kinds.counts) if prices[i] > 0.0 for n in _lots(int(c))]
    value = np.zeros(room + 1)
    taken = np.zeros((len(lots), room + 1), dtype=bool)
    for row, (i, n) in enumerate(lots):
        mass = n * int(kinds.masses[i]) // step
        if mass <= room:
            with_it = value[: room + 1 - mass] + n * prices[i]
            taken[row, mass:] = with_it > value[mass:] + _TINY * 1e-3
            value[mass:] = np.maximum(value[mass:], with_it)
    filling = np.zeros((len(kinds.masses), 1), dtype=np.int64)
    at = room
    for row in range(len(lots) - 1, -1, -1):
        if taken[row, at]:
            i, n = lots[row]
            filling[i, 0] += n
            at -= n * int(kinds.masses[i]) // step
    return filling, float(prices @ filling[:, 0]), float(value[room])


def _lots(count: int) -> list[int]:
    """Lots of 1, 2, 4, ... and a rest, from which every number up to `count` can be put together."""
    lots, size = [], 1
    while count > 0:
        lots.append(min(size, count))
        count -= lots[-1]
        size *= 2
    return lots


def _whole_columns(kinds: Kinds, columns: Sequence[Filling], seconds: float) -> list[Filling] | None:
    """Fewest of the fillings found, each as often as needed, that carry everything."""
    cover = csr_matrix(np.column_stack([c.sum(axis=1) for c in columns]).astype(float))
    made = milp(
        np.ones(len(columns)), integrality=np.ones(len(columns)), bounds=Bounds(0, np.inf),
        constraints=LinearConstraint(cover, kinds.counts, np.inf),
        options={"time_limit": seconds, "node_limit": _NODES},
    )  # fmt: skip
    if made.x is None:
        return None
    used = [columns[j].copy() for j, n in enumerate(np.round(made.x).astype(int)) for _ in range(n)]
    return _trimmed(kinds, used)


def _trimmed(kinds: Kinds, fillings: list[Filling]) -> list[Filling]:
    """The fillings without the pieces that they hold too many of, and without those that are then empty."""
    over = sum(f.sum(axis=1) for f in fillings) - kinds.counts
    for filling in reversed(fillings):
        for i, k in zip(*np.nonzero(filling), strict=True):
            drop = min(int(over[i]), int(filling[i, k]))
            filling[i, k] -= drop
            over[i] -= drop
    return [f for f in fillings if f.any()]


def whole_model(
    kinds: Kinds, trips: int, *, seconds: float = _SECONDS, worth: NDArray[np.float64] | None = None,
    least: Sequence[tuple[NDArray[np.float64], float]] = (),
) -> tuple[list[Filling] | None, bool]:  # fmt: skip
    """Everything in so many trips, or with `worth` (I,) the pieces worth most; and whether that is proven.

    Args:
        least: Worths whose sum over what is carried may not fall below a figure.

    Returns:
        The fillings, or None where none were found; True where the answer is proven.
    """
    if worth is not None:
        found, ceiling = _solve(kinds, worth, trips, kinds.counts, seconds, least)
        value = sum(float(worth @ f.sum(axis=1)) for f in found) if found is not None else -np.inf
        return found, found is not None and ceiling <= value + 1e-6 * max(1.0, abs(value))
    ones = kinds.masses.astype(float) / float(kinds.masses @ kinds.counts)
    found, ceiling = _solve(kinds, ones, trips, kinds.counts, seconds, ((ones, 1.0 - 1e-9),))
    if found is not None:
        return found, True
    return None, ceiling == -np.inf


def _solve(
    kinds: Kinds, worth: NDArray[np.float64], trips: int, most: Ints, seconds: float,
    least: Sequence[tuple[NDArray[np.float64], float]] = (),
) -> tuple[list[Filling] | None, float]:  # fmt: skip
    """Pieces worth most in so many trips and a ceiling on that worth; None and -inf where nothing keeps the rows.

    Variables x[i, k, t] are whole numbers. Trips are alike, so they are put in order of what they weigh.
    """
    rows, low, high = _rows(kinds, trips, most, least)
    size = len(kinds.masses) * len(kinds.limits) * trips
    whole = np.tile(np.repeat(most, len(kinds.limits)), trips).astype(float)
    made = milp(
        -np.tile(np.repeat(worth, len(kinds.limits)), trips), integrality=np.ones(size), bounds=Bounds(0, whole),
        constraints=LinearConstraint(rows, low, high),
        options={"time_limit": seconds, "node_limit": _NODES, "mip_rel_gap": 0.0},
    )  # fmt: skip
    if made.x is None:
        return None, -np.inf if made.status == 2 else np.inf
    shape = (trips, len(kinds.masses), len(kinds.limits))
    fillings = list(np.round(made.x).astype(np.int64).reshape(shape))
    ceiling = -float(made.mip_dual_bound) if made.mip_dual_bound is not None else np.inf
    return (fillings, ceiling) if all(kinds.fits(f) for f in fillings) else (None, np.inf)


def _rows(
    kinds: Kinds, trips: int, most: Ints, least: Sequence[tuple[NDArray[np.float64], float]]
) -> tuple[csr_matrix, NDArray[np.float64], NDArray[np.float64]]:
    """Limits of parts and carriers, counts of pieces, the order of trips, and what must be carried."""
    count, parts = len(kinds.masses), len(kinds.limits)
    at = np.arange(trips * count * parts).reshape(trips, count, parts)
    table: list[tuple[Ints, NDArray[np.float64], float, float]] = []
    mass = kinds.masses.astype(float)
    for t in range(trips):
        table += [(at[t, :, k], mass, -np.inf, float(kinds.limits[k])) for k in range(parts)]
        for v, cargo in enumerate(kinds.cargo):
            own = np.flatnonzero(kinds.carrier == v)
            if cargo < kinds.limits[own].sum():
                table.append((at[t][:, own].ravel(), np.repeat(mass, len(own)), -np.inf, float(cargo)))
        if t:
            pair = np.concatenate([at[t - 1].ravel(), at[t].ravel()])
            weights = np.repeat(mass, parts)
            table.append((pair, np.concatenate([weights, -weights]), 0.0, np.inf))
    table += [(at[:, i].ravel(), np.ones(trips * parts), -np.inf, float(most[i])) for i in range(count)]
    table += [(at.ravel(), np.tile(np.repeat(w, parts), trips), floor, np.inf) for w, floor in least]
    rows = lil_matrix((len(table), at.size))
    for r, (where, weights, _, _) in enumerate(table):
        rows[r, where] = weights
    return csr_matrix(rows), np.array([b[2] for b in table]), np.array([b[3] for b in table])
