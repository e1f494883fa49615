"""Which of the ranked sites to use together, and the rounds that check them."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from boscage.model.findings import ChosenSet, Together
from boscage.model.journey import Journey
from boscage.model.portfolio import CoverProblem, CurvePoint, NoPortfolio, Portfolio
from boscage.model.results import ScoutResult, Site
from boscage.model.scene import Scene
from boscage.siting.cover import make_problem, surface_cells
from boscage.siting.land import Land
from boscage.siting.portfolio import choose_portfolio, cover_curve
from boscage.siting.portfolio_words import curve_sentences, portfolio_sentences
from boscage.siting.seen import group_near
from boscage.siting.sites import RatedFactor
from boscage.values import Grid
from boscage.ways.between import ROUND_NOTE

MOST_CELLS = 20_000
"""Cells of use that are covered; a finer surface is summed in blocks."""
NO_ROUNDS = "Rounds are not worked out: no way in is known, so hours are not looked at."


def with_together(result: ScoutResult, scene: Scene, land: Land, rated: Sequence[RatedFactor]) -> ScoutResult:
    """The result with the set of ranked sites that covers most use; as it is where no use is known."""
    if result.evidence is None or not result.sites or not np.nansum(result.evidence.density) > 0.0:
        return result
    options = result.plan.together
    minutes, base, said = _minutes(result, scene, rated)
    problem = _problem(result, scene, minutes)
    chosen = choose_portfolio(problem, options)
    curve = cover_curve(problem, options, min(options.nets + 1, len(result.sites)))
    points = curve if isinstance(curve, tuple) else ()
    made = Together(
        chosen=chosen, sets=(), curve=points, names=problem.names, options=options, covered_ha=0.0, base=base,
        sentences=(*_words(chosen, problem, points), *said),
    )
    return replace(result, together=_with_circles(made, result, problem, land) if chosen else made)


def _words(
    chosen: Portfolio | NoPortfolio, problem: CoverProblem, curve: Sequence[CurvePoint]
) -> tuple[str, ...]:  # fmt: skip
    if isinstance(chosen, NoPortfolio):
        return (f"No set of sites can be chosen: {chosen.reason}.",)
    return (*portfolio_sentences(chosen, problem), *curve_sentences(curve))


def _minutes(
    result: ScoutResult, scene: Scene, rated: Sequence[RatedFactor]
) -> tuple[NDArray[np.float64] | None, tuple[float, float] | None, tuple[str, ...]]:
    """The table of a crew's minutes, where rounds begin, and what is to be said of it."""
    places = [(s.place.x_m, s.place.y_m) for s in result.sites]
    journeys = [s.journey for s in result.sites]
    if not any(isinstance(j, Journey) for j in journeys):
        return None, None, (NO_ROUNDS,)
    for one in rated:
        table = one.factor.rounds(scene, one.measure, places, journeys)
        if table is not None:
            return table, _base(result.sites), (ROUND_NOTE,)
    return None, None, (NO_ROUNDS,)


def _base(sites: Sequence[Site]) -> tuple[float, float] | None:
    """Where most ways in begin."""
    begins = Counter(
        tuple(float(v) for v in s.journey.inward[0].line[0, :2])
        for s in sites
        if isinstance(s.journey, Journey) and s.journey.inward and len(s.journey.inward[0].line)
    )
    if not begins:
        return None
    x, y = begins.most_common(1)[0][0]
    return x, y


def _problem(result: ScoutResult, scene: Scene, minutes: NDArray[np.float64] | None) -> CoverProblem:
    assert result.evidence is not None, "asked only where use is known"
    options, found = result.plan.together, result.evidence
    density, grid = blocks(np.where(scene.granted, np.nan_to_num(found.density), 0.0), scene.grid)
    cells, weights = surface_cells(density, grid, 0.0)
    reach_m = result.plan.cameras.reach.m
    return make_problem(
        np.array([(s.place.x_m, s.place.y_m) for s in result.sites]), cells, weights, radius_m=options.radius.m,
        spacing_m=options.spacing.m, names=[s.site for s in result.sites], minutes=minutes,
        groups=[group_near(s.place.x_m, s.place.y_m, found.cameras, found.groups, reach_m) for s in result.sites],
    )  # fmt: skip


def blocks(values: NDArray[np.floating], grid: Grid, most: int = MOST_CELLS) -> tuple[NDArray[np.float64], Grid]:
    """A surface summed in square blocks, as small as leave at most so many cells with anything in them."""
    count = int(np.count_nonzero(values > 0.0))
    side = max(1, math.ceil(math.sqrt(count / most)))
    while True:
        rows, cols = -(-grid.rows // side), -(-grid.cols // side)
        padded = np.zeros((rows * side, cols * side))
        padded[: grid.rows, : grid.cols] = values
        summed = padded.reshape(rows, side, cols, side).sum(axis=(1, 3))
        if np.count_nonzero(summed > 0.0) <= most or side >= max(grid.rows, grid.cols):
            return summed, Grid(grid.crs, grid.west, grid.north, grid.cell_m * side, rows, cols)
        side += 1


def _with_circles(made: Together, result: ScoutResult, problem: CoverProblem, land: Land) -> Together:
    assert isinstance(made.chosen, Portfolio), "asked only where sites were chosen"
    crews = {s: n for n, route in enumerate(made.chosen.rounds, start=1) for s in route.sites}
    sets = []
    for k in sorted(made.chosen.chosen, key=lambda k: result.sites[k].rank):
        site = result.sites[k]
        circle = shapely.Point(site.place.x_m, site.place.y_m).buffer(made.options.radius.m, quad_segs=32)
        sets.append(
            ChosenSet(
                site=site.site, rank=site.rank, x_m=site.place.x_m, y_m=site.place.y_m,
                circle=shapely.intersection(circle, land.granted), crew=crews.get(k, 0),
                alone_share=problem.covered([k]) / problem.total,
            )
        )  # fmt: skip
    covered = shapely.union_all([s.circle for s in sets]).area / 1e4
    return replace(made, sets=tuple(sets), covered_ha=float(covered))
