"""Cover, floor, ground and water on surfaces and layers with known answers."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
import scenes
import shapely

from boscage.factors.cover import Cover, CoverOptions
from boscage.factors.floor import Floor, FloorOptions
from boscage.factors.ground import Ground, GroundOptions
from boscage.factors.water import Water, WaterOptions
from boscage.model.factor import Measure
from boscage.model.scene import Scene
from boscage.model.soil import VERDICTS, ProbeReading
from boscage.values import Printer


def test_cover_is_the_mean_of_the_ground_round_the_ring() -> None:
    cover = np.zeros((200, 200))
    cover[:, 100:] = 80.0
    made = scenes.scene(surfaces={"cover": cover})
    found = Cover().measure(made, CoverOptions())
    inside, edge = scenes.at(made, 1500, 1000), scenes.at(made, 1005, 1000)
    assert found.figures["cover_pct"][inside] == pytest.approx(80.0)
    disk = [(dr, dc) for dr in range(-3, 4) for dc in range(-3, 4) if dr * dr + dc * dc <= 9]
    share = sum(dc >= 0 for _, dc in disk) / len(disk)
    assert found.figures["cover_pct"][edge] == pytest.approx(80.0 * share)
    said = Cover().sentence({"cover_pct": 80.0}, CoverOptions(), Printer("us"))
    assert said == "Canopy over 80 % of the ground within 98 ft."


def test_cover_without_canopy_data_is_no_data_and_never_hidden() -> None:
    cover = np.full((200, 200), 90.0)
    cover[50:100, 50:100] = np.nan
    made = scenes.scene(surfaces={"cover": cover})
    found = Cover().measure(made, CoverOptions())
    assert np.isnan(found.values[75, 75])
    assert np.isfinite(found.values[20, 20])
    assert "No canopy data" in Cover().sentence({"cover_pct": math.nan}, CoverOptions(), Printer())


def test_floor_takes_the_worse_of_slope_and_roughness() -> None:
    slope, rough = np.full((200, 200), 0.04), np.full((200, 200), 0.03)
    slope[:100] = 0.15
    rough[:, :100] = 0.175
    made = scenes.scene(surfaces={"slope": slope, "roughness": rough})
    values = Floor().measure(made, FloorOptions()).values
    assert values[150, 150] == pytest.approx(1.0)
    assert values[50, 150] == pytest.approx(0.25)
    assert values[150, 50] == pytest.approx(0.5)
    assert values[50, 50] == pytest.approx(0.25)


def test_floor_says_when_bumps_cannot_be_seen() -> None:
    made = scenes.scene(surfaces={"slope": np.full((200, 200), 0.04)})
    found = Floor().measure(made, FloorOptions())
    assert found.values[0, 0] == pytest.approx(1.0)
    figures = {name: float(array[0, 0]) for name, array in found.figures.items()}
    assert "bumps inside the ring not known" in Floor().sentence(figures, FloorOptions(), Printer())
    assert np.isnan(Floor().measure(scenes.scene(), FloorOptions()).values).all()


def soils(**columns: list) -> object:
    shapes = [scenes.square(0, 0, 700, 2000), scenes.square(700, 0, 1400, 2000), scenes.square(1400, 0, 2000, 2000)]
    return scenes.layer("soils", shapes, **columns)


def ground(tmp_path: Path, **columns: list) -> tuple[Scene, Measure]:
    made = scenes.with_soils(scenes.scene(), soils(**columns), tmp_path)
    return made, Ground().measure(made, GroundOptions())


def test_ground_takes_the_worst_of_what_the_soil_map_gives(tmp_path) -> None:
    made, found = ground(
        tmp_path, resistance_mpa=[1.0, 1.0, 6.0], depth_cm=[150.0, 28.0, 150.0], rock_pct=[5.0, 5.0, math.nan]
    )
    assert found.values[scenes.at(made, 300, 1000)] == pytest.approx(1.0)
    assert found.values[scenes.at(made, 1000, 1000)] == pytest.approx(0.4)
    assert found.values[scenes.at(made, 1700, 1000)] == pytest.approx(0.2)


def test_unknown_ground_is_no_data_and_never_easy(tmp_path) -> None:
    nan = math.nan
    made, found = ground(tmp_path, resistance_mpa=[nan, 1.0, 1.0], depth_cm=[nan, nan, 40.0])
    assert np.isnan(found.values[scenes.at(made, 300, 1000)])
    assert np.isfinite(found.values[scenes.at(made, 1000, 1000)])
    _, bare = ground(tmp_path, mapunit=["a", "b", "c"])
    assert np.isnan(bare.values).all() and "how hard the ground is" in bare.notes[0]
    assert np.isnan(Ground().measure(scenes.scene(), GroundOptions()).values).all()
    empty = dict.fromkeys(("resistance_mpa", "depth_cm", "rock_pct", "error_ln"), nan)
    assert Ground().sentence(empty, GroundOptions(), Printer()) == "Ground unknown: test a stake."


def test_mud_holds_no_stake_either(tmp_path) -> None:
    made, found = ground(tmp_path, resistance_mpa=[0.0, 0.3, 2.0])
    assert found.values[scenes.at(made, 300, 1000)] == pytest.approx(np.interp(0.01, [0.0, 0.3], [0.2, 1.0]))
    assert found.values[scenes.at(made, 1000, 1000)] == pytest.approx(1.0)


def test_readings_move_the_ground_round_them_and_nowhere_else(tmp_path) -> None:
    """Readings of 6 MPa where the map says 1: hard there, as mapped in the other unit, one figure for both paths."""
    x, y = scenes.X, scenes.Y
    read = tuple(
        ProbeReading(x_m=x + u, y_m=y + 1005.0, top_cm=20.0, bottom_cm=20.0, resistance_mpa=6.0, moisture="moist")
        for u in (295.0, 305.0, 315.0)
    )
    layer = soils(resistance_mpa=[1.0, 1.0, 1.0], rock_pct=[0.0] * 3, depth_cm=[150.0] * 3)
    made = scenes.with_soils(scenes.scene(), layer, tmp_path, read)
    found = Ground().measure(made, GroundOptions())
    here, other = scenes.at(made, 305, 1005), scenes.at(made, 1000, 1005)
    assert found.figures["resistance_mpa"][here] == pytest.approx(6.0, rel=1e-5)
    assert found.figures["resistance_mpa"][other] == pytest.approx(1.0, rel=1e-6)
    assert found.values[here] == pytest.approx(0.2, abs=1e-4) and found.values[other] == pytest.approx(1.0)
    assert made.ground is not None and VERDICTS[made.ground.posts[here]] == "doubtful"
    assert VERDICTS[made.ground.posts[other]] == "yes"
    said = Ground().sentence({n: float(a[here]) for n, a in found.figures.items()}, GroundOptions(), Printer("metric"))
    assert said.startswith("Very high resistance, about 6.0 MPa (likely 4.9 to 7.3 MPa)") and "safe" not in said


def test_water_is_the_distance_to_the_nearest_creek_or_pond() -> None:
    layer = scenes.layer("water", [shapely.LineString([(100, 0), (100, 2000)]), scenes.square(1500, 900, 1600, 1100)])
    made = scenes.scene(water=layer)
    found = Water().measure(made, WaterOptions())
    assert found.figures["water_m"][scenes.at(made, 605, 1005)] == pytest.approx(505.0, abs=0.01)
    assert found.figures["water_m"][scenes.at(made, 1555, 1005)] == 0.0
    assert found.figures["water_m"][scenes.at(made, 1305, 1005)] == pytest.approx(195.0, abs=0.01)
    assert np.isnan(Water().measure(scenes.scene(), WaterOptions()).values).all()
