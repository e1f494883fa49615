"""A small invented soil survey in the form that the USDA hands out: folder, several folders, GeoPackage.

File and column names, the `|` between cells and the role of mstab and mstabcol are those of SSURGO downloads (NRCS,
Soil Data Access tables and columns report). Every figure is invented.
"""

from __future__ import annotations

import math
from pathlib import Path

import geopandas as gpd
import pandas as pd
import pyogrio
import pytest
import shapely

from boscage.errors import LayerError
from boscage.model.layers import LayerSpec
from boscage.readers.protocol import Request
from boscage.readers.ssurgo import SoilSurvey, SsurgoReader, holds_survey, read_survey

MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
          "November", "December")  # fmt: skip
HORIZON = ("chkey", "cokey", "hzname", "hzdept_r", "hzdepb_r", "sandtotal_r", "silttotal_r", "claytotal_r", "om_r",
           "dbthirdbar_r", "wthirdbar_r", "wfifteenbar_r", "wsatiated_r", "fraggt10_r", "frag3to10_r",
           "sieveno10_r")  # fmt: skip
TABLES: dict[str, tuple[tuple[str, ...], list[tuple]]] = {
    "mapunit": (
        ("musym", "muname", "mukey"),
        [("DuA", "Dunnock loam, 0 to 2 percent slopes", "101"), ("RiC", "Ridge-Rock outcrop complex", "102"),
         ("W", "Water", "103")],
    ),
    "component": (
        ("comppct_r", "compname", "compkind", "majcompflag", "mukey", "cokey"),
        [(80, "Dunnock", "Series", "Yes", "101", "c1"), (10, "Sorrel", "Series", "No", "101", "c2"),
         (60, "Ridge", "Series", "Yes", "102", "c3"), (30, "Rock outcrop", "Miscellaneous area", "Yes", "102", "c4"),
         (100, "Water", "Miscellaneous area", "Yes", "103", "c5")],
    ),
    "chorizon": (
        HORIZON,
        [("h1", "c1", "A", 0, 20, 40, 40, 20, 2.5, 1.35, 28, 14, 46, 0, 0, 100),
         ("h2", "c1", "Bw", 20, 150, 30, 45, 25, 0.8, 1.45, 30, 17, 44, 0, 0, 95),
         ("h3", "c3", "Oi", 0, 3, "", "", "", 80, 0.2, "", "", "", "", "", ""),
         ("h4", "c3", "A", 3, 40, 30, 50, 20, 3.0, 1.30, "", "", "", 5, 10, 60),
         ("h5", "c3", "R", 40, 65, "", "", "", "", "", "", "", "", "", "", "")],
    ),
    "corestrictions": (("reskind", "reshard", "resdept_r", "cokey"), [("Lithic bedrock", "Indurated", 40, "c3")]),
    "comonth": (
        ("monthseq", "month", "flodfreqcl", "cokey", "comonthkey"),
        [(i, m, "Occasional" if i in (2, 3) else "None", "c1", f"m1{i}") for i, m in enumerate(MONTHS)]
        + [(i, m, "None", "c3", f"m3{i}") for i, m in enumerate(MONTHS)],
    ),
    "cosoilmoist": (
        ("soimoistdept_r", "soimoistdepb_r", "soimoiststat", "comonthkey"),
        [(0, 60, "Moist", f"m1{i}") for i in range(12)] + [(60, 150, "Wet", f"m1{i}") for i in range(4)]
        + [(0, 40, "Dry", f"m3{i}") for i in range(11)],
    ),
    "chfrags": (("fragvol_r", "fragkind", "chkey"), [(3, "Sandstone", "h2"), (4, "Chert", "h2")]),
}  # fmt: skip
FILES = {"component": "comp", "corestrictions": "crstrcts", "cosoilmoist": "csmoist", "comonth": "cmonth"}


