"""Tables of points: separators, encodings, column names, CRS, and the row in every error."""

from __future__ import annotations

import pytest
from pyproj import Transformer

from boscage.errors import CrsError, LayerError

LON, LAT = -92.775, 36.21


def sign(folder, text: str | bytes, *, name: str = "sign.csv", spec: str = "") -> None:
    data = text if isinstance(text, bytes) else text.encode("utf-8")
    (folder.path / name).write_bytes(data)
    folder.layers["sign"] = f'{{ path = "{name}"{spec} }}'


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("s.csv", f"lon,lat,kind,date\n{LON},{LAT},rooting,2026-11-20\n"),
        ("s.csv", f"Longitude,LATITUDE, Kind ,Date\r\n{LON},{LAT},Rooting ,2026-11-20\r\n"),
        ("s.csv", f"\ufefflng,lat,kind,date\n{LON},{LAT},ROOTING,2026-11-20T17:05\n"),
        ("s.tsv", f"long\tlat\tkind\tdate\n{LON}\t{LAT}\trooting\t2026-11-20\n"),
        ("s.csv", "lon;lat;kind;date\n-92,775;36,21;rooting;2026-11-20\n"),
        ("s.txt", f'kind,date,lat,lon,note\nrooting,2026-11-20,{LAT},{LON},"fresh, deep"\n'),
        ("s.csv", f"\nlon,lat,kind,date\n{LON},{LAT},rooting,2026-11-20\n\n,,,\n"),
    ],
)
def test_the_same_point_in_many_forms(folder, name: str, text: str) -> None:
    sign(folder, text, name=name)
    layer = folder.read().vectors["sign"]
    x, y = Transformer.from_crs("EPSG:4326", "EPSG:32615", always_xy=True).transform(LON, LAT)
    assert len(layer.frame) == 1
    assert (layer.frame.geometry.x[0], layer.frame.geometry.y[0]) == pytest.approx((x, y), abs=1e-6)
    assert layer.frame["kind"].tolist() == ["rooting"] and layer.frame["age_days"].tolist() == [1.0]


def test_other_encodings(folder) -> None:
    text = f"lon,lat,kind,date,note\n{LON},{LAT},rub,2026-11-20,Fährte\n"
    for data, said in ((text.encode("cp1252"), "Windows-1252"), (text.encode("utf-16"), "UTF-16")):
        sign(folder, data)
        layer = folder.read().vectors["sign"]
        assert layer.frame["note"].tolist() == ["Fährte"] and said in layer.report.read


@pytest.mark.parametrize("header", ["x,y", "Easting,Northing", "X_m,Y_m", "utm_e,utm_n"])
def test_x_and_y_need_a_crs(folder, shapes, header: str) -> None:
    text = f"{header},kind,date\n{shapes.west + 10},{shapes.north - 20},rub,2026-11-20\n"
    sign(folder, text)
    with pytest.raises(CrsError, match=r'sign\.csv, layer sign: the columns are x and y.*crs = "EPSG:\.\.\."'):
        folder.read()
    sign(folder, text, spec=', crs = "EPSG:32615"')
    assert folder.read().vectors["sign"].frame.geometry.x.tolist() == [shapes.west + 10]


def test_a_crs_column(folder, shapes) -> None:
    text = "x,y,crs,kind,date\n{w},{n},{c},rub,2026-11-20\n{w},{n},{d},rub,2026-11-20\n"
    sign(folder, text.format(w=shapes.west, n=shapes.north, c="EPSG:32615", d="EPSG:32615"))
    assert folder.read().vectors["sign"].frame.geometry.x.tolist() == [shapes.west] * 2
    sign(folder, text.format(w=shapes.west, n=shapes.north, c="EPSG:32615", d="EPSG:26915"))
    with pytest.raises(CrsError, match="holds several systems"):
        folder.read()


