"""CPU time of choosing sites together, with the gap, beside spopt where it is installed.

    python tests/benchmarks/cover_speed.py [small] [middle] [large] [rounds] [--spopt highs|cbc]

One line of JSON a case and a tool, CPU seconds of this process and its children, building included. Cells and sites are
drawn with a fixed seed, half of the cells in twelve clusters; each site covers about 1 % of them. `rounds` is 200 sites
on 10 by 10 km with five nets and one crew, within 6 and within 4 hours. Checked: what a set covers, its bound, and that
both tools reach the same optimum where both prove one.
"""

from __future__ import annotations

import argparse
import json
import resource

import numpy as np

from boscage.model.portfolio import CoverProblem, PortfolioOptions
from boscage.siting.cover import make_problem
from boscage.siting.portfolio import choose_portfolio

RADIUS = 0.0564
CASES = {"small": (200, 20_000, 20), "middle": (500, 5_000, 20), "large": (2_000, 20_000, 40)}


def cpu() -> float:
    own, children = resource.getrusage(resource.RUSAGE_SELF), resource.getrusage(resource.RUSAGE_CHILDREN)
    return own.ru_utime + own.ru_stime + children.ru_utime + children.ru_stime


def land(sites: int, cells: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(11)
    middles = rng.random((12, 2))
    even = rng.random((cells // 2, 2))
    drawn = middles[rng.integers(0, 12, cells - cells // 2)] + rng.normal(0, 0.06, (cells - cells // 2, 2))
    demand = np.concatenate([even, np.clip(drawn, 0, 1)])
    return rng.random((sites, 2)), demand, rng.integers(1, 101, cells).astype(float)


def ours(places: np.ndarray, demand: np.ndarray, weights: np.ndarray, nets: int) -> dict[str, object]:
    begun = cpu()
    problem = make_problem(places, demand, weights, radius_m=RADIUS)
    found = choose_portfolio(problem, PortfolioOptions(nets=nets, time_limit=50.0, gap=0.0 if nets < 40 else 0.0075))
    seconds = cpu() - begun
    assert abs(problem.covered(found.chosen) - found.covered) < 1e-6 and found.bound >= found.covered
    return {"tool": "boscage", "cpu_s": round(seconds, 2), "covered": found.covered, "bound": round(found.bound, 1),
            "gap": round(found.gap, 5), "ending": found.ending}  # fmt: skip


def with_rounds(hours: float) -> dict[str, object]:
    """Ways at 179 m a minute, up to half as long again as the straight line."""
    places, demand, weights = land(200, 20_000)
    at = np.concatenate([[[0.5, 0.0]], places]) * 10_000.0
    minutes = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1)) / 179.0
    minutes *= np.random.default_rng(5).uniform(1.0, 1.5, minutes.shape)
    begun = cpu()
    problem = make_problem(places * 1e4, demand * 1e4, weights, radius_m=1000.0, spacing_m=300.0, minutes=minutes)
    found = choose_portfolio(problem, PortfolioOptions(nets=5, hours=hours, time_limit=30.0))
    seconds = cpu() - begun
    assert all(r.minutes <= 60.0 * hours + 1e-6 and r.is_shortest for r in found.rounds)
    return {"case": "rounds", "hours": hours, "cpu_s": round(seconds, 2), "share": round(found.share, 4),
            "gap": round(found.gap, 4), "ending": found.ending}  # fmt: skip


def theirs(places: np.ndarray, demand: np.ndarray, weights: np.ndarray, nets: int, solver: str) -> dict[str, object]:
    import pulp
    from spopt.locate import MCLP

    away = np.hypot(demand[:, None, 0] - places[None, :, 0], demand[:, None, 1] - places[None, :, 1])
    begun = cpu()
    kind = pulp.HiGHS if solver == "highs" else pulp.PULP_CBC_CMD
    made = MCLP.from_cost_matrix(away, weights, service_radius=RADIUS, p_facilities=nets)
    made = made.solve(kind(msg=False, timeLimit=300, gapRel=0.0, threads=1))
    seconds = cpu() - begun
    chosen = [i for i, v in enumerate(made.fac_vars) if v.value() and v.value() > 0.5]
    covered = covered_by(make_problem(places, demand, weights, radius_m=RADIUS), chosen)
    return {"tool": f"spopt + {solver}", "cpu_s": round(seconds, 2), "covered": covered}


def covered_by(problem: CoverProblem, chosen: list[int]) -> float:
    assert chosen, "spopt chose nothing"
    return problem.covered(chosen)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("cases", nargs="*", default=["small", "middle"])
    parser.add_argument("--spopt", choices=("highs", "cbc"))
    asked = parser.parse_args()
    for name in asked.cases:
        if name == "rounds":
            for hours in (6.0, 4.0):
                print(json.dumps(with_rounds(hours)), flush=True)
            continue
        sites, cells, nets = CASES[name]
        drawn = land(sites, cells)
        first = ours(*drawn, nets)
        print(json.dumps({"case": name, "sites": sites, "cells": cells, "nets": nets, **first}), flush=True)
        if asked.spopt:
            second = theirs(*drawn, nets, asked.spopt)
            if first["ending"] == "optimal":
                assert second["covered"] <= first["covered"] + 1e-6
            times = round(second["cpu_s"] / first["cpu_s"], 1)
            print(json.dumps({"case": name, **second, "times_ours": times}), flush=True)


if __name__ == "__main__":
    main()
