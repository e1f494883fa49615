"""Made-up ground for looking at pages: fields and answers from closed forms, nothing computed by the program."""

from __future__ import annotations

import math

import numpy as np

from boscage.model.ground import GroundField, ReadPlace, UnitRow
from boscage.model.soil import (
    HOLDFASTS,
    ApronStakes,
    BurialAnswer,
    Component,
    GroundAnswer,
    PostAnswer,
    Shares,
    SoilUnit,
    StakeAnswer,
)
from boscage.values import Grid

ASSUMPTION = (
    "Assumed, not published: a post can be driven by hand up to 580 psi, cannot from 1,200 psi, doubtful between; "
    "doubtful from 35 % rock fragments, stopped from 60 %. Test one."
)
RULE = "ordinary kriging of the logarithm of reading over map, 12 places"
LEFT_OUT = "Each place left out in turn is found to within a factor of 1.4 on 8 of 12 places."
NOTES = (
    "Bulk density is estimated from texture in 3 of 9 soils.",
    "Water content at one third bar is not given for 2 soils: that of their texture stands in.",
)
SHARES = Shares(yes=0.5, doubtful=0.3, no=0.1, unknown=0.1)
NAMES = (
    ("DuB", "Dunnock silt loam, 3 to 8 percent slopes"),
    ("SoD", "Sorrel very gravelly silt loam, 8 to 20 percent slopes, very stony"),
    ("TeA", "Teasel silty clay loam, 0 to 2 percent slopes, frequently flooded"),
    ("RkF", "Rock outcrop-Sorrel complex, 15 to 50 percent slopes"),
    ("W", "Water"),
)


def classes_everywhere(xs: np.ndarray, ys: np.ndarray, west: float, south: float) -> np.ndarray:
    """Resistance in megapascals that passes through every class, in blotches; NaN in some."""
    u, v = (xs - west) / 1000.0, (ys - south) / 1000.0
    wave = np.sin(1.1 * u + 0.8 * np.sin(0.9 * v)) + np.cos(1.3 * v - 0.6 * u) + 0.15 * np.sin(9 * u) * np.cos(8 * v)
    mpa = 10.0 ** (0.1 + 0.75 * wave)
    return np.where((u > 3.0) & (u < 3.7) & (v > 3.4) & (v < 4.6), np.nan, mpa)


def make_field(grid: Grid, inside: np.ndarray, *, west: float, south: float, kind: str = "full") -> GroundField:
    """The ground of a ranch: `full`, `no readings`, `unknown`, or `many` units."""
    x = grid.west + (np.arange(grid.cols) + 0.5) * grid.cell_m
    y = grid.north - (np.arange(grid.rows) + 0.5) * grid.cell_m
    xs, ys = np.meshgrid(x, y)
    mpa = classes_everywhere(xs, ys, west, south)
    if kind == "unknown":
        mpa = np.full(grid.shape, np.nan)
    mpa = np.where(inside, mpa, np.nan).astype(np.float32)
    posts = np.select([np.isnan(mpa), mpa < 2.5, mpa < 8.0], [3, 0, 1], default=2).astype(np.int8)
    readings = kind in ("full", "many")
    return GroundField(
        resistance_mpa=mpa, error_ln=np.where(np.isnan(mpa), np.nan, 0.5).astype(np.float32), posts=posts,
        depth_cm=np.full(grid.shape, 61.0, np.float32), rock_pct=np.full(grid.shape, 12.0, np.float32),
        moisture="moist", rows=make_rows({"many": 60, "unknown": 2}.get(kind, 5), unknown=kind == "unknown"),
        places=tuple(make_place(k, west, south) for k in range(12)) if readings else (),
        rule=RULE if readings else "", left_out=LEFT_OUT if readings else "", assumption=ASSUMPTION, notes=NOTES,
    )  # fmt: skip


