"""Lidar surveys as rasters: units, CRS, classes, and one sentence for what cannot be used."""

from __future__ import annotations

import sys
from pathlib import Path

import laspy
import numpy as np
import pytest
from pyproj import CRS

from boscage.errors import CrsError, InputError
from boscage.model.layers import LayerSpec
from boscage.readers.layers import read_layers
from boscage.readers.point_cloud import PointCloudReader
from boscage.readers.protocol import Request
from boscage.readers.tree_map import canopy_frame, find_trees
from boscage.values import Grid

READER = PointCloudReader()


def request(path: Path, layer: str = "canopy_height", **spec: object) -> Request:
    return Request(layer=layer, path=path, spec=LayerSpec(path=path.name, **spec))  # type: ignore[arg-type]


def survey(
    path: Path, points: np.ndarray, code: np.ndarray, *, epsg: int | None = 32615, scale: float = 0.001, **dims: object
) -> Path:
    """Write points (n, 3) with their classes."""
    header = laspy.LasHeader(version="1.4", point_format=6)
    header.scales, header.offsets = np.full(3, scale), np.floor(points.min(axis=0))
    if epsg is not None:
        header.add_crs(CRS.from_epsg(epsg))
    data = laspy.LasData(header)
    data.x, data.y, data.z = points.T
    data.classification = code
    for name, values in dims.items():
        data[name] = values
    data.write(path)
    return path


def slope_with_trees(seed: int = 1) -> tuple[np.ndarray, np.ndarray]:
    """Ground that climbs 20 % to the east, 60 m square, two returns a square metre, and two trees of 15 and 22 m."""
    rng = np.random.default_rng(seed)
    ground = np.column_stack([527_000 + rng.uniform(0, 60, 7200), 4_007_000 + rng.uniform(0, 60, 7200), np.zeros(7200)])
    ground[:, 2] = 300.0 + 0.2 * (ground[:, 0] - 527_000)
    parts, codes = [ground], [np.full(len(ground), 2)]
    for x, y, height in ((20.0, 20.0, 15.0), (40.0, 45.0, 22.0)):
        step = rng.uniform(-4, 4, (600, 2))
        step = step[np.hypot(*step.T) < 4.0]
        crown = np.column_stack([527_000 + x + step[:, 0], 4_007_000 + y + step[:, 1], np.zeros(len(step))])
        crown[:, 2] = 300.0 + 0.2 * x + height - 0.3 * (step**2).sum(axis=1)
        parts.append(crown)
        codes.append(np.full(len(crown), 5))
    return np.vstack(parts), np.concatenate(codes)


def heights(path: Path, **spec: object) -> tuple[np.ndarray, object]:
    raw = READER.read(request(path, **spec))
    return raw.read(Grid("EPSG:32615", 527_000.0, 4_007_060.0, 1.0, 60, 60)), raw


def test_trees_stand_on_their_own_ground(tmp_path: Path) -> None:
    """On a slope the heights are those of the trees, and the ground comes back as the layer terrain."""
    points, code = slope_with_trees()
    canopy, raw = heights(survey(tmp_path / "wood.laz", points, code))
    assert canopy[40, 20] == pytest.approx(15.0, abs=0.5)
    assert canopy[15, 40] == pytest.approx(22.0, abs=0.5)
    assert np.nanmedian(canopy) == pytest.approx(0.0, abs=0.1)
    assert (raw.unit, raw.crs, raw.date) == ("m", "EPSG:32615", None)
    assert any("as the survey classes it" in note for note in raw.notes)
    grid = Grid("EPSG:32615", 527_000.0, 4_007_060.0, 1.0, 60, 60)
    ground = READER.read(request(tmp_path / "wood.laz", "terrain")).read(grid)
    want = 300.0 + 0.2 * (np.arange(60) + 0.5)
    assert np.abs(ground - want).max() < 0.25


def test_without_classes_the_ground_is_found(tmp_path: Path) -> None:
    points, code = slope_with_trees()
    canopy, raw = heights(survey(tmp_path / "plain.las", points, np.ones_like(code)))
    known, _ = heights(survey(tmp_path / "known.las", points, code))
    assert any("does not class the ground" in note for note in raw.notes)
    assert np.nanmean(np.abs(canopy - known)) < 0.15
    assert canopy[15, 40] == pytest.approx(22.0, abs=0.6)


