"""Stem lists: three ways of place, tolerant reading, and one sentence for every bad input."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from pyproj import Geod

from boscage.errors import CrsError, InputError
from boscage.readers.stem_list import read_stem_list

SAMPLE = Path(__file__).parents[3] / "sample_data"


@pytest.fixture
def write(tmp_path: Path):
    def make(text: str | bytes) -> Path:
        path = tmp_path / "stems.csv"
        path.write_bytes(text.encode() if isinstance(text, str) else text)
        return path

    return make


def test_tape_and_compass_is_turned_to_true_north(write) -> None:
    """Declination 10 degrees east: 80 magnetic is due east, 350 magnetic due north."""
    path = write("stem,dbh_cm,bearing_deg,distance_m\na,30,80,10\nb,20,350,5\nc,0,360,4\n")
    made = read_stem_list(path, declination_deg=10.0)
    assert (made.frame, made.crs, made.pivot, made.doubts) == ("pivot", None, (0.0, 0.0), ())
    first, second, third = made.stems
    assert (first.x_m, first.y_m) == pytest.approx((10.0, 0.0), abs=1e-9)
    assert (second.x_m, second.y_m) == pytest.approx((0.0, 5.0), abs=1e-9)
    assert [s.dbh_m for s in made.stems] == pytest.approx([0.30, 0.20, 0.0])
    assert made.magnetic_deg(first.x_m, first.y_m) == pytest.approx(80.0)
    assert math.cos(math.radians(made.magnetic_deg(third.x_m, third.y_m))) == pytest.approx(1.0)


def test_feet_and_inches(write) -> None:
    made = read_stem_list(write("stem,dbh_in,bearing_deg,distance_ft\n1,10,0,100\n"))
    assert made.stems[0].y_m == pytest.approx(30.48)
    assert made.stems[0].dbh_m == pytest.approx(0.254)


@pytest.mark.parametrize("name", ["creek", "bench"])
def test_the_sample_lists_can_be_printed_again(name: str) -> None:
    """Bearings and distances come back as they were written."""
    path = SAMPLE / f"stems_{name}.csv"
    made = read_stem_list(path, declination_deg=-0.6)
    rows = [line.split(",") for line in path.read_text(encoding="utf-8").splitlines()[1:]]
    assert len(made.stems) == len(rows) and not made.doubts
    for stem, (ident, dbh, kind, bearing, feet) in zip(made.stems, rows, strict=True):
        assert (stem.stem, stem.kind) == (ident, kind)
        assert made.magnetic_deg(stem.x_m, stem.y_m) == pytest.approx(float(bearing))
        assert math.hypot(stem.x_m, stem.y_m) / 0.3048 == pytest.approx(float(feet))
        assert stem.dbh_m / 0.0254 == pytest.approx(float(dbh))


def test_degrees_go_to_the_utm_zone_of_the_stems(write) -> None:
    """Distances and bearings between stems against geodesics on the ellipsoid (pyproj's Geod)."""
    lon, lat = -92.6961690, 36.2071771
    east, north, _ = Geod(ellps="WGS84").fwd(lon, lat, 60.0, 12.0)
    made = read_stem_list(
        write(f"tag,Lon,LAT,dbh_cm\n1,{lon},{lat},30\n2,{east:.9f},{north:.9f},25\n"), declination_deg=-0.6
    )
    assert (made.frame, made.crs, made.pivot) == ("crs", "EPSG:32615", None)
    one, two = made.stems
    step = (two.x_m - one.x_m, two.y_m - one.y_m)
    assert math.hypot(*step) == pytest.approx(12.0, rel=5e-4)
    assert made.magnetic_deg(*step) == pytest.approx(60.0 + 0.6, abs=0.01)
    assert 0.05 < made.convergence_deg < 0.30


def test_degrees_go_to_the_crs_asked_for(write) -> None:
    path = write("stem;lon;lat;dbh_cm\n1;-92,7;36,2;30,5\n")
    made = read_stem_list(path, crs="EPSG:26915")
    assert made.crs == "EPSG:26915"
    assert made.stems[0].dbh_m == pytest.approx(0.305)
    other = read_stem_list(path)
    assert (made.stems[0].x_m, made.stems[0].y_m) == pytest.approx((other.stems[0].x_m, other.stems[0].y_m), abs=2.0)


def test_a_grid_of_the_writers_own_is_kept(write) -> None:
    path = write("\n\n x_m , y_m , Stem ID, DBH (cm), Kind\n1,2,7,30,Leaning\n3,4,8,5,sapling\n,,,,\n5,6,9,20,\n")
    made = read_stem_list(path)
    assert (made.frame, made.crs, made.pivot) == ("grid", None, None)
    assert [(s.x_m, s.y_m, s.stem, s.kind) for s in made.stems] == [
        (1.0, 2.0, "7", "leaning"), (3.0, 4.0, "8", "sapling"), (5.0, 6.0, "9", "tree"),
    ]  # fmt: skip
    placed = read_stem_list(write("x_m,y_m,dbh_cm\n527000,4007000,30\n"), crs="EPSG:32615")
    assert (placed.frame, placed.crs) == ("crs", "EPSG:32615")
    assert placed.convergence_deg == pytest.approx(0.18, abs=0.02)


@pytest.mark.parametrize("coding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_codings_and_delimiters(write, coding: str, mark: str) -> None:
    rows = [["stem", "dbh_in", "x_m", "y_m"], ["Ö1", "12", "1", "2"], ["b", "8", "3", "4"]]
    made = read_stem_list(write("\r\n".join(mark.join(r) for r in rows).encode(coding)))
    assert [s.stem for s in made.stems] == ["Ö1", "b"]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("stem,dbh_in,bearing_deg,distance_ft\n", ("no stem", "one row")),
        ("", ("empty",)),
        ("stem,dbh_cm\n1,30\n", ("where the stems stand", "bearing_deg")),
        ("stem,dbh_cm,x_m,y_m,lon,lat\n1,30,1,2,-92,36\n", ("more than one way", "x_m and y_m", "lon and lat")),
        ("dbh_cm,bearing_deg,distance_m,distance_ft\n30,1,2,\n30,1,,2\n", ("more than one way", "distance_ft")),
        ("dbh_cm,bearing_deg,distance\n30,1,2\n", ("distance does not say its unit", "distance_m or distance_ft")),
        ("dbh,x_m,y_m\n30,1,2\n", ("dbh does not say its unit", "dbh_cm or dbh_in")),
        ("stem,x_m,y_m\n30,1,2\n", ("no diameter", "dbh_cm or dbh_in")),
        ("dbh_cm,dbh_in,x_m,y_m\n30,12,1,2\n", ("given twice",)),
        ("dbh_cm,x_m,y_m\n30,1,2\n,1,2\n", ("row 2", "field dbh_cm", "empty", "centimetres")),
        ("dbh_cm,x_m,y_m\n-3,1,2\n", ("row 1", "field dbh_cm", "'-3'", "0 or more")),
        ("dbh_in,x_m,y_m\nthick,1,2\n", ("row 1", "field dbh_in", "'thick'")),
        ("dbh_in,x_m,y_m\nnan,1,2\n", ("row 1", "field dbh_in", "'nan'")),
        ("dbh_in,bearing_deg,distance_ft\n9,370,2\n", ("row 1", "field bearing_deg", "'370'", "0 to 360")),
        ("dbh_in,bearing_deg,distance_ft\n9,-10,2\n", ("row 1", "field bearing_deg", "'-10'")),
        ("dbh_in,bearing_deg,distance_ft\n9,NE,2\n", ("row 1", "field bearing_deg", "'NE'")),
        ("dbh_in,Azimuth,distance_ft\n9,10,2\n9,10,-2\n", ("row 2", "field distance_ft", "'-2'")),
        ("dbh_in,bearing_deg,distance_ft\n9,10,inf\n", ("row 1", "field distance_ft", "'inf'")),
        ("stem,dbh_in,x_m,y_m\nA,9,1,2\nB,9,3,4\nA,9,5,6\n", ("row 3", "field stem", "stem A", "row 1")),
        ("dbh_in,kind,x_m,y_m\n9,bush,1,2\n", ("row 1", "field kind", "'bush'", "leaning")),
        ("dbh_in,x_m,y_m\n300,1,2\n250,3,4\n", ("field dbh_in", "inches, centimetres or metres?")),
        ("dbh_cm,x_m,y_m\n0.31,1,2\n0.28,3,4\n", ("field dbh_cm", "thinner", "inches, centimetres or metres?")),
        ("dbh_cm,lon,lat\n30,36.2,-92.7\n", ("row 1", "field lat", "'-92.7'", "-90 to 90")),
        ("dbh_cm,lon,lat\n30,-92.7,\n", ("row 1", "field lat", "empty")),
        ("dbh_cm,x_m,x_m,y_m\n30,1,2,3\n", ("x_m stands twice",)),
        (b"dbh\x00\x01\x02", ("no text",)),
    ],
)  # fmt: skip
def test_bad_lists_get_one_sentence(write, text: str | bytes, words: tuple[str, ...]) -> None:
    with pytest.raises(InputError) as caught:
        read_stem_list(write(text), name="my/stems.csv")
    message = str(caught.value)
    assert message.startswith("my/stems.csv") and message.endswith(".") and "\n" not in message
    for word in words:
        assert word in message