def make_place(number: int, west: float, south: float) -> ReadPlace:
    """A probed place; every fourth stopped, one with deep readings only."""
    x, y = west + 700 + 420 * (number % 6) + 35 * number, south + 1300 + 700 * (number // 6) + 90 * (number % 3)
    return ReadPlace(
        x_m=x, y_m=y, resistance_mpa=math.nan if number == 5 else 0.7 + 0.4 * number,
        stopped_cm=30.0 if number % 4 == 2 else math.nan, readings=3,
    )  # fmt: skip


def make_rows(count: int, *, unknown: bool = False) -> tuple[UnitRow, ...]:
    """Map units, the last of five without any figure."""
    rows = []
    for k in range(count):
        symbol, name = NAMES[k % 5]
        bare = unknown or k % 5 == 4
        nan = math.nan
        rows.append(
            UnitRow(
                symbol=symbol if k < 5 else f"{symbol}{k}", name=name, hectares=900.0 / (k + 1),
                named_share=0.0 if bare else 1.0 - 0.1 * (k % 5), resistance_mpa=nan if bare else 1.2 * (k % 5 + 1),
                error_ln=nan if bare else 0.5, depth_cm=nan if bare else 152.0 - 30.0 * (k % 5),
                rock_pct=nan if bare else 12.0 + 17.0 * (k % 5), flood_class=None if bare else ("none", "rare",
                "frequent", "none")[k % 5], posts="unknown" if bare else ("yes", "doubtful", "yes", "no")[k % 5],
                burial="unknown" if bare else ("yes", "doubtful", "no", "no")[k % 5],
            )
        )  # fmt: skip
    return tuple(rows)


def make_answer(*, kind: str = "full", long: str = "") -> GroundAnswer | None:
    """The ground at one site: `full`, `readings` (no map), `unknown`, `no pickets`, `long`, or None for `none`."""
    if kind == "none":
        return None
    nothing = kind == "unknown"
    name = long or "Dunnock silt loam, 3 to 8 percent slopes"
    unit = None if kind in ("readings", "unknown") else SoilUnit(
        key="1", symbol="DuB", name=name, components=(Component(name="Dunnock", percent=85.0),)
    )  # fmt: skip
    nan = math.nan
    return GroundAnswer(
        unit=unit, moisture="moist", resistance_mpa=nan if nothing else 2.2, error_ln=nan if nothing else 0.45,
        shift_ln=0.2, basis={"unknown": "nothing", "readings": "readings"}.get(kind, "map and readings"),
        named_share=0.0 if nothing else 0.85, stopped_cm=nan if nothing else 51.0, posts=make_posts(nothing),
        stakes=make_stakes(kind), apron=make_apron(nothing), burial=make_burial(nothing), assumption=ASSUMPTION,
        hard_cm=nan if nothing else 79.0, rock_pct=nan if nothing else 38.0,
        flood_class=None if nothing else "occasional", bring=make_bring(nothing),
        notes=NOTES * (8 if kind == "long" else 1),
    )  # fmt: skip


def make_posts(nothing: bool) -> PostAnswer:
    """Whether a post can be driven."""
    if nothing:
        return PostAnswer(
            verdict="unknown", shares=Shares(yes=0.0, doubtful=0.0, no=0.0, unknown=1.0), depth_cm=math.nan,
            most_cm=math.nan, why="Nothing is known of the soil here.",
        )  # fmt: skip
    return PostAnswer(
        verdict="doubtful", shares=SHARES, depth_cm=36.0, most_cm=79.0,
        why="Driven to 24 in on 50 % of the ground, stopped above 18 in on 10 %, doubtful on 30 %, unknown on 10 % "
        "(moist). A probe was stopped at 20 in close by.",
    )  # fmt: skip


def make_stakes(kind: str) -> StakeAnswer | None:
    """What holds a guy."""
    if kind == "no pull":
        return None
    if kind in ("unknown", "no pickets"):
        return StakeAnswer(
            pull_n=2000.0, holdfast=None, count=0, pickets=0, factor=1.0, holds_n=0.0,
            why="No published holdfast fits: pickets cannot be driven 36 in deep here. Tie the guy to a tree.",
        )  # fmt: skip
    best = HOLDFASTS[1]
    return StakeAnswer(
        pull_n=2000.0, holdfast=best, count=2, pickets=4, factor=0.9, holds_n=2 * best.holds_n * 0.9,
        why="Published for undisturbed loam, with a margin of 2, times 0.9 for clay mixed with gravel.",
    )  # fmt: skip


def make_apron(nothing: bool) -> ApronStakes:
    """Which stakes hold the apron."""
    if nothing:
        return ApronStakes(
            kind="stake", times=1.0, also=("steel pin",),
            why="Nobody knows whether a stake goes 18 in deep: bring stakes and pins, test one of each.",
        )  # fmt: skip
    return ApronStakes(kind="steel pin", times=1.5, why="Stony ground: 38 % rock fragments bend a common stake.")


def make_burial(nothing: bool) -> BurialAnswer:
    """Whether a pit can be dug."""
    if nothing:
        return BurialAnswer(
            verdict="unknown", shares=Shares(yes=0.0, doubtful=0.0, no=0.0, unknown=1.0),
            why=("Nothing is known of the soil here.",),
        )  # fmt: skip
    return BurialAnswer(
        verdict="no", shares=SHARES,
        why=("Rock or a hard layer within reach of a pit 47 in deep on 60 % of the ground.",
             "Floods (occasional) on 20 % of the ground.", "Wells, streams and the law are not looked at here."),
    )  # fmt: skip


def make_bring(nothing: bool) -> tuple[str, ...]:
    """What to carry there."""
    if nothing:
        return (
            "A post and a driver to test with, and lines to hold the ring without posts.",
            "For the apron: stakes of 18 in and steel pins of 18 in.",
        )
    return (
        "A post and a driver to test with; do not count on posts.",
        "For the apron: steel pins of 18 in, 1.5 for each that firm ground takes.",
        "To dig: with a pick, moderately to markedly difficult; with a backhoe on a 40 to 60 kW tractor.",
    )
