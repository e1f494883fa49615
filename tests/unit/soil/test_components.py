"""Shares of the ground: limits are limits, unnamed ground stays unknown."""

from __future__ import annotations

import math

import numpy as np
import pytest

from boscage.errors import InputError
from boscage.model.soil import Component, Horizon, Restriction, SoilOptions, SoilUnit
from boscage.soil.components import (
    depth_on_share,
    flood_class,
    ground_shares,
    profiles,
    share_stopped_above,
    stop_depth_cm,
    unit_strength,
)
from boscage.soil.place import post_tool

OPTIONS = SoilOptions()


def shares(unit: SoilUnit, shift: float = 0.0) -> list[float]:
    row = ground_shares(profiles(unit, OPTIONS), np.array([shift]), post_tool(OPTIONS), "moist", OPTIONS)[0]
    return row.round(9).tolist()


def test_depth_to_rock_is_a_share_and_never_a_mean(soil, unit) -> None:
    """Half at 20 cm and half at 200 cm is not 110 cm of soil everywhere."""
    mixed = unit(soil(percent=50, rock_cm=20), soil(percent=50))
    assert shares(mixed) == [0.5, 0.0, 0.5, 0.0]
    assert share_stopped_above(mixed, 45.72) == (0.5, 0.0)
    assert share_stopped_above(mixed, 10.0) == (0.0, 0.0)


def test_unnamed_ground_stays_unknown(soil, unit) -> None:
    assert unit(soil(percent=70)).unnamed_pct == pytest.approx(30.0)
    assert shares(unit(soil(percent=70))) == [0.7, 0.0, 0.0, 0.3]
    assert share_stopped_above(unit(soil(percent=70)), 50.0) == (0.0, pytest.approx(0.3))
    nothing = unit(Component(name="not described", percent=60.0))
    assert shares(nothing) == [0.0, 0.0, 0.0, 1.0]
    assert share_stopped_above(nothing, 50.0) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("mpa", "row"),
    [(4.0, [1, 0, 0, 0]), (4.01, [0, 1, 0, 0]), (7.99, [0, 1, 0, 0]), (8.0, [0, 0, 1, 0]), (0.29, [0, 1, 0, 0]),
     (0.3, [1, 0, 0, 0])],
)  # fmt: skip
def test_resistance_limits(soil, unit, mpa: float, row: list[float]) -> None:
    """4, 8 and 0.3 MPa are the project's own assumption: common practice, no source."""
    assert shares(unit(soil(mpa))) == row


@pytest.mark.parametrize(
    ("rock_pct", "row"),
    [(34.9, [1, 0, 0, 0]), (35, [0, 1, 0, 0]), (60, [0, 0, 1, 0]), (math.nan, [0, 1, 0, 0])],
)
def test_rock_fragments_limit_and_unknown_ones_are_doubted(soil, unit, rock_pct: float, row: list[float]) -> None:
    """Breaks: Soil Survey Manual, very and extremely gravelly; what a post makes of them has no source."""
    assert shares(unit(soil(rock_pct=rock_pct))) == row


@pytest.mark.parametrize(
    ("rock_cm", "hardness", "row"),
    [(45.7, "stops", [0, 0, 1, 0]), (45.72, "stops", [0, 1, 0, 0]), (60.9, "stops", [0, 1, 0, 0]),
     (60.96, "stops", [1, 0, 0, 0]), (20.0, "slows", [0, 1, 0, 0])],
)  # fmt: skip
def test_rock_at_18_and_24_inches(soil, unit, rock_cm: float, hardness: str, row: list[float]) -> None:
    """Line posts: 24 in, in rocky soil 18 in (NRCS Kentucky specification 382)."""
    made = soil(rock_cm=rock_cm, hardness=hardness)
    if hardness == "slows":
        made = Component(
            name="pan", percent=100.0, horizons=soil().horizons, restrictions=made.restrictions, flood_class="none"
        )
    assert shares(unit(made)) == row


def test_a_restriction_for_roots_alone_stops_nothing(soil, unit) -> None:
    made = Component(
        name="clay below", percent=100.0, horizons=soil().horizons,
        restrictions=(Restriction(top_cm=20.0, kind="Abrupt textural change", hardness="passes"),),
    )  # fmt: skip
    assert shares(unit(made)) == [1, 0, 0, 0] and math.isinf(stop_depth_cm(made))


def test_the_end_of_the_description_is_the_end_of_knowledge(soil, unit) -> None:
    assert shares(unit(soil(deep_cm=60.0))) == [0, 0, 0, 1]
    assert shares(unit(soil(deep_cm=61.0))) == [1, 0, 0, 0]
    gap = Component(
        name="gap", percent=100.0,
        horizons=(
            Horizon(top_cm=0, bottom_cm=20, rock_pct=0, resistance_mpa=1.0),
            Horizon(top_cm=30, bottom_cm=200, rock_pct=0, resistance_mpa=1.0),
        ),
    )  # fmt: skip
    assert shares(unit(gap)) == [0, 0, 0, 1]