def test_feet_come_out_as_feet_with_their_unit(tmp_path: Path) -> None:
    """The same wood in US survey feet (EPSG:2277 counts in them) has heights 3.2808 times as large."""
    points, code = slope_with_trees()
    feet = (points - [520_000.0, 4_000_000.0, 0.0]) * 3937 / 1200 + [2_300_000.0, 7_000_000.0, 0.0]
    raw = READER.read(request(survey(tmp_path / "feet.laz", feet, code, epsg=2277)))
    assert raw.unit == "us-ft"
    assert np.nanmax(raw.lattice.values) * 1200 / 3937 == pytest.approx(22.0, abs=0.5)
    assert raw.lattice.transform.a == pytest.approx(3937 / 1200)
    assert any("like the coordinates" in note for note in raw.notes)
    stated = READER.read(request(tmp_path / "feet.laz", unit="m"))
    assert stated.unit == "m"
    assert np.nanmax(stated.lattice.values) == pytest.approx(np.nanmax(raw.lattice.values), rel=0.1)


def test_noise_withheld_buildings_and_own_classes(tmp_path: Path) -> None:
    """Noise (7, 18), withheld returns and classes from 64 on count for nothing; a roof (6) is no canopy."""
    points, code = slope_with_trees()
    extra = np.array([[527_010.5, 4_007_050.5, 360.0]] * 4 + [[527_050.5, 4_007_010.5, 330.0]])
    flags = np.zeros(len(points) + 5, np.uint8)
    flags[len(points) + 3] = 1
    path = survey(
        tmp_path / "noise.laz", np.vstack([points, extra]), np.append(code, [7, 18, 65, 5, 6]), withheld=flags
    )
    canopy, raw = heights(path)
    assert canopy[9, 10] < 0.2
    assert canopy[49, 50] < 0.2
    assert any(note.startswith("4 returns left out") for note in raw.notes)


def test_pits_are_filled_and_gaps_are_not_hidden(tmp_path: Path) -> None:
    points, code = slope_with_trees()
    inside = np.hypot(points[:, 0] - 527_040.5, points[:, 1] - 4_007_045.5) < 0.8
    gap = (np.abs(points[:, 0] - 527_010) < 5) & (np.abs(points[:, 1] - 4_007_050) < 5)
    kept = ~(inside & (code == 5)) & ~gap
    bottom = np.array([[527_040.5, 4_007_045.5, 308.1]])
    canopy, _ = heights(survey(tmp_path / "pit.laz", np.vstack([points[kept], bottom]), np.append(code[kept], 2)))
    assert canopy[14, 40] == pytest.approx(21.5, abs=1.0)
    assert np.isnan(canopy[8:12, 8:12]).all()


def test_files_of_one_survey_are_one_raster(tmp_path: Path) -> None:
    points, code = slope_with_trees()
    (tmp_path / "tiles").mkdir()
    east = points[:, 0] >= 527_030
    survey(tmp_path / "tiles" / "a.laz", points[east], code[east])
    survey(tmp_path / "tiles" / "b.laz", points[~east], code[~east])
    assert READER.claims(tmp_path / "tiles")
    both, raw = heights(tmp_path / "tiles")
    one, _ = heights(survey(tmp_path / "one.laz", points, code))
    assert np.array_equal(both, one, equal_nan=True)
    assert "2 files" in raw.notes


