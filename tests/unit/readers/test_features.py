"""What each vector layer must hold, rule by rule."""

from __future__ import annotations

import pytest

from boscage.errors import LayerError


def parcels_of(folder):
    return folder.read().vectors["parcels"]


def test_access_words_whatever_their_case(folder) -> None:
    folder.parcels(access=[" Granted", "REFUSED "])
    layer = parcels_of(folder)
    assert layer.frame["access"].tolist() == ["granted", "refused"]
    assert layer.report.read == "2 polygons; 1 granted, 1 refused"
    assert layer.report.state == "usable"


@pytest.mark.parametrize("blank", [None, "", "  "])
def test_blank_access_is_unknown_and_doubted(folder, blank) -> None:
    folder.parcels(access=["granted", blank])
    layer = parcels_of(folder)
    assert layer.frame["access"].tolist() == ["granted", "unknown"]
    assert "parcels without an access word: 1 (rows 2)" in layer.report.doubts[0]


def test_any_other_access_word_is_an_error(folder) -> None:
    folder.parcels(access=["granted", "maybe"])
    said = r"parcels\.gpkg, layer parcels, row 2, field access: the value is 'maybe'; expected granted, refused or"
    with pytest.raises(LayerError, match=said):
        folder.read()


def test_missing_access_says_how_to_map(folder, shapes) -> None:
    folder.vector("parcels.gpkg", [shapes.square(0, 0, 900)], perm=["granted"])
    with pytest.raises(LayerError, match=r"no column access \(the columns are perm\).*columns = \{ access ="):
        folder.read()
    folder.layers["parcels"] = '{ path = "parcels.gpkg", columns = { access = "perm" } }'
    layer = parcels_of(folder)
    assert layer.frame["access"].tolist() == ["granted"]
    assert layer.frame["parcel"].tolist() == ["P1"] and layer.frame["owner"].tolist() == [""]
    assert "the parcels are called P1" in layer.report.doubts[0]


def test_parcel_synonyms_are_said(folder, shapes) -> None:
    folder.vector("parcels.gpkg", [shapes.square(0, 0, 900)], ACCESS=["granted"], APN=[17], **{"Land Owner": ["x"]})
    layer = parcels_of(folder)
    assert layer.frame["parcel"].tolist() == ["17"] and layer.frame["owner"].tolist() == ["x"]
    assert "column APN taken as parcel" in layer.report.read and "Land Owner taken as owner" in layer.report.read


def test_overlap_with_different_access_is_doubted_with_its_area(folder, shapes) -> None:
    folder.parcels(shapes=[shapes.square(0, 0, 1000), shapes.square(900, 0, 1000)])
    # 100 m x 1000 m = 10 ha
    assert "P-1 (granted) and P-2 (refused) by 10.00 ha" in " ".join(parcels_of(folder).report.doubts)


def test_tiny_and_huge_ranches_are_doubted(folder, shapes) -> None:
    folder.parcels(shapes=[shapes.square(0, 0, 50), shapes.square(50, 0, 50)])
    assert "only 0.50 ha" in " ".join(parcels_of(folder).report.doubts)
    folder.parcels(shapes=[shapes.square(0, 0, 50_000), shapes.square(50_000, 0, 50)])
    assert "have 250,000 ha" in " ".join(parcels_of(folder).report.doubts)


def test_no_parcel_at_all_is_an_error(folder, shapes) -> None:
    import geopandas as gpd

    gpd.GeoDataFrame({"access": []}, geometry=[], crs=shapes.crs).to_file(folder.path / "parcels.gpkg")
    with pytest.raises(LayerError, match="the layer holds no parcel"):
        folder.read()


def tracks(folder, shapes, **columns):
    count = len(next(iter(columns.values()), [0]))
    folder.vector("t.gpkg", [shapes.line((0, i), (100, i)) for i in range(count)], **columns)
    folder.layers["tracks"] = '"t.gpkg"'


