"""Resistance and water of soils against published equations, their tables, and open data."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np
import pytest

from boscage.model.soil import MOISTURES, Horizon, SoilOptions
from boscage.soil.strength import FITTED, LEAST_MPA, MOST_MPA, horizon_strength, raw_resistance_mpa, resistance_mpa
from boscage.soil.water import water_contents

DATA = Path(__file__).parents[1] / "data"

# da Silva and Kay (1997), coefficients as in the R package soilphysics: clay %, OC %, Db, theta -> MPa
PUBLISHED = [
    (20, 2, 1.4, 0.10, 15.828), (20, 2, 1.4, 0.20, 2.7168), (20, 2, 1.4, 0.30, 0.9691), (20, 2, 1.2, 0.20, 1.1149),
    (20, 2, 1.6, 0.20, 5.8769), (10, 1, 1.4, 0.20, 0.7392),
]  # fmt: skip

# Saxton and Rawls (2006), table 3, organic matter 2.5 %: sand, clay, wilting point, field capacity, saturation in % by
# volume, all three read in public copies of the table; silt is left out (its copies disagree).
TABLE_3 = [
    ("sand", 88, 5, 5, 10, 46), ("loamy sand", 80, 5, 5, 12, 46), ("sandy loam", 65, 10, 8, 18, 45),
    ("loam", 40, 20, 14, 28, 46), ("silt loam", 20, 15, 11, 31, 48), ("sandy clay loam", 60, 25, 17, 27, 43),
    ("clay loam", 30, 35, 22, 36, 48), ("silty clay loam", 10, 35, 22, 38, 51), ("silty clay", 10, 45, 27, 41, 52),
]  # fmt: skip


@pytest.mark.parametrize(("clay", "carbon", "density", "water", "mpa"), PUBLISHED)
def test_resistance_as_published(clay: float, carbon: float, density: float, water: float, mpa: float) -> None:
    assert float(raw_resistance_mpa(clay, carbon, density, water)) == pytest.approx(mpa, rel=1e-4)


def test_what_lies_outside_the_range_is_held_and_said() -> None:
    dry = resistance_mpa(20, 2, 1.4, 0.10)  # 15.8 MPa as published
    assert dry.mpa == MOST_MPA and dry.held == ("the resistance is 8 MPa or more",)
    inside = resistance_mpa(20, 2, 1.4, 0.20)
    assert inside.mpa == pytest.approx(2.7168, rel=1e-4) and inside.held == ()
    sand = resistance_mpa(2.0, 0.3, 1.9, 0.2)
    assert sand.held == (
        "clay 2 % counts as 5 %", "organic carbon 0.3 % counts as 1 %", "bulk density 1.9 Mg/m3 counts as 1.8 Mg/m3"
    )  # fmt: skip
    assert sand.mpa == pytest.approx(float(raw_resistance_mpa(5.0, 1.0, 1.8, 0.2)))
    assert math.isnan(resistance_mpa(math.nan, 2, 1.4, 0.2).mpa)


def test_inside_the_range_more_water_is_never_harder_and_more_density_never_softer() -> None:
    """The exponents of water and density, linear in clay and carbon, keep their signs at the range's corners."""
    for clay in FITTED["clay"]:
        for carbon in FITTED["organic carbon"]:
            assert -0.4805 - 0.1239 * clay + 0.208 * carbon < 0.0
            assert 3.8521 + 0.0963 * clay > 0.0


@pytest.mark.parametrize(("name", "sand", "clay", "wilting", "capacity", "saturated"), TABLE_3)
def test_water_contents_of_the_published_table(
    name: str, sand: float, clay: float, wilting: float, capacity: float, saturated: float
) -> None:
    """The table is rounded to whole per cents."""
    made = water_contents(sand, clay, 2.5)
    found = (made.wilting, made.capacity, made.saturated)
    assert [100 * v for v in found] == pytest.approx([wilting, capacity, saturated], abs=0.75), name


def test_water_contents_of_a_separate_implementation() -> None:
    """R package HydroTools, page SPAW: S = C = 0.20, OM = 2.5 gives 0.1365448, 0.3208775, 0.482125."""
    made = water_contents(20.0, 20.0, 2.5)
    assert (made.wilting, made.capacity, made.saturated) == pytest.approx((0.1365448, 0.3208775, 0.482125), rel=1e-6)
    assert made.normal_density == pytest.approx((1 - 0.482125) * 2.65)


