"""Gates and fences: their words, what is doubted, what is refused, and gate codes that never come through.

The words for kinds and states, and that a blank kind counts as inner, are common practice, no source.
"""

from __future__ import annotations

import pytest
import shapely

from boscage.errors import InputError, LayerError

CODE = "7719"


def gates(folder, shapes, *, plan: str = "", **columns):
    """Write gates in a row and name them in the plan."""
    count = len(next(iter(columns.values()), [0]))
    folder.vector("g.gpkg", [shapes.point(100 * i, 500) for i in range(count)], **columns)
    folder.layers["gates"] = f'{{ path = "g.gpkg"{plan} }}'


def read_gates(folder):
    return folder.read().vectors["gates"]


def everything(layer) -> str:
    """All that a layer holds and says, as one text."""
    return layer.frame.to_string() + repr(layer.report)


def test_kinds_and_states_whatever_their_case(folder, shapes) -> None:
    gates(
        folder, shapes, name=["main gate", None, "creek gate"], KIND=["Entry", " inner", None],
        State=["LOCKED", None, "open"], note=["leave as found", None, " "],
    )  # fmt: skip
    layer = read_gates(folder)
    assert layer.frame["name"].tolist() == ["main gate", "", "creek gate"]
    assert layer.frame["kind"].tolist() == ["entry", "inner", ""]
    assert layer.frame["state"].tolist() == ["locked", "", "open"]
    assert layer.frame["note"].tolist() == ["leave as found", "", ""]
    assert layer.report.state == "usable"
    said = "3 points; 1 entry, 1 inner, 1 of no kind; 1 locked (main gate); 1 of unknown state"
    assert layer.report.read == said


def test_no_column_is_needed(folder, shapes) -> None:
    gates(folder, shapes, height_m=[1.2, 1.3])
    layer = read_gates(folder)
    assert set(layer.frame.columns) == {"name", "kind", "state", "note", "row", "geometry"}
    assert layer.frame[["name", "kind", "state", "note"]].to_numpy().tolist() == [[""] * 4] * 2
    assert layer.report.state == "doubtful"
    assert "no gate is of the kind entry" in layer.report.doubts[0]
    assert "gates without a kind: 2 (rows 1, 2); they count as inner" in layer.report.doubts[1]


def test_blank_kinds_are_doubted_only_where_no_gate_is_an_entry(folder, shapes) -> None:
    gates(folder, shapes, kind=["inner", "inner"])
    doubts = read_gates(folder).report.doubts
    assert len(doubts) == 1 and "not known where driving in starts" in doubts[0]
    gates(folder, shapes, kind=["inner", ""])
    assert "without a kind: 1 (rows 2)" in read_gates(folder).report.doubts[1]
    gates(folder, shapes, kind=["entry", ""])
    assert read_gates(folder).report.doubts == ()


def test_a_locked_gate_without_a_name_is_called_by_its_row(folder, shapes) -> None:
    gates(folder, shapes, kind=["entry", "inner"], state=["open", "locked"])
    assert "1 locked (row 2)" in read_gates(folder).report.read


@pytest.mark.parametrize(
    ("columns", "said"),
    [
        ({"kind": ["entry", "main"]}, r"g\.gpkg, layer gates, row 2, field kind: the value is 'main'; expected entry"),
        ({"state": ["ajar"]}, r"row 1, field state: the value is 'ajar'; expected open, closed or locked, or an empty"),
        ({"state": ["AR"]}, "rename the column if it holds something else"),
    ],
)
def test_gate_errors(folder, shapes, columns, said: str) -> None:
    gates(folder, shapes, **columns)
    with pytest.raises(LayerError, match=said):
        folder.read()


@pytest.mark.parametrize("column", ["code", "Gate_Code", "combination", "lock", "PIN", "keypad", "remarks"])
def test_a_column_of_codes_is_not_kept(folder, shapes, column: str) -> None:
    gates(folder, shapes, name=["main gate"], kind=["entry"], **{column: [CODE]})
    layer = read_gates(folder)
    assert CODE not in everything(layer)
    assert layer.report.state == "usable"


@pytest.mark.parametrize(
    "note", [f"code {CODE}", f"Combination: {CODE[:2]}-{CODE[2:]}", f"PIN {CODE}", CODE, f"# {CODE}", f"{CODE}* keypad"]
)
def test_a_note_that_looks_like_a_code_is_left_out_and_said(folder, shapes, note: str) -> None:
    gates(folder, shapes, name=["main gate", "ridge gate"], kind=["entry", "inner"], note=["wired back", note])
    layer = read_gates(folder)
    assert layer.frame["note"].tolist() == ["wired back", ""]
    assert "what looks like a gate code in note: 1 (rows 2); left out" in layer.report.doubts[0]
    text = everything(layer)
    assert CODE not in text and f"{CODE[:2]}-{CODE[2:]}" not in text


