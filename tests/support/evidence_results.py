"""Made-up evidence, firmness and sets for looking at pages: closed forms, nothing computed by the program."""

from __future__ import annotations

import datetime as dt
import math
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import shapely

from boscage.model.evidence import NOT_LOOKED, NOTHING, SIGN, Bandwidth, Effort, Isopleth
from boscage.model.findings import CameraFound, ChosenSet, Evidence, Move, Standing, Together
from boscage.model.groups import CameraUse, Group, GroupNight, NightsTest
from boscage.model.portfolio import (
    Alternative,
    BaitPlace,
    BaitSpacing,
    CurvePoint,
    NoPortfolio,
    Portfolio,
    PortfolioOptions,
    Round,
)
from boscage.model.results import Site
from boscage.model.weights import Comparison, SteadinessOptions, Weighting
from boscage.values import Grid

DATE = dt.date(2026, 11, 21)
CAMERA_NAMES = ("creek crossing", "north bench", "pond dam", "hay barn draw", "old orchard", "cedar saddle")
GROUP_NAMES = ("notched-ear", "north bench", "the spotted sow", "pond")
BAD_ROW = "observations row {row}, field count: 'many' is no whole number; expected 1 or more; write the number seen."
PEAKS = ((1300.0, 2250.0, 5.0, 320.0), (2600.0, 1700.0, 2.0, 260.0), (2200.0, 4300.0, 3.0, 420.0))
HIGH_KM2, LOW_KM2 = 2.0, 0.3
REASON = "no crew can check any site within 6 hours: the nearest takes 410 minutes there and back."


def density_at(xs: np.ndarray, ys: np.ndarray, west: float, south: float) -> np.ndarray:
    """Weighted fresh signs per square kilometre: three round hills of known height and width."""
    out = np.zeros(np.broadcast(xs, ys).shape)
    for x, y, high, wide in PEAKS:
        out += high * np.exp(-((xs - west - x) ** 2 + (ys - south - y) ** 2) / (2.0 * wide**2))
    return out


@dataclass(frozen=True, kw_only=True)
class Findings:
    """Everything that a ranking carries further."""

    evidence: Evidence | None = None
    moves: tuple[Move, ...] | None = None
    weighting: Weighting | None = None
    steadiness: SteadinessOptions | None = None
    together: Together | None = None


def make_findings(grid: Grid, sites: tuple[Site, ...], land: Any, *, kind: str, west: float, south: float) -> Findings:
    """Findings: `full`, `many`, `long:NAME`, `bare`, `no sets`, `limit`, or `none`."""
    if kind == "none":
        return Findings()
    name = kind.partition(":")[2]
    many = kind == "many"
    sets = NoPortfolio(reason=REASON) if kind == "no sets" else None
    return Findings(
        evidence=make_evidence(grid, kind=kind, west=west, south=south, name=name),
        moves=make_moves(60 if many else 5, name) if kind != "bare" else None,
        weighting=None if kind == "bare" else make_weighting(bad=kind in ("full", "limit") or bool(name)),
        steadiness=SteadinessOptions(),
        together=None if kind == "bare" else make_together(sites, land, limit=kind == "limit" or many, none=sets),
    )  # fmt: skip


def make_standing(rank: int) -> Standing:
    """Ranks two and three could as well be swapped."""
    top = max(0.0, 0.62 - 0.2 * rank)
    return Standing(
        label=f"{2 if rank == 3 else rank}{'=' if rank in (2, 3) else ''}", top_rank_share=top,
        first_share=min(1.0, top + max(0.0, 0.6 - 0.08 * rank)), low_rank=max(1, rank - 2), high_rank=rank + 3,
    )  # fmt: skip