def test_denser_soil_holds_less_when_wet() -> None:
    """Saturation is what the grains leave: 1 - Db / 2.65 (arithmetic)."""
    loose, dense = (water_contents(40.0, 20.0, 2.0, d) for d in (1.2, 1.7))
    assert loose.saturated == pytest.approx(1 - 1.2 / 2.65) and dense.saturated == pytest.approx(1 - 1.7 / 2.65)
    assert dense.wilting <= dense.capacity <= dense.saturated


def horizons() -> list[Horizon]:
    out = []
    with (DATA / "soils_dutch" / "horizons.csv").open() as file:
        for row in csv.DictReader(file):
            value = {k: float(v) if v else math.nan for k, v in row.items()}
            sand = 100.0 - value["lutitecontent"] - value["siltcontent"]
            out.append(
                Horizon(
                    top_cm=100 * value["ztop"], bottom_cm=100 * value["zbottom"], sand_pct=sand,
                    clay_pct=value["lutitecontent"], organic_pct=value["organicmattercontent"],
                    bulk_density=value["density"], rock_pct=0.0, organic=value["organicmattercontent"] >= 34.5,
                )
            )  # fmt: skip
    return out


def test_1568_dutch_horizons_are_dry_hardest_and_wet_softest() -> None:
    """Open data: the Dutch soil map. Mineral horizons all get a figure, organic ones none."""
    every, options = horizons(), SoilOptions()
    assert len(every) == 1568
    mineral = organic = 0
    for horizon in every:
        made = horizon_strength(horizon, options)
        if horizon.organic or math.isnan(horizon.clay_pct):
            organic += 1
            assert all(math.isnan(made.mpa[m]) for m in MOISTURES) and made.notes
            continue
        mineral += 1
        dry, moist, wet = (made.mpa[m] for m in MOISTURES)
        assert LEAST_MPA <= wet <= moist <= dry <= MOST_MPA
    assert mineral > 1200 and organic > 50


def test_the_density_that_goes_with_texture_is_off_by_about_a_tenth_on_dutch_horizons() -> None:
    """Mineral horizons within the equations' bounds (organic matter to 8 %, clay to 60 %): what stands behind
    `density_error`. The map's own densities are estimates too."""
    pairs = [
        (h.bulk_density, water_contents(h.sand_pct, h.clay_pct, h.organic_pct).normal_density)
        for h in horizons()
        if h.organic_pct <= 8.0 and h.clay_pct <= 60.0 and 1.0 <= h.bulk_density <= 1.8
    ]
    own, made = np.array(pairs).T
    missed = np.log(own / made)
    assert len(pairs) > 1000
    assert float(np.sqrt((missed**2).mean())) < 0.15
    assert float(np.std(missed)) < 0.1


def test_a_horizon_with_its_own_water_uses_it() -> None:
    """Water stated by the survey (% by volume in SSURGO) goes before what texture suggests."""
    given = Horizon(
        top_cm=0, bottom_cm=30, sand_pct=30, clay_pct=20, organic_pct=2 * 1.724, bulk_density=1.4, rock_pct=0,
        water={"dry": 0.2, "moist": 0.3, "wet": 0.45},
    )  # fmt: skip
    made = horizon_strength(given, SoilOptions())
    assert made.mpa["dry"] == pytest.approx(2.7168, rel=1e-4)
    assert made.mpa["moist"] == pytest.approx(0.9691, rel=1e-4)
    assert made.notes == () and made.error_ln == 0.5


def test_what_is_filled_in_widens_the_error_and_is_said() -> None:
    bare = Horizon(top_cm=0, bottom_cm=30, sand_pct=30, clay_pct=20, rock_pct=0)
    made = horizon_strength(bare, SoilOptions())
    assert made.error_ln == pytest.approx(math.hypot(0.5, 0.1 * (3.8521 + 0.0963 * 20)))
    text = "; ".join(made.notes)
    assert "organic matter not given" in text and "bulk density not given" in text and "water content" in text
    stated = horizon_strength(Horizon(top_cm=0, bottom_cm=30, resistance_mpa=1.5), SoilOptions())
    assert stated.mpa["moist"] == 1.5 and math.isnan(stated.mpa["dry"]) and math.isnan(stated.mpa["wet"])