def test_a_missing_file_names_the_nearest(write) -> None:
    path = write("x")
    with pytest.raises(InputError, match=r"no such file; .*stems\.csv"):
        read_stem_list(path.with_name("stem.csv"), name="stem.csv")


@pytest.mark.parametrize(("crs", "words"), [("EPSG:99999", "unknown"), ("EPSG:4326", "degree"), ("EPSG:2277", "foot")])
def test_a_crs_must_count_in_metres(write, crs: str, words: str) -> None:
    with pytest.raises(CrsError, match=words):
        read_stem_list(write("x_m,y_m,dbh_cm\n527000,4007000,30\n"), crs=crs)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("dbh_cm,x_m,y_m\n30,1,2\n20,1,2\n", "same place: 1 and 2"),
        ("dbh_cm,bearing_deg,distance_m\n30,1,400\n", "are the distances feet?"),
        ("dbh_cm,x_m,y_m\n30,1,2\n30,9000,2\n", "9.0 km apart"),
        ("dbh_in,x_m,y_m\n31,1,2\n36,2,2\n33,4,4\n", "are the numbers centimetres?"),
        ("stem,dbh_cm,x_m,y_m\n,30,1,2\nb,20,1,3\n", "without an id: 1 (rows 1)"),
    ],
)
def test_doubts(write, text: str, words: str) -> None:
    assert any(words in doubt for doubt in read_stem_list(write(text)).doubts)


def test_order_of_rows_and_columns_does_not_matter(write) -> None:
    rng = np.random.default_rng(2)
    rows = [(f"s{i}", rng.uniform(5, 60), rng.uniform(-20, 20), rng.uniform(-20, 20)) for i in range(20)]
    plain = "".join(f"{a},{b:.3f},{c:.4f},{d:.4f}\n" for a, b, c, d in rows)
    turned = "".join(f"{d:.4f},{c:.4f},{b:.3f},{a}\n" for a, b, c, d in rows[::-1])
    first = read_stem_list(write("stem,dbh_cm,x_m,y_m\n" + plain)).stems
    second = read_stem_list(write("y_m,x_m,dbh_cm,stem\n" + turned)).stems
    assert sorted(first, key=lambda s: s.stem) == sorted(second, key=lambda s: s.stem)