def test_rock_under_what_nobody_described_is_unknown_unless_it_is_shallow(unit) -> None:
    deep = Component(name="a", percent=100.0, restrictions=(Restriction(top_cm=55.0, kind="Lithic bedrock"),))
    shallow = Component(name="b", percent=100.0, restrictions=(Restriction(top_cm=0.0, kind="bare rock"),))
    assert shares(unit(deep)) == [0, 0, 0, 1]
    assert shares(unit(shallow)) == [0, 0, 1, 0]


def test_water_is_no_ground_and_peat_holds_nothing(unit) -> None:
    assert shares(unit(Component(name="Water", percent=100.0, ground=False))) == [0, 0, 1, 0]
    peat = Horizon(top_cm=0, bottom_cm=40, organic=True)
    below = Horizon(top_cm=40, bottom_cm=200, rock_pct=0, resistance_mpa=1.0)
    assert shares(unit(Component(name="peat", percent=100.0, horizons=(peat, below)))) == [0, 1, 0, 0]
    duff = Horizon(top_cm=0, bottom_cm=5, organic=True)
    below = Horizon(top_cm=5, bottom_cm=200, rock_pct=0, resistance_mpa=1.0)
    assert shares(unit(Component(name="duff", percent=100.0, horizons=(duff, below)))) == [1, 0, 0, 0]


def test_readings_shift_every_horizon(soil, unit) -> None:
    assert shares(unit(soil(2.0)), math.log(4.5)) == [0, 0, 1, 0]
    assert shares(unit(soil(9.0)), math.log(0.4)) == [1, 0, 0, 0]


def test_strength_of_a_mix_is_the_mean_logarithm_by_share(soil, unit) -> None:
    """Worked by hand: 75 % at 1 MPa and 25 % at 4 MPa; errors 0.5 and the spread between the soils."""
    made = unit_strength(profiles(unit(soil(1.0, percent=60), soil(4.0, percent=20)), OPTIONS), 0.0, 60.0, "moist")
    assert made.ln_mpa == pytest.approx(0.25 * math.log(4.0))
    assert made.estimate_ln == pytest.approx(0.5)
    assert made.error_ln == pytest.approx(math.sqrt(0.25 + 0.75 * 0.25 * math.log(4.0) ** 2))
    assert made.known_share == pytest.approx(0.8)
    none = unit_strength(profiles(unit(), OPTIONS), 0.0, 60.0, "moist")
    assert math.isnan(none.ln_mpa) and none.known_share == 0.0


def test_strength_at_one_depth_is_that_of_its_horizon(unit) -> None:
    two = Component(
        name="two", percent=100.0,
        horizons=(
            Horizon(top_cm=0, bottom_cm=20, rock_pct=0, resistance_mpa=1.0),
            Horizon(top_cm=20, bottom_cm=80, rock_pct=0, resistance_mpa=3.0),
        ),
    )  # fmt: skip
    made = profiles(unit(two), OPTIONS)
    assert unit_strength(made, 20.0, 20.0, "moist").ln_mpa == pytest.approx(math.log(3.0))
    assert unit_strength(made, 19.9, 19.9, "moist").ln_mpa == pytest.approx(0.0)
    assert unit_strength(made, 0.0, 40.0, "moist").ln_mpa == pytest.approx(0.5 * math.log(3.0))
    assert math.isnan(unit_strength(made, 90.0, 90.0, "moist").ln_mpa)


def test_depth_on_a_share() -> None:
    assert depth_on_share([10.0, 50.0, 90.0], [0.2, 0.3, 0.5], 0.5) == 90.0
    assert depth_on_share([10.0, 50.0, 90.0], [0.2, 0.3, 0.5], 0.8) == 50.0
    assert depth_on_share([10.0, 50.0, 90.0], [0.2, 0.3, 0.4], 0.95) == 0.0


def test_flood_class_counts_from_a_share_and_silence_is_not_none(soil, unit) -> None:
    often, never, silent = soil(percent=20, flood="frequent"), soil(percent=80, flood="none"), soil(flood=None)
    assert flood_class(unit(often, never), 0.15) == "frequent"
    assert flood_class(unit(often, never), 0.25) == "none"
    assert flood_class(unit(silent), 0.15) is None
    assert flood_class(unit(soil(percent=60, flood="none")), 0.15) is None
    assert flood_class(unit(soil(percent=60, flood="occasional")), 0.15) == "occasional"


def test_bad_units_are_refused(soil) -> None:
    with pytest.raises(InputError, match="sum to 120 %"):
        SoilUnit(key="A", symbol="A", name="", components=(soil(percent=60), soil(percent=60)))
    with pytest.raises(InputError, match="bottom below its top"):
        Horizon(top_cm=20.0, bottom_cm=20.0)
    with pytest.raises(InputError, match="flood class is 'often'"):
        Component(name="x", percent=10.0, flood_class="often")
    with pytest.raises(InputError, match="3 months"):
        Component(name="x", percent=10.0, wet_top_cm=(1.0, 2.0, 3.0))
    with pytest.raises(InputError, match="post_easy_mpa is over post_stop_mpa"):
        SoilOptions(post_easy_mpa=9.0)