def polygons(offset: float = 0.0) -> gpd.GeoDataFrame:
    shapes = [shapely.box(-92.72 + offset + 0.01 * k, 36.21, -92.71 + offset + 0.01 * k, 36.22) for k in range(3)]
    data = {"AREASYMBOL": "XX001", "MUSYM": ["DuA", "RiC", "W"], "MUKEY": ["101", "102", "103"]}
    return gpd.GeoDataFrame(data, geometry=shapes, crs="EPSG:4326")


def quoted(row: tuple) -> str:
    return "|".join(f'"{v}"' if isinstance(v, str) and v else str(v) for v in row)


def write_folder(folder: Path, tables: dict, *, header: bool = False, shapes: gpd.GeoDataFrame | None = None) -> Path:
    (folder / "tabular").mkdir(parents=True)
    (folder / "spatial").mkdir()
    (polygons() if shapes is None else shapes).to_file(folder / "spatial" / "soilmu_a_xx001.shp")
    names, columns = [], []
    for name, (head, rows) in tables.items():
        file = FILES.get(name, name)
        names.append((name, name.title(), "Label", "Text that\nruns over a line", file))
        columns += [(name, k + 1, column, column) for k, column in enumerate(head)]
        lines = (["|".join(head)] if header else []) + [quoted(row) for row in rows]
        (folder / "tabular" / f"{file}.txt").write_text("\n".join(lines) + "\n")
    if not header:
        (folder / "tabular" / "mstab.txt").write_text("\n".join(quoted(r) for r in names) + "\n")
        (folder / "tabular" / "mstabcol.txt").write_text("\n".join(quoted(r) for r in columns) + "\n")
    return folder


def read(path: Path) -> SoilSurvey:
    return read_survey(Request(layer="soils", path=path, spec=LayerSpec(path=path.name)))


def changed(**tables: object) -> dict:
    made = {**TABLES, **tables}
    return {name: table for name, table in made.items() if table is not None}


@pytest.fixture
def survey(tmp_path: Path) -> SoilSurvey:
    return read(write_folder(tmp_path / "soil_xx001", TABLES))


def test_map_units_and_their_soils(survey: SoilSurvey) -> None:
    assert sorted(survey.units) == ["101", "102", "103"] and survey.raw.doubts == ()
    unit = survey.units["101"]
    assert (unit.symbol, unit.name) == ("DuA", "Dunnock loam, 0 to 2 percent slopes")
    assert [(c.name, c.percent) for c in unit.components] == [("Dunnock", 80.0), ("Sorrel", 10.0)]
    assert unit.unnamed_pct == pytest.approx(10.0)
    first = unit.components[0].horizons[0]
    assert (first.top_cm, first.bottom_cm, first.sand_pct, first.clay_pct, first.bulk_density) == (0, 20, 40, 20, 1.35)
    assert dict(first.water) == pytest.approx({"dry": 0.14, "moist": 0.28, "wet": 0.46})
    assert unit.components[1].horizons == ()  # nothing is known of it, and nothing is made up


def test_rock_by_volume(survey: SoilSurvey) -> None:
    """Stated volumes are added up; else masses are turned into volumes (worked by hand with 2.65 and the density)."""
    none, stated = survey.units["101"].components[0].horizons
    assert (none.rock_pct, stated.rock_pct) == (0.0, 7.0)
    mass = 0.15 + 0.85 * 0.40
    ridge = survey.units["102"].components[0].horizons[1]
    assert ridge.rock_pct == pytest.approx(100 * (mass / 2.65) / (mass / 2.65 + (1 - mass) / 1.30))


def test_rock_outcrop_duff_bedrock_and_water(survey: SoilSurvey) -> None:
    ridge, outcrop = survey.units["102"].components
    assert [h.organic for h in ridge.horizons] == [True, False, False]
    assert [(r.top_cm, r.kind, r.hardness) for r in ridge.restrictions] == [(40.0, "Lithic bedrock", "stops")]
    assert [(r.top_cm, r.hardness) for r in outcrop.restrictions] == [(0.0, "stops")]
    assert not survey.units["103"].components[0].ground
    assert math.isnan(ridge.horizons[2].rock_pct)


