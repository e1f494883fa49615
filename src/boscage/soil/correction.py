"""Readings beat maps: what probe readings add to the map's resistance, everywhere, with its error.

Everything is in natural logarithms. At each place with readings the residual is the mean, over depths, of reading less
map (the map at that depth, for the state of the ground on that day). It shifts the whole profile there. Between places:

- the simple rule: within a map unit, sum(w r) / (sum(w) + 1 / reach**2) with w = 1 / distance**2, so that a reading
  holds at its own place, weighs as much as the map at `reach`, and says nothing of another unit;
- from `fewest_readings` places on, ordinary kriging of the residuals, if leaving out each place in turn misses by less
  than with the simple rule. That choice is itself uncertain with few places: drawn from open data (zinc, nickel and
  cobalt in two soil surveys, the map made of class means), the simple rule alone missed by less than the chosen one at
  8 and 12 places for all three, and at 20 and 30 for two of them.

Either gives the residual itself at its own place: there the squared misfit over the depths is never greater than the
map's. Where the map knows nothing, the readings are kriged as they are and count within the variogram's range only;
with fewer places each counts within `stop_reach` only.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boscage.model.soil import ProbeReading, SoilOptions
from boscage.soil.components import Profile, unit_strength
from boscage.soil.kriging import Variogram, fit_variogram, krige, leave_one_out
from boscage.soil.readings import ProbePlaces, group_places, slice_mpa

Array = NDArray[np.float64]
_FEWEST_KRIGED = 4
_BLOCK = 20_000


@dataclass(frozen=True, kw_only=True)
class Known:
    """Places that bear on one field.

    Attributes:
        points: (P, 2) metres.
        values: (P,) residuals, or the logarithm of the readings themselves.
        keys: (P,) map unit at each.
        errors: (P,) standard error of the map at each.
        variogram: The model, or None where the simple rule is used.
        widen: What kriging's standard error is multiplied by. Its square is (P - 1) / (P - 3), the variance of a
            prediction whose variance is itself estimated (Student's t), or the mean square of the scaled misfits when
            each place is left out, if that is greater.
    """

    points: Array
    values: Array
    keys: tuple[str, ...]
    errors: Array
    variogram: Variogram | None
    widen: float = 1.0

    def __len__(self) -> int:
        return len(self.values)


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """Misfit at places whose own readings were left out, as natural logarithms.

    Attributes:
        count: Places.
        map_rmse: Root mean square of reading less map.
        rmse: Of reading less corrected map.
        map_bias, bias: Means of the same.
        scaled: Mean square of misfit over its standard error as it is stated; 1 where the error is well stated, less
            where it is stated too wide.
        worse: Places where the correction from elsewhere made the misfit greater than the map's.
    """

    count: int
    map_rmse: float
    rmse: float
    map_bias: float
    bias: float
    scaled: float
    worse: int

    @property
    def factor(self) -> float:
        """The typical misfit as a factor.

        >>> round(LeftOut(count=9, map_rmse=1, rmse=math.log(1.5), map_bias=0, bias=0, scaled=1, worse=0).factor, 3)
        1.5
        """
        return math.exp(self.rmse)


@dataclass(frozen=True, kw_only=True)
class Shift:
    """What is added to the map at places.

    Attributes:
        shift_ln: (M,) to the map's logarithm; where the map knows nothing the logarithm of the resistance itself.
        error_ln: (M,) standard error of the sum; NaN where neither knows anything.
        stopped_cm: (M,) depth at which a probe within `stop_reach` was stopped; inf where none was.
        basis: (M,) `map`, `map and readings`, `readings` or `nothing`.
    """

    shift_ln: Array
    error_ln: Array
    stopped_cm: Array
    basis: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Correction:
    """All that the readings say.

    Attributes:
        places: Where they were taken.
        mapped: Residuals, where the map knows the ground.
        bare: Logarithms of the readings between the surface and the depth of a post, at every place.
        left_out: What leaving each place out gives; None with fewer than two places on mapped ground.
        options: What it was made with.
        notes: Sentences on what was assumed.
    """

    places: ProbePlaces
    mapped: Known
    bare: Known
    left_out: LeftOut | None
    options: SoilOptions
    notes: tuple[str, ...]

    @property
    def rule(self) -> str:
        """How it spreads from the readings, one phrase."""
        if self.mapped.variogram is not None:
            return f"ordinary kriging of residuals ({self.mapped.variogram})"
        if len(self.mapped):
            return f"inverse squared distance within the map unit, {len(self.mapped)} places"
        return "no readings on mapped ground"

    def at(self, points: Array, keys: Sequence[str], map_error_ln: Array) -> Shift:
        """The shift at places.

        Args:
            points: (M, 2) metres.
            keys: (M,) map unit at each, '' where no map reaches.
            map_error_ln: (M,) standard error of the map there, NaN where it knows nothing.
        """
        points, map_error_ln = np.asarray(points, dtype=float).reshape(-1, 2), np.asarray(map_error_ln, dtype=float)
        starts = range(0, max(len(points), 1), _BLOCK)
        parts = [
            self._block(points[s : s + _BLOCK], keys[s : s + _BLOCK], map_error_ln[s : s + _BLOCK]) for s in starts
        ]
        return Shift(
            shift_ln=np.concatenate([p.shift_ln for p in parts]), error_ln=np.concatenate([p.error_ln for p in parts]),
            stopped_cm=np.concatenate([p.stopped_cm for p in parts]), basis=tuple(b for p in parts for b in p.basis),
        )  # fmt: skip

    def _block(self, points: Array, keys: Sequence[str], map_error_ln: Array) -> Shift:
        known = np.isfinite(map_error_ln)
        shift, error = np.zeros(len(points)), map_error_ln.copy()
        basis = np.where(known, "map", "nothing").astype(object)
        if known.any() and len(self.mapped):
            inside = np.asarray(keys, dtype=object)[known]
            shift[known], error[known] = self._mapped(points[known], inside, map_error_ln[known])
            moved = known & ((shift != 0.0) | (error != map_error_ln))
            basis[moved] = "map and readings"
        if (~known).any() and len(self.bare):
            shift[~known], error[~known] = self._bare(points[~known])
            basis[~known & np.isfinite(error)] = "readings"
        return Shift(shift_ln=shift, error_ln=error, stopped_cm=self._stopped(points), basis=tuple(basis.tolist()))

    def _mapped(self, points: Array, keys: Sequence[str], map_error: Array) -> tuple[Array, Array]:
        if self.mapped.variogram is None:
            return _simple(self.mapped, points, keys, map_error, self.options)
        made = krige(self.mapped.points, self.mapped.values, self.mapped.variogram, points)
        return made.values, np.maximum(self.mapped.widen * made.errors, self.options.reading_error)

    def _bare(self, points: Array) -> tuple[Array, Array]:
        near = np.hypot(
            points[:, None, 0] - self.bare.points[None, :, 0], points[:, None, 1] - self.bare.points[None, :, 1]
        )  # fmt: skip
        if self.bare.variogram is None:
            values = self.bare.values[near.argmin(axis=1)]
            errors = np.full(len(points), self.options.strength_error)
            inside = near.min(axis=1) <= self.options.stop_reach.m
        else:
            made = krige(self.bare.points, self.bare.values, self.bare.variogram, points)
            values = made.values
            errors = np.maximum(self.bare.widen * made.errors, self.options.reading_error)
            inside = near.min(axis=1) <= self.bare.variogram.range_m
        return np.where(inside, values, 0.0), np.where(inside, errors, np.nan)

    def _stopped(self, points: Array) -> Array:
        out = np.full(len(points), np.inf)
        for x, y, depth in zip(self.places.x_m, self.places.y_m, self.places.stopped_cm, strict=True):
            if math.isfinite(depth):
                near = np.hypot(points[:, 0] - x, points[:, 1] - y) <= self.options.stop_reach.m
                out[near] = np.minimum(out[near], depth)
        return out


def _simple(
    known: Known, points: Array, keys: Sequence[str], map_error: Array, options: SoilOptions
) -> tuple[Array, Array]:
    """Shift and error by the simple rule.

    The error's square is the map's times the map's weight and a reading's times the rest; so it runs from the reading's
    error at its own place to the map's far off.
    """
    number = {key: n for n, key in enumerate(dict.fromkeys(known.keys))}
    unit = np.fromiter((number.get(key, -1) for key in keys), dtype=np.int64, count=len(keys))
    own = unit[:, None] == np.array([number[key] for key in known.keys])[None, :]
    d2 = (points[:, None, 0] - known.points[None, :, 0]) ** 2 + (points[:, None, 1] - known.points[None, :, 1]) ** 2
    with np.errstate(divide="ignore", invalid="ignore"):
        weight = np.where(own, options.reach.m**2 / d2, 0.0)
    here = np.isinf(weight).astype(float)
    read_here = here.max(axis=1, initial=0.0) > 0.0
    weight = np.where(read_here.reshape(-1, 1), here, weight)
    of_map = np.where(read_here, 0.0, 1.0)
    total = weight.sum(axis=1) + of_map
    of_map /= total
    error = np.sqrt(of_map * map_error**2 + (1.0 - of_map) * options.reading_error**2)
    return (weight @ known.values) / total, np.where(of_map < 1.0, error, map_error)


def correct(
    readings: Sequence[ProbeReading], units: Mapping[str, Sequence[Profile]], keys: Sequence[str], options: SoilOptions
) -> Correction:
    """Make a correction of readings.

    Args:
        readings: All of them.
        units: Profiles of every map unit by key.
        keys: (N,) the unit that each reading lies in, '' where no map reaches.
        options: Errors, reach, and how many places kriging takes.
    """
    key_of = {id(r): k for r, k in zip(readings, keys, strict=True)}
    places = group_places(readings)
    own = [key_of[id(group[0])] for group in places.members]
    residuals, errors = np.full(len(places), np.nan), np.full(len(places), np.nan)
    for k, (group, key) in enumerate(zip(places.members, own, strict=True)):
        residuals[k], errors[k] = _residual(group, units.get(key, ()), options)
    on_map = np.isfinite(residuals)
    mapped, left_out, said = _mapped_field(
        Known(
            points=places.points[on_map], values=residuals[on_map], keys=_kept(own, on_map), errors=errors[on_map],
            variogram=None,
        ),
        options,
    )  # fmt: skip
    top = np.array([slice_mpa(g, 0.0, options.post_depth.m * 100.0) for g in places.members])
    with np.errstate(invalid="ignore"):
        lns = np.log(top)
    there = np.isfinite(lns)
    bare = Known(
        points=places.points[there], values=lns[there], keys=_kept(own, there), errors=np.full(there.sum(), np.nan),
        variogram=None,
    )  # fmt: skip
    bare = _with_variogram(bare) if len(bare) >= max(options.fewest_readings, _FEWEST_KRIGED) else bare
    return Correction(
        places=places, mapped=mapped, bare=bare, left_out=left_out, options=options,
        notes=(*_notes(places, on_map), *said),
    )  # fmt: skip


def _kept(keys: Sequence[str], mask: NDArray[np.bool_]) -> tuple[str, ...]:
    return tuple(k for k, keep in zip(keys, mask, strict=True) if keep)


def _with_variogram(known: Known) -> Known:
    """The same places with a variogram fitted, and errors widened for how few they are."""
    variogram, count = fit_variogram(known.points, known.values), len(known)
    made = leave_one_out(known.points, known.values, variogram)
    missed = known.values - made.values
    scaled = np.divide(missed, made.errors, out=np.zeros(count), where=made.errors > 0.0)
    widen = math.sqrt(max((count - 1) / (count - 3), float((scaled**2).mean())))
    return replace(known, variogram=variogram, widen=widen)


def _mapped_field(known: Known, options: SoilOptions) -> tuple[Known, LeftOut | None, tuple[str, ...]]:
    """The better of the two rules, its misfit, and what is to be said of the choice."""
    simple = _leave_out(known, options)
    if len(known) < max(options.fewest_readings, _FEWEST_KRIGED) or simple is None:
        return known, simple, ()
    kriged = _with_variogram(known)
    left_out = _leave_out(kriged, options)
    if left_out is not None and left_out.rmse < simple.rmse:
        return kriged, left_out, ()
    said = "Kriging was tried and missed by no less than the simple rule when each place was left out; not used."
    return known, simple, (said,)


def _residual(group: Sequence[ProbeReading], made: Sequence[Profile], options: SoilOptions) -> tuple[float, float]:
    """Mean of reading less map over the readings of one place, and the map's error down to the depth of a post."""
    missed = []
    for reading in group:
        found = unit_strength(made, reading.top_cm, reading.bottom_cm, reading.moisture or "moist")
        if math.isfinite(found.ln_mpa):
            missed.append(math.log(reading.resistance_mpa) - found.ln_mpa)
    if not missed:
        return math.nan, math.nan
    top = unit_strength(made, 0.0, options.post_depth.m * 100.0, "moist")
    return float(np.mean(missed)), top.estimate_ln if math.isfinite(top.estimate_ln) else options.strength_error


def _leave_out(known: Known, options: SoilOptions) -> LeftOut | None:
    if len(known) < 2:
        return None
    if known.variogram is not None:
        made = leave_one_out(known.points, known.values, known.variogram)
        values, errors = made.values, np.maximum(known.widen * made.errors, options.reading_error)
    else:
        values, errors = np.empty(len(known)), np.empty(len(known))
        for k in range(len(known)):
            rest = np.arange(len(known)) != k
            others = Known(
                points=known.points[rest], values=known.values[rest], keys=_kept(known.keys, rest),
                errors=known.errors[rest], variogram=None,
            )  # fmt: skip
            own = known.points[k : k + 1], known.keys[k : k + 1], known.errors[k : k + 1]
            (values[k],), (errors[k],) = _simple(others, *own, options)
    missed = known.values - values
    return LeftOut(
        count=len(known), map_rmse=float(np.sqrt((known.values**2).mean())), rmse=float(np.sqrt((missed**2).mean())),
        map_bias=float(known.values.mean()), bias=float(missed.mean()),
        scaled=float(((missed / errors) ** 2).mean()), worse=int((np.abs(missed) > np.abs(known.values) + 1e-12).sum()),
    )  # fmt: skip


def _notes(places: ProbePlaces, on_map: NDArray[np.bool_]) -> list[str]:
    notes = []
    every = [r for group in places.members for r in group]
    silent = sum(r.moisture is None for r in every)
    if silent:
        notes.append(f"{silent} of {len(every)} readings do not say how wet the ground was; taken as moist.")
    stopped = sum(r.stopped for r in every)
    if stopped:
        are = "reading is a least value" if stopped == 1 else "readings are least values"
        notes.append(f"{stopped} {are}: the probe was stopped.")
    off = int((~on_map).sum())
    if off:
        notes.append(f"{off} of {len(places)} places with readings lie where the soil map gives no resistance.")
    return notes