def test_feet_are_brought_to_metres(folder, shapes) -> None:
    """EPSG:3433 is Arkansas North in US survey feet; the expected place is pyproj's own, taken apart."""
    to_feet = Transformer.from_crs("EPSG:32615", "EPSG:3433", always_xy=True)
    x, y = to_feet.transform(shapes.west + 500, shapes.north - 500)
    sign(folder, f"x,y,kind,date\n{x!r},{y!r},rub,2026-11-20\n", spec=', crs = "EPSG:3433"')
    place = folder.read().vectors["sign"].frame.geometry[0]
    assert (place.x, place.y) == pytest.approx((shapes.west + 500, shapes.north - 500), abs=1e-3)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "the file is empty"),
        ("kind,date\nrub,2026-11-20\n", r"there are no coordinates \(the columns are kind, date\).*map them"),
        (f"lon,lat,kind\n{LON},abc,rub\n", r"row 1, field lat: the value is 'abc'; expected a decimal number"),
        (f"lon,lat,kind\n{LON},{LAT},rub\n{LON},,rub\n", r"row 2, field lat: the cell is empty; expected both"),
        (f"lon,lat,kind\n{LON},{LAT},rub,extra\n", "row 1: the row has 4 cells and the first line names 3 columns"),
        (f"lon,lat,kind,kind\n{LON},{LAT},rub,rub\n", "the column name kind stands twice"),
        (f"lon,lat,kind\n{LON},{LAT},nest\n", r"row 1, field kind: the value is 'nest'; expected one of rooting"),
        (f"lon,lat,kind\n{LON},{LAT},\n", "row 1, field kind: the cell is empty"),
        (f"lon,lat,what\n{LON},{LAT},rub\n", r"there is no column kind \(the columns are what\).*columns = \{ kind ="),
        (f"lon,lat,kind,date\n{LON},{LAT},rub,11/20/2026\n", "row 1, field date.*expected a date such as 2026-11-21"),
        (f"lon,lat,kind,date\n\n{LON},{LAT},rub,2026-13-20\n", "row 2, field date"),
        (f"lon,lat,kind\n{LON},nan,rub\n", "row 1, field lat"),
        (b"lon,lat\x00,kind\n", "the file is no text"),
    ],
)
def test_errors_name_file_row_and_field(folder, text, said: str) -> None:
    sign(folder, text)
    with pytest.raises(LayerError, match=said) as caught:
        folder.read()
    assert str(caught.value).startswith("sign.csv, layer sign")


def test_columns_of_the_plan_win(folder) -> None:
    text = f"a,b,lon,lat,what,kind\n{LON},{LAT},1,2,rub,x\n"
    sign(folder, text, spec=', columns = { lon = "a", lat = "b", kind = "what" }')
    assert folder.read().vectors["sign"].frame["kind"].tolist() == ["rub"]
    sign(folder, text, spec=', columns = { lon = "c" }')
    with pytest.raises(LayerError, match=r"field columns\.lon: .*a column c that the file does not have; name one of"):
        folder.read()
    sign(folder, text, spec=', columns = { lon = "a", lat = "b", kind = "wht" }')
    with pytest.raises(LayerError, match=r"field columns\.kind: .*wht that the file does not have.*what"):
        folder.read()
    sign(folder, text, spec=', columns = { lon = "a", lat = "b", kinds = "what" }')
    with pytest.raises(LayerError, match="the plan maps kinds, which is no column of this layer"):
        folder.read()


def test_rows_without_place_or_date_and_future_rows_are_doubted(folder) -> None:
    rows = [f"{LON},{LAT},rub,", ",,rub,2026-11-01", f"{LON},{LAT},bed,2026-11-25", f"{LON},{LAT},bed,2026-11-21"]
    sign(folder, "lon,lat,kind,date\n" + "\n".join(rows) + "\n")
    layer = folder.read().vectors["sign"]
    said = " ".join(layer.report.doubts)
    assert "rows without a place: 1 of 4 (rows 2)" in said
    assert "points without a date: 1 (rows 1)" in said
    assert "points dated after 2026-11-21: 1 (rows 3)" in said
    assert layer.frame["row"].tolist() == [1, 3, 4]
    assert layer.frame["future"].tolist() == [False, True, False]
    assert layer.frame["age_days"].isna().tolist() == [True, False, False]
    assert layer.frame["age_days"].tolist()[1:] == [-4.0, 0.0]
    assert layer.report.date.isoformat() == "2026-11-21"


def test_swapped_columns_are_caught(folder) -> None:
    sign(folder, f"lon,lat,kind\n{LAT},{LON},rub\n")
    with pytest.raises(CrsError, match=r"axes look swapped.*exchange the two coordinates"):
        folder.read()


def test_one_swapped_row_is_caught_by_its_row(folder, shapes) -> None:
    rows = f"{shapes.west + 5},{shapes.north - 5},rub\n{shapes.north - 5},{shapes.west + 5},rub\n"
    sign(folder, "x,y,kind\n" + rows, spec=', crs = "EPSG:32615"')
    with pytest.raises(CrsError, match="row 2 lies far away, and at the ranch once x and y are exchanged"):
        folder.read()


def test_lon_lat_columns_with_a_metric_crs_contradict(folder) -> None:
    sign(folder, f"lon,lat,kind\n{LON},{LAT},rub\n", spec=', crs = "EPSG:32615"')
    with pytest.raises(CrsError, match="the columns are lon and lat, but the CRS EPSG:32615 counts in metres or feet"):
        folder.read()