def test_floods_are_the_years_worst_and_wetness_needs_every_month(survey: SoilSurvey) -> None:
    dunnock, ridge = survey.units["101"].components[0], survey.units["102"].components[0]
    assert (dunnock.flood_class, ridge.flood_class) == ("occasional", "none")
    assert dunnock.wet_top_cm == (60.0,) * 4 + (math.inf,) * 8
    assert ridge.wet_top_cm == ()  # December has no record
    assert survey.units["101"].components[1].flood_class is None


def test_polygons_carry_the_columns_of_plain_ones(survey: SoilSurvey) -> None:
    frame = survey.raw.frame
    assert frame["unit"].tolist() == ["101", "102", "103"] and frame["row"].tolist() == [1, 2, 3]
    assert frame["mapunit"].tolist() == ["DuA", "RiC", "W"]
    assert frame["flood_class"].iloc[0] == "occasional" and frame["flood_class"].isna().tolist() == [False, True, True]
    assert frame["depth_cm"].tolist()[:2] == [150.0, 0.0]
    assert 0.1 < frame["resistance_mpa"].iloc[0] < 8.0 and frame["rock_pct"].iloc[1] == 100.0


def test_headers_in_the_first_line_serve_too(tmp_path: Path, survey: SoilSurvey) -> None:
    made = read(write_folder(tmp_path / "other", TABLES, header=True))
    assert repr(made.units) == repr(survey.units)


def test_one_geopackage_is_the_same(tmp_path: Path, survey: SoilSurvey) -> None:
    path = tmp_path / "soil.gpkg"
    polygons().to_file(path, layer="mupolygon")
    for name, (head, rows) in TABLES.items():
        frame = pd.DataFrame([[None if v == "" else v for v in row] for row in rows], columns=list(head))
        pyogrio.write_dataframe(frame, path, layer=name)
    assert holds_survey(path)
    made = read(path)
    assert repr(made.units) == repr(survey.units)
    assert made.raw.frame.drop(columns="geometry").equals(survey.raw.frame.drop(columns="geometry"))


def test_two_survey_areas_in_one_folder(tmp_path: Path) -> None:
    write_folder(tmp_path / "all" / "one", TABLES)
    second = {
        "mapunit": (("musym", "muname", "mukey"), [("TeC", "Teasel", "201")]),
        "component": (TABLES["component"][0], [(90, "Teasel", "Series", "Yes", "201", "c9")]),
        "chorizon": (HORIZON, [("h9", "c9", *TABLES["chorizon"][1][0][2:])]),
    }
    shapes = polygons(0.1).iloc[:1].assign(MUKEY="201", MUSYM="TeC")
    write_folder(tmp_path / "all" / "two", second, shapes=shapes)
    made = read(tmp_path / "all")
    assert sorted(made.units) == ["101", "102", "103", "201"] and len(made.raw.frame) == 4
    assert made.units["201"].components[0].flood_class is None


def test_what_is_missing_is_said(tmp_path: Path) -> None:
    tables = changed(cosoilmoist=None, comonth=None, corestrictions=None, chfrags=None)
    made = read(write_folder(tmp_path / "thin", tables))
    assert [d for d in made.raw.doubts if "cosoilmoist" in d] and [d for d in made.raw.doubts if "comonth" in d]
    component = made.units["101"].components[0]
    assert component.flood_class is None and component.wet_top_cm == ()
    shapes = polygons().assign(MUKEY=["101", "102", "999"])
    made = read(write_folder(tmp_path / "lost", TABLES, shapes=shapes))
    assert any("polygons whose map unit is in no table: 1 (rows 3)" in d for d in made.raw.doubts)
    assert math.isnan(made.raw.frame["resistance_mpa"].iloc[2])