def test_track_classes_and_public(folder, shapes) -> None:
    words = ["yes", "0", "T", "No", None, None]
    tracks(folder, shapes, **{"class": ["Road", "road", "track", "TRAIL", "road", "track"], "public": words})
    layer = folder.read().vectors["tracks"]
    assert layer.frame["class"].tolist() == ["road", "road", "track", "trail", "road", "track"]
    assert layer.frame["public"].tolist() == [True, False, True, False, True, False]
    assert "whether they are public: 1" in layer.report.doubts[0]


@pytest.mark.parametrize("given", [[True, False], [1, 0], [1.0, 0.0]])
def test_public_as_the_driver_gives_it(folder, shapes, given) -> None:
    tracks(folder, shapes, **{"class": ["road", "road"], "public": given})
    layer = folder.read().vectors["tracks"]
    assert layer.frame["public"].tolist() == [True, False] and layer.report.state == "usable"


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"class": ["track", "highway"]}, "row 2, field class: the value is 'highway'; expected road, track or trail"),
        ({"class": ["track", ""]}, "row 2, field class: the cell is empty"),
        ({"kind": ["track"]}, r"no column class \(the columns are kind\).*columns = \{ class ="),
        ({"class": ["road"], "public": ["perhaps"]}, "row 1, field public: the value is 'perhaps'"),
    ],
)
def test_track_errors(folder, shapes, columns, said: str) -> None:
    tracks(folder, shapes, **columns)
    with pytest.raises(LayerError, match=said):
        folder.read()


def test_dwellings_as_points_or_footprints(folder, shapes) -> None:
    folder.vector("d.gpkg", [shapes.point(5, 5), shapes.square(10, 10, 8)], name=["house 1", None])
    folder.layers["dwellings"] = '"d.gpkg"'
    layer = folder.read().vectors["dwellings"]
    assert layer.report.read == "1 point and 1 polygon" and layer.frame["name"].tolist() == ["house 1", ""]


def test_power_line_points_are_doubted(folder, shapes) -> None:
    folder.vector("p.gpkg", [shapes.point(5, 5), shapes.line((0, 0), (9, 9))], source=["a walk", "a walk"])
    folder.layers["power_lines"] = '"p.gpkg"'
    report = folder.read().vectors["power_lines"].report
    assert "single points instead of lines: 1" in report.doubts[0] and report.source == "a walk"


def no_go(folder, shapes, start, end):
    count = len(start)
    columns = {"reason": ["cattle"] * count, "from": start, "until": end}
    folder.vector("n.gpkg", [shapes.square(10 * i, 0, 9) for i in range(count)], **columns)
    folder.layers["no_go"] = '"n.gpkg"'


def test_no_go_dates_are_normalised(folder, shapes) -> None:
    start = ["2026-10-01", "11-1", None, "2026-10-01T00:00:00", ""]
    end = ["2026-12-15", "02-15", None, "", "2027-1-5"]
    no_go(folder, shapes, start, end)
    frame = folder.read().vectors["no_go"].frame
    assert frame["from_date"].tolist() == ["2026-10-01", "11-01", "", "2026-10-01", ""]
    assert frame["until_date"].tolist() == ["2026-12-15", "02-15", "", "", "2027-01-05"]


def test_no_go_dates_of_a_date_column(folder, shapes) -> None:
    import datetime as dt

    no_go(folder, shapes, [dt.date(2026, 10, 1)], [dt.date(2026, 12, 15)])
    frame = folder.read().vectors["no_go"].frame
    assert (frame["from_date"][0], frame["until_date"][0]) == ("2026-10-01", "2026-12-15")


@pytest.mark.parametrize(
    ("start", "end", "said"),
    [
        (["2026-10-01", "10/01/2026"], ["", ""], "row 2, field from: the value is '10/01/2026'; expected a date such"),
        (["2026-10-01"], ["2026-02-30"], "row 1, field until: the value is '2026-02-30'"),
        (["2026-10-01"], ["2026-09-30"], "row 1, field until: until 2026-09-30 lies before from 2026-10-01"),
        (["10-01"], ["2026-12-01"], "from is 10-01 and until is 2026-12-01; expected MM-DD in both"),
        (["10-01"], [""], "from is 10-01 and until is empty"),
    ],
)
def test_no_go_date_errors(folder, shapes, start, end, said: str) -> None:
    no_go(folder, shapes, start, end)
    with pytest.raises(LayerError, match=said):
        folder.read()