def make_evidence(grid: Grid, *, kind: str, west: float, south: float, name: str) -> Evidence:
    """Use in three hills, cameras with visits but one, groups, bait places."""
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    xs, ys = np.meshgrid(x, y)
    if kind == "bare":
        density = np.full(grid.shape, np.nan, np.float32)
        return Evidence(density=density, classes={"A": 0, "B": 0, "C": 0, "D": 0})
    density = density_at(xs, ys, west, south).astype(np.float32)
    areas = {s: float((density >= v).sum()) * grid.cell_ha for s, v in ((0.5, HIGH_KM2), (0.95, LOW_KM2))}
    count = {"many": 30}.get(kind, 6)
    cameras = tuple(make_camera(k, west, south, name) for k in range(count))
    return Evidence(
        density=density, bandwidth=Bandwidth(metres=240.0, rule="reference"),
        isopleths=tuple(
            Isopleth(share=s, level=v / 1e6, hectares=areas[s]) for s, v in ((0.5, HIGH_KM2), (0.95, LOW_KM2))
        ),
        classes={"A": 12, "B": 21, "C": 34, "D": 83}, effort=make_effort(grid, density, xs, ys, west, south),
        cameras=cameras, groups=tuple(make_group(k, name) for k in range(8 if kind == "many" else 3)),
        bait=make_bait(), bait_names=(cameras[0].name, cameras[2].name, "DH-02", "the old salt lick"),
        version="1.0.2", bad_rows=tuple(BAD_ROW.format(row=k + 3) for k in range(9)), people=14,
        notes=("3 signs without a date are taken as 60 days old.",),
    )  # fmt: skip


def make_effort(grid: Grid, density: np.ndarray, xs: np.ndarray, ys: np.ndarray, west: float, south: float) -> Effort:
    """A walk one cell wide on each side of a wavy line; sign where use is high along it, and one lone sign."""
    line = south + 3000.0 + 900.0 * np.sin((xs - west) / 700.0)
    near = (np.abs(ys - line) < 60.0) & (xs > west + 200) & (xs < west + 3900)
    looked = np.where(near, np.where(density > 0.2, SIGN, NOTHING), NOT_LOOKED).astype(np.int8)
    looked[np.hypot(xs - west - 600.0, ys - south - 5200.0) < 60.0] = SIGN
    return Effort(
        looked=looked, days=np.where(near, 3.0, np.nan).astype(np.float32), walked_m=6400.0, looked_ha=6.4,
        notes=("One searched line has no date: it counts as just walked.",),
    )  # fmt: skip


