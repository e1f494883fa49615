"""Penetrometer readings: units by column name, blows, cones, and one sentence for every bad input."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import geopandas as gpd
import pytest
import shapely

from boscage.errors import CrsError, LayerError
from boscage.model.layers import LayerSpec
from boscage.readers.probes import ProbeSet, make_probes
from boscage.readers.protocol import Request
from boscage.readers.table import TableReader
from boscage.readers.vector import VectorReader

CRS = "EPSG:32615"
SAMPLE = Path(__file__).parents[3] / "sample_data"
DAY = dt.date(2026, 11, 21)


@pytest.fixture
def read(tmp_path: Path):
    def make(text: str, **columns: str) -> ProbeSet:
        path = tmp_path / "probes.csv"
        path.write_text(text)
        request = Request(layer="probes", path=path, spec=LayerSpec(path="probes.csv", crs=None, columns=columns))
        return make_probes(TableReader().read(request), CRS, request, DAY)

    return make


@pytest.mark.parametrize(
    ("column", "value"),
    [("cone_index_kpa", 1500), ("cone_index_mpa", 1.5), ("Cone Index PSI", 1.5 / 6894.757293168361e-6),
     ("resistance_kPa", 1500), ("qc_MPa", 1.5), ("ci_bar", 15), ("cone_index_n_cm2", 150)],
)  # fmt: skip
def test_the_unit_stands_in_the_columns_name(read, column: str, value: float) -> None:
    made = read(f"lon,lat,depth_cm,{column}\n-92.7,36.2,30,{value}\n")
    assert made.readings[0].resistance_mpa == pytest.approx(1.5, rel=1e-9)


@pytest.mark.parametrize(
    ("column", "value"), [("depth_cm", 30.48), ("depth_in", 12), ("depth_ft", 1), ("Depth m", 0.3048)]
)
def test_depths(read, column: str, value: float) -> None:
    made = read(f"lon,lat,{column},cone_index_kpa\n-92.7,36.2,{value},900\n").readings[0]
    assert (made.top_cm, made.bottom_cm) == pytest.approx((30.48, 30.48))


def test_all_that_a_row_can_say(read) -> None:
    made = read(
        "lon,lat,date,depth_cm,cone_index_kpa,cone,moisture,stopped\n"
        "-92.7,36.2,2026-11-02,15,900,12.83 mm,Moist,no\n-92.7,36.2,2026-11-02,30,5000,small,dry,yes\n"
    )
    first, second = made.readings
    assert (first.date, first.cone_mm, first.moisture, first.stopped) == (dt.date(2026, 11, 2), 12.83, "moist", False)
    assert (second.cone_mm, second.moisture, second.stopped, second.row) == (12.83, "dry", True, 2)
    assert made.doubts == ()


def test_a_note_tells_of_a_stopped_probe(read) -> None:
    made = read("lon,lat,depth_cm,cone_index_kpa,note\n-92.7,36.2,15,900,\n-92.7,36.2,30,5000,Stopped on rock\n")
    assert [r.stopped for r in made.readings] == [False, True]
    assert any("how wet the ground was" in d for d in made.doubts)


def test_blows(read) -> None:
    """Herrick and Jones (2002): 2 kg falling 0.40 m drive the large cone 20 mm a blow: 1.216 MPa."""
    made = read("lon,lat,blows,distance_mm,depth_cm\n-92.7,36.2,5,100,10\n-92.7,36.2,10,100,20\n")
    first, second = made.readings
    assert first.resistance_mpa == pytest.approx(1.216, rel=1e-3)
    assert second.resistance_mpa == pytest.approx(2.431, rel=1e-3)
    assert (second.top_cm, second.bottom_cm) == pytest.approx((10.0, 20.0))
    assert "dynamic penetrometer" in " ".join(made.notes)


def test_blows_between_two_depths_with_another_hammer(read) -> None:
    made = read(
        "lon,lat,blows,depth_from_in,depth_in,hammer_lb,drop_cm,cone\n-92.7,36.2,5,4,8,4.4092452,40,small\n"
    ).readings[0]
    assert (made.top_cm, made.bottom_cm) == pytest.approx((10.16, 20.32))
    assert made.resistance_mpa == pytest.approx(5 * 2 * 9.80665 * 0.4 / (0.1016 * 129.28e-6) / 1e6, rel=1e-4)


def test_places_in_the_ranchs_crs(read) -> None:
    made = read("x,y,crs,depth_cm,cone_index_kpa\n525000,4009000,32615,15,900\n").readings[0]
    assert (made.x_m, made.y_m) == pytest.approx((525000.0, 4009000.0), abs=1e-3)


def test_the_sample_readings(tmp_path: Path) -> None:
    path = SAMPLE / "probes.csv"
    request = Request(layer="probes", path=path, spec=LayerSpec(path="probes.csv"))
    made = make_probes(TableReader().read(request), CRS, request, DAY)
    assert len(made.readings) == 60 and {r.bottom_cm for r in made.readings} == {15.0, 30.0}
    assert all(0.1 < r.resistance_mpa <= 5.0 for r in made.readings)


def test_numbers_from_a_geopackage(tmp_path: Path) -> None:
    path = tmp_path / "probes.gpkg"
    frame = gpd.GeoDataFrame(
        {"depth_cm": [15.5], "cone_index_kpa": [912.5], "date": ["2026-11-02"]},
        geometry=[shapely.Point(525000, 4009000)], crs=CRS,
    )  # fmt: skip
    frame.to_file(path)
    request = Request(layer="probes", path=path, spec=LayerSpec(path="probes.gpkg"))
    made = make_probes(VectorReader().read(request), CRS, request, DAY).readings[0]
    assert (made.resistance_mpa, made.bottom_cm) == pytest.approx((0.9125, 15.5))


def test_names_that_the_plan_maps(read) -> None:
    made = read("lon,lat,tiefe_cm,wert_mpa\n-92.7,36.2,20,1.5\n", depth="tiefe_cm", index="wert_mpa")
    assert (made.readings[0].bottom_cm, made.readings[0].resistance_mpa) == (20.0, 1.5)


def test_what_is_doubted(read) -> None:
    made = read(
        "lon,lat,date,depth_cm,cone_index_kpa,cone\n-92.7,36.2,2026-12-01,15,900,16 mm\n,,,15,900,\n"
        "-92.7,36.2,2026-11-01,15,,\n"
    )
    text = " ".join(made.doubts)
    assert len(made.readings) == 1
    assert "rows without a place: 1 of 3 (rows 2)" in text and "rows without a resistance: 1 (rows 3)" in text
    assert "dated after 2026-11-21: 1 (rows 1)" in text and "none of the standard ones" in text


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("lon,lat,cone_index_kpa\n-92.7,36.2,900\n", "probes.csv, layer probes, field depth_cm: there is no depth"),
        ("lon,lat,depth_cm\n-92.7,36.2,15\n", "there is no resistance"),
        ("lon,lat,depth,cone_index_kpa\n-92.7,36.2,15,900\n", "the column depth does not say its unit"),
        ("lon,lat,depth_cm,cone_index\n-92.7,36.2,15,900\n", "the column cone_index does not say its unit"),
        ("lon,lat,depth_cm,cone_index_kpa\n-92.7,36.2,15,hard\n", "row 1, field cone_index_kpa: the value is 'hard'"),
        ("lon,lat,depth_cm,cone_index_kpa\n-92.7,36.2,15,-3\n", "over 0 to 1e+05"),
        ("lon,lat,depth_cm,cone_index_kpa\n-92.7,36.2,,900\n", "row 1, field depth_cm: the cell is empty"),
        ("lon,lat,depth_in,cone_index_psi\n-92.7,36.2,250,100\n", "a number from 0 to 196.9"),
        ("lon,lat,depth_cm,blows\n-92.7,36.2,15,4\n", "the distance that the blows drove the cone"),
        ("lon,lat,depth_cm,depth_from_cm,cone_index_kpa\n-92.7,36.2,15,20,900\n", "a depth above that of the reading"),
        ("lon,lat,depth_cm,cone_index_kpa,cone\n-92.7,36.2,15,900,blunt\n", "field cone: the value is 'blunt'"),
        ("lon,lat,depth_cm,cone_index_kpa,moisture\n-92.7,36.2,15,900,damp\n", "dry, moist or wet, or an empty cell"),
        ("lon,lat,depth_cm,cone_index_kpa,stopped\n-92.7,36.2,15,900,perhaps\n", "yes or no, or an empty cell"),
        ("lon,lat,depth_cm,cone_index_kpa,date\n-92.7,36.2,15,900,11/02/26\n", "a date such as 2026-11-21"),
        ("lon,lat,depth_cm,cone_index_kpa\n-92.7,36.2,15,\n", "no row holds a resistance"),
        ("lon,lat,depth_cm,cone_index_kpa\n,,15,900\n", "the file holds no reading"),
    ],
)  # fmt: skip
def test_one_sentence_for_every_bad_input(read, text: str, words: str) -> None:
    with pytest.raises(LayerError) as caught:
        read(text)
    assert words in str(caught.value) and str(caught.value).endswith(".")


def test_the_plans_names_must_be_there_and_carry_a_unit(read) -> None:
    text = "lon,lat,deep,cone_index_kpa\n-92.7,36.2,15,900\n"
    with pytest.raises(LayerError, match="does not say its unit"):
        read(text, depth="deep")
    with pytest.raises(LayerError, match="the file does not have"):
        read(text, depth="tiefe_cm")


def test_degrees_in_a_metre_crs_are_refused(read) -> None:
    with pytest.raises(CrsError, match="look like degrees"):
        read("x,y,crs,depth_cm,cone_index_kpa\n-92.7,36.2,32615,15,900\n")
    assert math.isnan(read("lon,lat,depth_cm,cone_index_kpa\n-92.7,36.2,15,900\n").readings[0].cone_mm)