def soils(folder, shapes, **columns):
    count = len(next(iter(columns.values())))
    folder.vector("s.gpkg", [shapes.square(1000 * i, 0, 1000) for i in range(count)], **columns)
    folder.layers["soils"] = '"s.gpkg"'


def test_soil_columns_numbers_and_coverage(folder, shapes) -> None:
    soils(folder, shapes, SAND_PCT=["40", "12.5"], Flood_Class=["Very Frequent", "none"], depth_in=[20.0, None])
    layer = folder.read().vectors["soils"]
    assert layer.frame["sand_pct"].tolist() == [40.0, 12.5]
    assert layer.frame["flood_class"].tolist() == ["very frequent", "none"]
    assert layer.frame["depth_cm"][0] == pytest.approx(50.8)  # 20 x 2.54 cm, exact by definition of the inch
    assert layer.frame["depth_cm"].isna().tolist() == [False, True]
    assert layer.report.coverage == pytest.approx(1.0)
    soils(folder, shapes, texture=["loam"])
    layer = folder.read().vectors["soils"]
    assert layer.report.coverage == pytest.approx(0.5) and layer.report.state == "usable"


def test_unknown_flood_words_are_no_data(folder, shapes) -> None:
    soils(folder, shapes, flood_class=["sometimes", "rare"])
    layer = folder.read().vectors["soils"]
    assert layer.frame["flood_class"].isna().tolist() == [True, False]
    assert "'sometimes' in row 1" in layer.report.doubts[0]


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"sand_pct": ["40", "lots"]}, "row 2, field sand_pct: the value is 'lots'; expected a number from 0 to 100"),
        ({"rock_pct": [140.0]}, "row 1, field rock_pct: the value is '140'"),
        ({"bulk_density": [-9999.0]}, "row 1, field bulk_density"),
    ],
)
def test_soil_errors(folder, shapes, columns, said: str) -> None:
    soils(folder, shapes, **columns)
    with pytest.raises(LayerError, match=said):
        folder.read()


def test_soils_that_say_nothing_are_doubted(folder, shapes) -> None:
    soils(folder, shapes, other=["x"])
    assert "none of the columns" in folder.read().vectors["soils"].report.doubts[0]


def test_a_folder_that_holds_no_soil_survey_is_refused_plainly(folder) -> None:
    (folder.path / "survey" / "spatial").mkdir(parents=True)
    folder.layers["soils"] = '"survey"'
    with pytest.raises(LayerError, match="survey, layer soils: no reader opens this folder as vector data"):
        folder.read()


def test_a_layer_elsewhere_is_missing_and_said(folder, shapes) -> None:
    folder.vector("d.gpkg", [shapes.point(-60_000, 0)], name=["far"])
    folder.layers["dwellings"] = '"d.gpkg"'
    found = folder.read()
    report = next(r for r in found.reports if r.name == "dwellings")
    assert report.state == "missing" and "does not overlap the ranch" in report.doubts[0]
    assert "dwellings" not in found.vectors


def test_multipoints_of_sign_become_points(folder, shapes) -> None:
    import shapely

    many = shapely.MultiPoint([shapes.point(5, 5), shapes.point(9, 9)])
    folder.vector("s.gpkg", [many, shapes.point(20, 20)], kind=["rub", "bed"], date=["2026-11-20", "2026-11-19"])
    folder.layers["sign"] = '"s.gpkg"'
    frame = folder.read().vectors["sign"].frame
    assert frame["row"].tolist() == [1, 1, 2] and frame["age_days"].tolist() == [1.0, 1.0, 2.0]
    assert frame.geometry.x.tolist() == [shapes.west + 5, shapes.west + 9, shapes.west + 20]