def test_pieces_do_not_change_the_answer(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = survey(tmp_path / "wood.laz", *slope_with_trees())
    whole, _ = heights(path)
    monkeypatch.setattr("boscage.readers.point_cloud.CHUNK_POINTS", 777)
    assert np.array_equal(heights(path)[0], whole, equal_nan=True)


def test_dense_surveys_get_half_metre_cells(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    points = rng.uniform(0, [20, 20, 0.1], (4000, 3)) + [527_000, 4_007_000, 300]
    raw = READER.read(request(survey(tmp_path / "dense.laz", points, np.full(4000, 2))))
    assert raw.cell_m("EPSG:32615") == pytest.approx(0.5)


def test_flight_day_from_gps_seconds(tmp_path: Path) -> None:
    """Adjusted standard GPS time: 1 January 2020 00:00 is 1,261,872,000 s after 6 January 1980 (leap seconds aside)."""
    points, code = slope_with_trees()
    header = laspy.LasHeader(version="1.4", point_format=6)
    header.global_encoding.gps_time_type = laspy.header.GpsTimeType.STANDARD
    header.add_crs(CRS.from_epsg(32615))
    data = laspy.LasData(header)
    data.x, data.y, data.z = points.T
    data.classification, data.gps_time = code, np.full(len(code), 1_261_872_000 + 43_200 - 1e9)
    data.write(tmp_path / "day.las")
    assert str(READER.read(request(tmp_path / "day.las")).date) == "2020-01-01"


def test_claims(tmp_path: Path) -> None:
    assert READER.claims(tmp_path / "a.LAZ") and READER.claims(tmp_path / "a.las")
    assert not READER.claims(tmp_path / "a.tif") and not READER.claims(tmp_path)


def check(caught: pytest.ExceptionInfo, *words: str) -> None:
    message = str(caught.value)
    assert message.endswith(".") and "\n" not in message and "/" not in message.split(":", maxsplit=1)[0]
    for word in words:
        assert word in message


def test_bad_surveys_get_one_sentence(tmp_path: Path) -> None:
    points, code = slope_with_trees()
    good = survey(tmp_path / "good.laz", points, code)
    with pytest.raises(InputError) as caught:
        READER.read(request(good, "canopy_cover"))
    check(caught, "good.laz", "layer canopy_cover", "name the survey as canopy_height")
    with pytest.raises(CrsError) as caught:
        READER.read(request(survey(tmp_path / "bare.laz", points, code, epsg=None)))
    check(caught, "bare.laz", "no CRS", 'crs = "EPSG:..."')
    assert READER.read(request(tmp_path / "bare.laz", crs="EPSG:32615")).crs == "EPSG:32615"
    with pytest.raises(CrsError) as caught:
        READER.read(request(survey(tmp_path / "deg.laz", points, code, epsg=4326)))
    check(caught, "deg.laz", "degrees", "UTM")
    (tmp_path / "torn.laz").write_bytes(good.read_bytes()[:4000])
    with pytest.raises(InputError) as caught:
        READER.read(request(tmp_path / "torn.laz"))
    check(caught, "torn.laz", "cannot be read", "copy it again")
    (tmp_path / "text.las").write_text("x,y,z\n1,2,3\n")
    with pytest.raises(InputError) as caught:
        READER.read(request(tmp_path / "text.las"))
    check(caught, "text.las", "cannot be read")
    with pytest.raises(InputError) as caught:
        READER.read(request(survey(tmp_path / "thin.laz", points[::90], code[::90])))
    check(caught, "thin.laz", "too sparse", "square metre")
    empty = laspy.LasData(laspy.LasHeader(version="1.4", point_format=6))
    empty.header.add_crs(CRS.from_epsg(32615))
    empty.write(tmp_path / "empty.las")
    with pytest.raises(InputError) as caught:
        READER.read(request(tmp_path / "empty.las"))
    check(caught, "empty.las", "no returns")


def test_files_in_different_systems_are_refused(tmp_path: Path) -> None:
    points, code = slope_with_trees()
    folder = tmp_path / "mixed"
    folder.mkdir()
    survey(folder / "a.laz", points, code)
    survey(folder / "b.laz", points, code, epsg=32614)
    with pytest.raises(CrsError) as caught:
        READER.read(request(folder))
    check(caught, "b.laz is in another CRS than a.laz")


def test_missing_package_says_how_to_install_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = survey(tmp_path / "wood.laz", *slope_with_trees())
    monkeypatch.setitem(sys.modules, "laspy", None)
    with pytest.raises(InputError) as caught:
        READER.read(request(path))
    check(caught, "laspy", "pip install")


def test_a_plan_can_name_a_survey_as_canopy_height(folder, shapes, tmp_path: Path) -> None:
    """From the plan to trees: the two trees of the survey are found where they stand."""
    points, code = slope_with_trees()
    survey(folder.path / "wood.laz", points + [-6500.0, 500.0, 0.0], code)
    folder.layers["canopy_height"] = '"wood.laz"'
    made = read_layers(folder.plan(), (*shapes.readers, READER))
    layer = made.rasters["canopy_height"]
    assert "returns" in layer.report.read and layer.report.state in ("usable", "doubtful")
    found = find_trees(layer, canopy_frame(layer, made.crs))
    tall = found.taken(found.height_m > 12.0)
    assert sorted(zip(tall.x_m.round(), tall.y_m.round(), strict=True)) == [
        (520_520.0, 4_007_520.0), (520_540.0, 4_007_545.0),
    ]  # fmt: skip
    assert tall.height_m == pytest.approx([22.0, 15.0], abs=0.5)