def test_odd_percentages_and_depths_are_doubted(tmp_path: Path) -> None:
    head, rows = TABLES["component"]
    over = [(90, *rows[0][1:]), (30, *rows[1][1:]), ("", *rows[2][1:]), *rows[3:]]
    horizons = [*TABLES["chorizon"][1], ("h8", "c1", "C", 140, 130, *TABLES["chorizon"][1][0][5:])]
    made = read(write_folder(tmp_path / "odd", changed(component=(head, over), chorizon=(HORIZON, horizons))))
    text = " ".join(made.raw.doubts)
    assert "the soils of map unit DuA sum to 120 %; brought down to 100 %" in text
    assert "Ridge (c3) has no percentage" in text and "horizons without usable depths: 1 (rows 6" in text
    assert sum(c.percent for c in made.units["101"].components) == pytest.approx(100.0)


def test_which_folders_are_claimed(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "soil_xx001", TABLES)
    reader = SsurgoReader()
    assert reader.claims(folder) and holds_survey(folder)
    (tmp_path / "empty").mkdir()
    polygons().to_file(tmp_path / "plain.gpkg", layer="soils")
    (tmp_path / "broken.gpkg").write_text("no database")
    for path in (tmp_path / "empty", tmp_path / "plain.gpkg", tmp_path / "broken.gpkg", tmp_path / "none.gpkg"):
        assert not reader.claims(path) and not holds_survey(path)
    raw = reader.read(Request(layer="soils", path=folder, spec=LayerSpec(path="soil_xx001")))
    assert len(raw.frame) == 3 and raw.frame.crs.to_epsg() == 4326


@pytest.mark.parametrize(
    ("tables", "words"),
    [
        (changed(chorizon=None), "soil_xx001, layer soils: the soil survey holds no table chorizon; expected the"),
        (changed(component=(("comppct_r", "compname", "mukey"), [(80, "Dunnock", "101")])),
         "field cokey: the table comp.txt has no column cokey"),
        (changed(chorizon=(HORIZON, [("h1", "c1", "A", 0, 20, "many", *[""] * 10)])),
         "row 1, field sandtotal_r: chorizon.txt holds 'many'; expected a number from 0 to 100"),
        (changed(mapunit=(TABLES["mapunit"][0], [*TABLES["mapunit"][1], ("DuA", "again", "101")])),
         "row 4, field mukey: the map unit 101 stands twice"),
        (changed(corestrictions=(TABLES["corestrictions"][0], [("Lithic bedrock", "", 40, "c3", "more")])),
         "row 1: crstrcts.txt has 5 cells in a row, and 4 columns"),
    ],
)  # fmt: skip
def test_one_sentence_for_every_bad_table(tmp_path: Path, tables: dict, words: str) -> None:
    folder = write_folder(tmp_path / "soil_xx001", tables)
    with pytest.raises(LayerError) as caught:
        read(folder)
    assert words in str(caught.value) and str(caught.value).endswith(".")


def test_no_names_of_columns_anywhere(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "soil_xx001", TABLES)
    (folder / "tabular" / "mstabcol.txt").unlink()
    with pytest.raises(LayerError, match=r"names no columns and there is no mstabcol\.txt"):
        read(folder)


def test_no_polygons_and_no_keys(tmp_path: Path) -> None:
    folder = write_folder(tmp_path / "keyless", TABLES, shapes=polygons().drop(columns="MUKEY"))
    with pytest.raises(LayerError, match="no column mukey"):
        read(folder)
    for file in (folder / "spatial").iterdir():
        file.unlink()
    with pytest.raises(LayerError, match="the folder holds no soil polygons"):
        read(folder)
    path = tmp_path / "plain.gpkg"
    polygons().to_file(path, layer="soils")
    with pytest.raises(LayerError, match="no layer mupolygon"):
        read(path)
    with pytest.raises(LayerError, match="no such file"):
        read(tmp_path / "none")
