"""The load plan: which pieces lie on which carrier in which trip, what is too heavy, what stays behind."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boscage.errors import PlanError
from boscage.model.options import unknown_key
from boscage.model.pack import (
    BUILT_IN_CARRIERS,
    PURPOSES,
    CarrierOptions,
    Convoy,
    LeftBehind,
    PackItem,
    PackOptions,
    PackPlan,
    Part,
    PartLoad,
    Portion,
)
from boscage.packing.trips import Filling, Kinds, Trips, fewest_trips, pour, whole_model

OVER = "one piece is heavier than any carrier takes, and it cannot be split"
UNKNOWN = "its mass is not known: weigh it"
NO_ROOM = "no room within the trips stated"
_SEARCHED = 400
"""Pieces by parts by trips up to which the turn that does not go whole is searched, not only poured."""


def make_convoy(
    names: Sequence[str], carriers: Mapping[str, CarrierOptions], *, load_limit_kg: float | None = None,
    file: str = "plan.toml",
) -> Convoy:  # fmt: skip
    """The carriers that go together, from the plan's tables and, where it has none of that name, the built-in ones.

    Args:
        load_limit_kg: Most mass on the hook as the pilot states it, for a helicopter without a limit of its own.

    Raises:
        PlanError: A name is unknown, or a carrier has no limit that anybody stated.
    """
    known = {**BUILT_IN_CARRIERS, **carriers}
    parts: list[Part] = []
    cargo: list[float] = []
    notes: list[str] = []
    for name in names:
        if name not in known:
            raise unknown_key(name, known, file=file, key="carriers")
        own = known[name]
        limits = _limits(name, own, load_limit_kg, file)
        for n in range(own.count):
            title = f"{name} {n + 1}" if own.count > 1 else name
            parts += [Part(carrier=len(cargo), name=f"{title} {p}", limit_kg=kg) for p, kg in limits.items()]
            cargo.append(math.inf if own.gross is None else own.gross.kg - own.aboard.kg)
        notes += _notes(name, own, is_default=name not in carriers)
    return Convoy(parts=tuple(parts), cargo_kg=tuple(cargo), notes=tuple(notes))


def _limits(name: str, own: CarrierOptions, load_limit_kg: float | None, file: str) -> dict[str, float]:
    limits = {part: mass.kg for part, mass in own.parts.items()}
    if own.kind == "helicopter" and not limits and load_limit_kg is not None:
        limits = {"hook": load_limit_kg}
    if own.kind == "back" and not limits:
        limits = {part: mass.kg for part, mass in BUILT_IN_CARRIERS["back"].parts.items()}
    if not limits:
        words = "only the operator's load calculation gives it" if own.kind == "helicopter" else "it is on the placard"
        raise PlanError(
            f"the carrier {name} has no limit", expected='parts such as { "load" = "200lb" }; ' + words,
            mend="state it, or leave the carrier out", file=file, field=f"carriers.{name}.parts",
        )  # fmt: skip
    if own.kind == "back" and own.body is not None:
        limits = {part: min(kg, own.body.kg / 3.0) for part, kg in limits.items()}
    return limits


def _notes(name: str, own: CarrierOptions, *, is_default: bool) -> list[str]:
    notes = []
    if is_default:
        notes.append(f"Limits of {name} are common practice without a source: state those of the placard.")
    if own.kind == "atv" and own.gross is None:
        notes.append(f"The gross limit of {name} is not stated: rider, fuel and cargo together were not checked.")
    if own.kind == "back" and own.body is None:
        notes.append(f"Body weight for {name} is not stated: a third of it was not checked.")
    return notes


def plan_loads(items: Sequence[PackItem], convoy: Convoy, options: PackOptions) -> PackPlan:
    """Put every piece on a part in the fewest trips; within stated trips, what matters most first.

    Masses are rounded up and limits down to the gram.
    """
    known = [i for i in items if i.mass_kg is not None]
    behind = [LeftBehind(item=i, count=i.count, reason=UNKNOWN) for i in items if i.mass_kg is None]
    every = _kinds(known, convoy)
    alone = every.alone() if known else np.zeros(0, dtype=bool)
    over = tuple(i for i, ok in zip(known, alone, strict=True) if not ok)
    behind += [LeftBehind(item=i, count=i.count, reason=OVER) for i in over]
    fitting = [i for i, ok in zip(known, alone, strict=True) if ok]
    kinds = _kinds(fitting, convoy)
    fillings: list[Filling] = []
    bound, fewest = 0, True
    if fitting:
        made = fewest_trips(kinds)
        fillings, bound, fewest = list(made.fillings), made.bound, made.is_fewest
    if options.trips is not None and len(fillings) > options.trips:
        fillings, fewest = _within(kinds, fitting, options.trips)
        behind += _rest(kinds, fitting, fillings)
    loads = tuple(load for t, f in enumerate(fillings, start=1) for load in _loads(f, t, kinds, fitting, convoy))
    sites = tuple(dict.fromkeys(i.site for i in items if i.site))
    return PackPlan(
        sites=sites, items=tuple(items), loads=loads, trips=len(fillings), lower_bound_trips=bound, is_fewest=fewest,
        over_limit=over, left_behind=tuple(behind), notes=convoy.notes,
    )  # fmt: skip


def _kinds(items: Sequence[PackItem], convoy: Convoy) -> Kinds:
    limits = np.array([_down(p.limit_kg) for p in convoy.parts], dtype=np.int64)
    carrier = np.array([p.carrier for p in convoy.parts], dtype=np.int64)
    whole = np.bincount(carrier, weights=limits, minlength=len(convoy.cargo_kg))
    cargo = [w if math.isinf(c) else min(w, _down(c)) for c, w in zip(convoy.cargo_kg, whole, strict=True)]
    return Kinds(
        masses=np.array([grams(i.mass_kg or 0.0) for i in items], dtype=np.int64),
        counts=np.array([i.count for i in items], dtype=np.int64), limits=limits, carrier=carrier,
        cargo=np.array(cargo, dtype=np.int64),
    )  # fmt: skip


def grams(mass_kg: float) -> int:
    """Whole grams of a piece, rounded up, at least 1.

    >>> grams(0.4), grams(0.40001), grams(0.0)
    (400, 401, 1)
    """
    return max(1, math.ceil(mass_kg * 1000.0 - 1e-6))


def _down(limit_kg: float) -> int:
    return math.floor(limit_kg * 1000.0 + 1e-6)


def _within(kinds: Kinds, items: Sequence[PackItem], trips: int) -> tuple[list[Filling], bool]:
    """What goes in so many trips, and whether it is proven how much goes whole.

    In the order of `PURPOSES`, site by site: turns go whole as long as they fit; of the first that does not, as much
    mass as is found; of the others what finds room, heaviest first. One turn at least is taken not to go whole.
    """
    turn_of = [(PURPOSES.index(i.purpose), i.site) for i in items]
    turns = sorted(dict.fromkeys(turn_of), key=lambda t: t[0])
    rank = np.array([turns.index(t) for t in turn_of])
    whole, made, proven = 0, Trips(fillings=(), bound=0), True
    low, high = 1, len(turns) - 1
    while low <= high:
        middle = (low + high) // 2
        tried = fewest_trips(_some(kinds, rank < middle))
        if len(tried.fillings) <= trips:
            whole, made, low = middle, tried, middle + 1
        else:
            proven &= tried.bound > trips
            high = middle - 1
    best = _spread(kinds, rank < whole, made.fillings, trips)
    best = _most(kinds, rank, whole, best)
    gone = sum(f.sum(axis=1) for f in best)
    order = sorted(range(len(items)), key=lambda i: (rank[i], -kinds.masses[i]))
    pour(kinds, best, [i for i in order for _ in range(kinds.counts[i] - gone[i])])
    return [f for f in best if f.any()], proven


def _some(kinds: Kinds, which: NDArray[np.bool_]) -> Kinds:
    return replace(kinds, masses=kinds.masses[which], counts=kinds.counts[which])


def _spread(kinds: Kinds, which: NDArray[np.bool_], fillings: Sequence[Filling], trips: int) -> list[Filling]:
    """Fillings of some kinds as fillings of all, with empty trips up to the number."""
    out = [np.zeros((len(kinds.masses), len(kinds.limits)), dtype=np.int64) for _ in range(trips)]
    for made, filling in zip(out, fillings, strict=False):
        made[which] = filling
    return out


def _most(kinds: Kinds, rank: NDArray[np.int64], whole: int, start: list[Filling]) -> list[Filling]:
    """The turns that go whole, and of the next one the most mass that the search finds."""
    which = rank <= whole
    part, own = _some(kinds, which), rank[which]
    worth = np.where(own == whole, part.masses, 0) / 1000.0
    held = (own < whole).astype(float)
    poured = [f.copy() for f in start]
    pour(kinds, poured, [int(i) for i in np.flatnonzero(rank == whole) for _ in range(kinds.counts[i])])
    if part.masses.size * part.limits.size * len(start) > _SEARCHED:
        return poured
    found, _ = whole_model(part, len(start), seconds=10.0, worth=worth, least=((held, float(held @ part.counts)),))
    if found is None or _mass(part, found) <= _mass(kinds, poured):
        return poured
    return _spread(kinds, which, found, len(start))


def _mass(kinds: Kinds, fillings: Sequence[Filling]) -> int:
    return sum(int((kinds.masses @ f).sum()) for f in fillings)


def _rest(kinds: Kinds, items: Sequence[PackItem], fillings: Sequence[Filling]) -> list[LeftBehind]:
    gone = sum((f.sum(axis=1) for f in fillings), np.zeros(len(items), dtype=np.int64))
    short = kinds.counts - gone
    return [LeftBehind(item=i, count=int(n), reason=NO_ROOM) for i, n in zip(items, short, strict=True) if n > 0]


def _loads(filling: Filling, trip: int, kinds: Kinds, items: Sequence[PackItem], convoy: Convoy) -> list[PartLoad]:
    """What lies on each part that carries anything, heaviest line first."""
    made = []
    for k, part in enumerate(convoy.parts):
        which = sorted(np.flatnonzero(filling[:, k]), key=lambda i: (-kinds.masses[i] * filling[i, k], i))
        if which:
            portions = tuple(Portion(item=items[i], count=int(filling[i, k])) for i in which)
            mass = float(kinds.masses @ filling[:, k]) / 1000.0
            made.append(PartLoad(part=part.name, trip=trip, limit_kg=part.limit_kg, mass_kg=mass, portions=portions))
    return made