def make_camera(number: int, west: float, south: float, name: str) -> CameraFound:
    """A camera; the last of every six saw nothing."""
    blind = number % 6 == 5
    by_hour = tuple(0 if blind else max(0, round(4 * math.cos((h - 22 + number) * math.pi / 12))) for h in range(24))
    nights = () if blind else tuple(DATE - dt.timedelta(days=d) for d in (9, 4, 2))
    own = CAMERA_NAMES[number % 6] + (f" {number // 6 + 1}" if number >= 6 else "")
    visits = sum(by_hour)
    out = 0.0 if number == 4 else 24.0
    return CameraFound(
        name=f"{name} {number}" if name else own, x_m=west + 700 + 640 * (number % 6), y_m=south + 1400 +
        830 * (number // 6) + 410 * (number % 2),
        use=CameraUse(
            deployment=f"dep{number}", visits=visits, nights=out, visits_per_night=visits / out if out else math.nan,
            nights_seen=nights, by_hour=by_hour, largest=0 if blind else 5 + number % 4,
        ),
        last_days=math.nan if blind else 2.0, bait=(True, None, True, False)[number % 4],
        end_is_assumed=number % 3 == 1,
    )  # fmt: skip


def make_group(number: int, name: str) -> Group:
    """A group; every second one passes the test."""
    passed = number % 2 == 0
    nights = tuple(
        GroupNight(night=DATE - dt.timedelta(days=d), size=7 + (d % 3 if not passed else 0), members={"adult": 7})
        for d in (12, 9, 8, 6, 5, 4, 3, 2)
    )
    why = "7 animals of the same classes on 2 nights running up to 2026-11-19" if passed else \
        "8 animals of the same classes on 1 night up to 2026-11-19; 2 are asked for"  # fmt: skip
    return Group(
        name=f"{name} {number}" if name else GROUP_NAMES[number % 4] + (" 2" if number >= 4 else ""),
        is_named=number % 3 == 0, deployments=("dep0", "dep1") if passed else ("dep2",), nights=nights,
        members={"adult female": 2, "juvenile": 5, "subadult": 1}, least=7, most=7 if passed else 9,
        test=NightsTest(passed=passed, running=2 if passed else 1, wanted=2, why=f"{why}."), boars=0 if passed else 3,
    )  # fmt: skip


def make_bait() -> BaitSpacing:
    """Four places: two too near each other, one spaced, one far off."""
    rows = ((1, 640.0, "too near"), (0, 640.0, "too near"), (0, 1500.0, "spaced"), (2, 3100.0, "too far"))
    return BaitSpacing(
        places=tuple(
            BaitPlace(nearest=n, nearest_m=d, state=s, outside_share=0.1 * k, own_ha=180.0 + 20 * k)  # type: ignore[arg-type]
            for k, (n, d, s) in enumerate(rows)
        ),
        reached_ha=812.0, unreached_ha=640.0, gaps=np.array([(522_300.0, 4_010_900.0, 410.0)]), expected=(6, 24),
        notes=("Bait places 1 and 2 are 2,100 ft apart, under 0.6 mi: they feed the same animals; move one.",),
    )  # fmt: skip


def make_moves(count: int, name: str) -> tuple[Move, ...]:
    """Places up, down, new and gone."""
    rows = (
        Move(site="DH-01", rank=1, was_site="DH-03", was_rank=3, points=6.2, why="fresh sign +7 points, way in -1."),
        Move(site="DH-02", rank=2, was_site="DH-01", was_rank=1, points=-3.4, why="fresh sign -3 points."),
        Move(site="DH-05", rank=5, was_site="", was_rank=None, points=math.nan, why="Permission was granted since."),
        Move(site="", rank=None, was_site="DH-07", was_rank=7, points=-11.0, why="Now within a no-go area."),
        Move(site="DH-08", rank=8, was_site="DH-09", was_rank=9, points=0.3, why=f"Others fell. {name}"),
    )
    return tuple(replace(rows[k % 5], why=f"{rows[k % 5].why}") for k in range(count))


def make_weighting(*, bad: bool) -> Weighting:
    """Weights from a comparison table, or ratios."""
    weights = {"cover": 0.25, "use": 0.25, "water": 0.15, "floor": 0.15, "access": 0.15, "ground": 0.05}
    if not bad:
        return Weighting(weights=weights, basis="ratios stated directly")
    worst = Comparison(first="use", second="water", stated=7.0, fitting=1.0 / 1.7, ratio_without=0.041)
    return Weighting(
        weights=weights, basis="comparison table", largest=6.9, index=0.18, ratio=0.144,
        random_index="Saaty and Ozdemir (2003)", worst=worst,
    )  # fmt: skip


def make_together(
    sites: tuple[Site, ...], land: Any, *, limit: bool, none: NoPortfolio | None = None
) -> Together | None:
    """The first, third and fourth site, proven or stopped at the time limit."""
    options = PortfolioOptions(nets=3, crews=2)
    names = tuple(s.site for s in sites)
    if none is not None or len(sites) < 4:
        reason = NoPortfolio(reason="fewer sites than nets.") if none is None else none
        return Together(chosen=reason, sets=(), curve=(), names=names, options=options, covered_ha=0.0)
    chosen = (0, 2, 3)
    ending = "time limit" if limit else "optimal"
    portfolio = Portfolio(
        chosen=chosen, names=tuple(names[k] for k in chosen), covered=6.31, bound=6.44 if limit else 6.31, share=0.631,
        ending=ending, greedy_share=0.602, left_out=(1,) if limit else (),
        rounds=(Round(sites=(2, 0), minutes=214.0, is_shortest=True),
                Round(sites=(3,), minutes=96.0, is_shortest=False)),
        alternatives=tuple(Alternative(out=3, into=1, share=0.629 - 0.001 * k) for k in range(11 if limit else 1)),
    )  # fmt: skip
    shares = (0.31, 0.5, 0.631, 0.71)
    curve = tuple(
        CurvePoint(nets=k + 1, share=s, added=s - (shares[k - 1] if k else 0.0), ending=ending if k > 1 else "optimal",
                   bound=s + (0.03 if limit and k > 1 else 0.0))
        for k, s in enumerate(shares)
    )  # fmt: skip
    sets = tuple(
        ChosenSet(
            site=sites[k].site, rank=sites[k].rank, x_m=sites[k].place.x_m, y_m=sites[k].place.y_m,
            circle=shapely.intersection(land, shapely.Point(sites[k].place.x_m, sites[k].place.y_m).buffer(1500.0)),
            alone_share=0.31 - 0.03 * n, crew=1 if k < 3 else 2,
        )
        for n, k in enumerate(chosen)
    )  # fmt: skip
    base = (sites[0].place.x_m - 700.0, sites[0].place.y_m - 600.0)
    return Together(
        chosen=portfolio, sets=sets, curve=curve, names=names, options=options, covered_ha=1720.0, base=base,
        sentences=(f"3 sets cover 63.1 % of the use: {', '.join(portfolio.names)}.",),
    )  # fmt: skip