def test_a_name_that_holds_a_code_is_left_out_and_others_stay(folder, shapes) -> None:
    gates(folder, shapes, name=[f"main gate (code {CODE})", "Pin Oak gate 2", "gate 14", "1042"], kind=["entry"] * 4)
    layer = read_gates(folder)
    assert layer.frame["name"].tolist() == ["", "Pin Oak gate 2", "gate 14", "1042"]
    assert CODE not in everything(layer)


def test_notes_with_numbers_that_are_no_code_stay(folder, shapes) -> None:
    notes = ["14 ft wide", "ask the manager for the combination", "chain on post 3", "12"]
    gates(folder, shapes, kind=["entry"] * 4, note=notes)
    layer = read_gates(folder)
    assert layer.frame["note"].tolist() == notes and layer.report.doubts == ()


def test_an_error_does_not_print_a_code(folder, shapes) -> None:
    gates(folder, shapes, state=[f"locked {CODE}"])
    with pytest.raises(LayerError, match="the value is 'locked ####'") as caught:
        folder.read()
    assert CODE not in str(caught.value)


@pytest.mark.parametrize("theirs", ["GATE_CODE", "combo", "Pin"])
def test_the_plan_cannot_ask_for_a_column_of_codes(folder, shapes, theirs: str) -> None:
    gates(folder, shapes, plan=f', columns = {{ note = "{theirs}" }}', **{theirs: [CODE]})
    said = rf"field columns\.note: the plan takes note from the column {theirs}, and gate codes are never read"
    with pytest.raises(LayerError, match=said) as caught:
        folder.read()
    assert CODE not in str(caught.value)


def test_gates_are_points(folder, shapes) -> None:
    folder.vector("g.gpkg", [shapes.line((0, 0), (50, 0))], kind=["entry"])
    folder.layers["gates"] = '"g.gpkg"'
    with pytest.raises(LayerError, match=r"layer gates, row 1: the layer holds 1 of the kind line; expected points"):
        folder.read()


def test_fences_are_lines(folder, shapes) -> None:
    folder.vector("f.gpkg", [shapes.line((0, 0), (50, 0)), shapes.square(0, 0, 90)], name=["a", "b"])
    folder.layers["fences"] = '"f.gpkg"'
    with pytest.raises(LayerError, match=r"layer fences, row 2: the layer holds 1 of the kind polygon; expected lines"):
        folder.read()


def test_fences_keep_their_words(folder, shapes) -> None:
    lines = [shapes.line((0, 0), (900, 0)), shapes.line((900, 0), (900, 900))]
    folder.vector("f.gpkg", lines, fence_name=["north", None], kind=["5 wires", None])
    folder.layers["fences"] = '"f.gpkg"'
    layer = folder.read().vectors["fences"]
    assert layer.frame[["name", "kind", "note"]].to_numpy().tolist() == [["north", "5 wires", ""], ["", "", ""]]
    assert layer.report.state == "usable" and layer.report.read.startswith("2 lines; column fence_name taken as name")


def test_absent_and_far_layers_are_missing(folder, shapes) -> None:
    assert {"gates", "fences"} <= set(folder.read().missing())
    folder.vector("f.gpkg", [shapes.line((90_000, 0), (91_000, 0))])
    folder.layers["fences"] = '"f.gpkg"'
    found = folder.read()
    assert "fences" in found.missing() and "fences" not in found.vectors


def test_gates_from_a_table_in_degrees(folder, shapes) -> None:
    """WGS 84 / UTM 15 N: the grid's place is that of pyproj."""
    from pyproj import Transformer

    place = shapes.point(300, 400)
    lon, lat = Transformer.from_crs(shapes.crs, "EPSG:4326", always_xy=True).transform(place.x, place.y)
    path = folder.path / "gates.csv"
    path.write_text(f"lon,lat,name,kind,code\n{lon:.9f},{lat:.9f},main gate,entry,{CODE}\n", encoding="utf-8")
    folder.layers["gates"] = '"gates.csv"'
    layer = read_gates(folder)
    assert shapely.distance(layer.frame.geometry.iloc[0], place) < 0.01
    assert CODE not in everything(layer)
    path.write_text(f"lon,lat,kind\n{lat:.9f},{lon:.9f},entry\n", encoding="utf-8")
    with pytest.raises(InputError, match="swapped"):
        folder.read()


def test_gpx_waypoints_are_gates_and_gpx_tracks_are_fences(folder, shapes) -> None:
    path = folder.path / "ride.gpx"
    path.write_text(
        '<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">'
        f'<wpt lat="36.21" lon="-92.775"><name>main gate</name><desc>code {CODE}</desc></wpt>'
        '<trk><name>north</name><trkseg><trkpt lat="36.21" lon="-92.775"/><trkpt lat="36.211" lon="-92.774"/>'
        "</trkseg></trk></gpx>",
        encoding="utf-8",
    )
    folder.layers |= {"gates": '"ride.gpx"', "fences": '"ride.gpx"'}
    found = folder.read()
    assert found.vectors["gates"].frame["name"].tolist() == ["main gate"]
    assert CODE not in everything(found.vectors["gates"])
    assert found.vectors["fences"].frame["name"].tolist() == ["north"]
