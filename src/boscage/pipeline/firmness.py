"""Weights for a run, how firm its ranks are, and what moved since the run before."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np

from boscage.errors import InputError, PlanError
from boscage.exports.last_run import keep_ranking
from boscage.model.factor import Factor, FactorOptions
from boscage.model.findings import Standing
from boscage.model.plan import Plan
from boscage.model.results import ScoutResult
from boscage.model.weights import Weighting
from boscage.readers.last_run import read_rankings
from boscage.siting.moves import Ranked, find_moves, ranked
from boscage.siting.sites import RatedFactor
from boscage.siting.steadiness import ranking_steadiness
from boscage.siting.weights import comparison_weights, ratio_weights

Factors = list[tuple[Factor, FactorOptions]]


def weighed(plan: Plan, factors: Factors) -> tuple[Factors, Weighting]:
    """The factors with the weights that the plan's comparisons give, or with their own.

    Raises:
        PlanError: A comparison is missing, wrong, or of a factor that takes no part.
    """
    stated = {factor.name: options.weight for factor, options in factors}
    if not plan.weights.comparisons:
        return factors, ratio_weights(stated)
    pairs = {_pair(key, plan): value for key, value in plan.weights.comparisons.items()}
    try:
        found = comparison_weights(tuple(stated), pairs, random_index=plan.weights.random_index)
    except InputError as error:
        raise PlanError(
            error.wrong, expected=error.expected, mend=error.mend, file=plan.file,
            field=f"weights.comparisons, {error.field}" if error.field else "weights.comparisons",
        ) from error  # fmt: skip
    total = sum(stated.values())
    return [(f, replace(o, weight=total * found.weights[f.name])) for f, o in factors], found


def _pair(key: str, plan: Plan) -> tuple[str, str]:
    first, slash, second = key.partition("/")
    if not slash or not first.strip() or not second.strip():
        raise PlanError(
            f"the comparison is named {key!r}", expected="two factors, such as cover/use", file=plan.file,
            field="weights.comparisons",
        )  # fmt: skip
    return first.strip(), second.strip()


def with_standing(result: ScoutResult, rated: Sequence[RatedFactor]) -> ScoutResult:
    """The result with how firm each rank is when weights and value functions are shaken."""
    if not result.sites:
        return result
    values = np.array([[np.nan if r.value is None else r.value for r in s.readings] for s in result.sites])
    steady = ranking_steadiness(values, [r.options.weight for r in rated], result.plan.steadiness)
    sites = tuple(
        replace(
            site,
            standing=Standing(
                label=steady.labels[n], top_rank_share=float(steady.top_rank_share[n]),
                first_share=float(steady.first_share[n]), low_rank=int(steady.low_rank[n]),
                high_rank=int(steady.high_rank[n]),
            ),
        )
        for n, site in enumerate(result.sites)
    )  # fmt: skip
    return replace(result, sites=sites, steadiness=result.plan.steadiness)


def with_moves(result: ScoutResult, out: Path) -> ScoutResult:
    """The result with what moved since the last run whose ranking was another one."""
    now = ranked(result.sites)
    before = _ranking_before(out, now)
    return result if before is None else replace(result, moves=find_moves(before, now))


def remember(result: ScoutResult, out: Path) -> None:
    """Keep this ranking, and the one before it, for the next run."""
    now = ranked(result.sites)
    before = _ranking_before(out, now)
    keep_ranking(out, {"before": None if before is None else [asdict(b) for b in before],
                       "now": [asdict(n) for n in now]})  # fmt: skip


def _ranking_before(out: Path, now: Sequence[Ranked]) -> tuple[Ranked, ...] | None:
    """The ranking to compare with: the kept one, or the one before it where the kept one is this."""
    kept = read_rankings(out)
    before, last = (None if rows is None else tuple(Ranked(**row) for row in rows) for rows in kept)
    return before if last is None or last == tuple(now) else last
