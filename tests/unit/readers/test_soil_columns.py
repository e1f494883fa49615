"""Plain soil polygons as map units of one soil each."""

from __future__ import annotations

import math
from pathlib import Path

import geopandas as gpd
import numpy as np
import pytest
import shapely

from boscage.model.soil import VERDICTS, SoilOptions
from boscage.readers.soil_columns import units_of_columns
from boscage.soil.ground import know_ground

SAMPLE = Path(__file__).parents[3] / "sample_data"


def frame(**columns: list) -> gpd.GeoDataFrame:
    count = len(next(iter(columns.values())))
    shapes = [shapely.box(k, 0, k + 1, 1) for k in range(count)]
    return gpd.GeoDataFrame({**columns, "row": range(1, count + 1)}, geometry=shapes, crs="EPSG:32615")


def test_polygons_with_the_same_columns_are_one_unit() -> None:
    made, units = units_of_columns(
        frame(mapunit=["A", "A", "B", "A", None], clay_pct=[20.0, 20.0, 10.0, 30.5, np.nan], depth_cm=[90.0] * 5)
    )
    assert made["unit"].tolist() == ["A", "A", "B", "A (2)", "row 5"]
    assert sorted(units) == ["A", "A (2)", "B", "row 5"]
    assert units["A (2)"].components[0].horizons[0].clay_pct == 30.5
    assert units["row 5"].components[0].horizons == ()


def test_a_texture_stands_for_the_middle_of_its_class() -> None:
    _, units = units_of_columns(frame(mapunit=["A", "B"], texture=["Gravelly loam", "rubble"], depth_cm=[90.0, 90.0]))
    horizon = units["A"].components[0].horizons[0]
    assert (horizon.sand_pct, horizon.clay_pct) == pytest.approx((41.2, 17.9), abs=2.0)
    assert horizon.estimated == ("sand and clay taken from the middle of loam",)
    assert units["B"].components[0].horizons == ()


def test_without_a_depth_the_columns_speak_of_the_top_alone() -> None:
    _, units = units_of_columns(frame(mapunit=["A"], resistance_mpa=[1.0], rock_pct=[0.0]))
    soil = units["A"].components[0]
    assert soil.horizons[0].bottom_cm == 30.0 and soil.restrictions == ()
    made = know_ground(units, (), (), SoilOptions()).layers(np.zeros((1, 2)), ["A"])
    assert VERDICTS[made.posts[0]] == "unknown"


def test_rock_at_the_surface() -> None:
    _, units = units_of_columns(frame(mapunit=["A"], depth_cm=[0.0]))
    soil = units["A"].components[0]
    assert soil.horizons == () and soil.restrictions[0].top_cm == 0.0
    made = know_ground(units, (), (), SoilOptions()).layers(np.zeros((1, 2)), ["A"])
    assert VERDICTS[made.posts[0]] == "no"


def test_the_sample_ranch() -> None:
    """Invented: bottoms take posts, glades do not; nothing that the map does not state is filled in."""
    made, units = units_of_columns(gpd.read_file(SAMPLE / "soils.gpkg").assign(row=1), "invented")
    assert set(made["unit"]) == set(units) == {"DuA", "SoA", "TeC", "WhB", "LoE", "CeF", "RiC", "GlF"}
    ground = know_ground(units, (), (), SoilOptions())
    keys = sorted(units)
    found = dict(zip(keys, ground.layers(np.zeros((8, 2)), keys).posts, strict=True))
    assert VERDICTS[found["DuA"]] == "yes" and VERDICTS[found["GlF"]] == "no" and VERDICTS[found["RiC"]] == "no"
    assert [units[k].components[0].wet_top_cm for k in ("DuA", "GlF")] == [(45.0,) * 12, (200.0,) * 12]
    assert not math.isnan(ground.strengths["DuA"].ln_mpa)
