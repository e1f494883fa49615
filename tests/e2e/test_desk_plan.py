"""A plan made of dropped files, and a plan edited, saved and brought back after a stop."""

from __future__ import annotations

import datetime as dt
import json
import re
import shutil
import tomllib
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pytest
import shapely
import tiny_ranch as tiny

from boscage.cli.main import main
from boscage.errors import InputError, PlanError
from boscage.exports.desk_lock import PlanLock
from boscage.model.choices import Choice
from boscage.model.plan_edits import AddChoice, PlanText, SetKey, TakeOutChoice, edit_row
from boscage.model.recognised import LAYER_ADDS, Recognised
from boscage.pipeline.desk_edits import change_plan, lock_plan, open_journal, open_plan, plan_of, play_back, save_plan
from boscage.pipeline.desk_plan import missing_layers, new_plan, try_layers

SAMPLE = Path(__file__).parents[2] / "sample_data"


@pytest.fixture(scope="module")
def dropped() -> tuple[Recognised, ...]:
    return try_layers([SAMPLE, SAMPLE])


def checked(plan: Path, text: str) -> dict[str, dict]:
    """What `boscage check` says of each layer of a plan with this text; it must be content."""
    plan.write_text(text, encoding="utf-8")
    assert main(["check", str(plan)]) == 0
    held = json.loads((plan.parent / "out" / "check.json").read_text(encoding="utf-8"))
    return {layer["layer"]: layer for layer in held["layers"]}


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_sample_folder_makes_a_plan_that_passes(
    units: str, dropped: tuple[Recognised, ...], tmp_path: Path
) -> None:
    text = new_plan(tmp_path, "Dunnock Hollow", units, dropped)
    assert text == new_plan(tmp_path, "Dunnock Hollow", units, dropped)
    layers = checked(tmp_path / "plan.toml", text)
    assert {layer["state"] for layer in layers.values()} <= {"usable", "doubtful"}
    assert layers["canopy_height"]["read"].count("dm") == 1
    table = tomllib.loads(text)
    assert table["ranch"] == {"name": "Dunnock Hollow", "units": units}
    assert set(table["layers"]) == set(LAYER_ADDS)
    assert "# LEFT OUT. It is stems too, and a plan takes one" in text
    assert max(map(len, text.split("\n"))) <= 120
    assert missing_layers(dropped) == ()


def test_what_is_missing_is_listed_with_what_it_would_add(tmp_path: Path) -> None:
    found = try_layers([SAMPLE / "parcels.gpkg", SAMPLE / "canopy_cover.tif"])
    text = new_plan(tmp_path, "Small\nRanch", "us", found)
    layers = checked(tmp_path / "plan.toml", text)
    assert [n for n, layer in layers.items() if layer["state"] != "missing"] == ["parcels", "canopy_cover"]
    gaps = missing_layers(found)
    assert not any(gap.required for gap in gaps)
    plain = " ".join(text.replace("\n#  ", "").split())
    for gap in gaps:
        assert gap.adds in plain
        assert f"\n# {gap.layer.ljust(13)} = " in text


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["canopy_cover.tif"], "layer parcels: no layer parcels is among what was dropped"),
        (["parcels.gpkg"], "no layer canopy_cover (or a canopy_height) is among what was dropped"),
    ],
)
def test_without_the_two_that_are_needed_there_is_no_plan(names: list[str], said: str, tmp_path: Path) -> None:
    found = try_layers([SAMPLE / n for n in names])
    assert missing_layers(found)[0].required
    with pytest.raises(InputError) as caught:
        new_plan(tmp_path, "x", "us", found)
    assert said in str(caught.value)


def test_parcels_that_cannot_be_used_stop_it_with_their_own_sentence(tmp_path: Path) -> None:
    frame = gpd.read_file(SAMPLE / "parcels.gpkg").drop(columns="access")
    frame.to_file(tmp_path / "land.gpkg")
    found = try_layers([tmp_path / "land.gpkg", SAMPLE / "canopy_cover.tif"])
    with pytest.raises(InputError, match="there is no column access"):
        new_plan(tmp_path, "x", "us", found)


def test_a_layer_that_cannot_be_read_is_left_out_with_its_reason(tmp_path: Path) -> None:
    ways = gpd.read_file(SAMPLE / "tracks.gpkg", layer="tracks").rename(columns={"class": "highway"})
    ways["highway"] = "residential"
    ways.to_file(tmp_path / "ways.gpkg")
    found = try_layers([SAMPLE / "parcels.gpkg", SAMPLE / "canopy_cover.tif", tmp_path / "ways.gpkg"])
    text = new_plan(tmp_path, "x", "us", found)
    assert "tracks" not in checked(tmp_path / "plan.toml", text) or "tracks" not in tomllib.loads(text)["layers"]
    assert "# LEFT OUT. ways.gpkg, layer tracks, field class: there is no column class" in text
    assert '# tracks        = "ways.gpkg"' in text


def test_units_columns_and_inner_layers_are_stated(tmp_path: Path) -> None:
    plan = tiny.build(tmp_path / "data", tiny.Variant(crs="EPSG:3433", feet=True))
    plan.unlink()
    land = gpd.read_file(tmp_path / "data" / "parcels.gpkg").rename(columns={"access": "PERMIT", "owner": "OWN1"})
    (tmp_path / "data" / "parcels.gpkg").unlink()
    land.to_file(tmp_path / "data" / "land.gpkg", layer="one")
    gpd.GeoDataFrame({"n": [1]}, geometry=[shapely.Point(0, 0)], crs=land.crs).to_file(
        tmp_path / "data" / "land.gpkg", layer="two"
    )
    found = try_layers([tmp_path / "data"])
    with pytest.raises(InputError, match="there is no such folder"):
        new_plan(tmp_path / "plans", "x", "us", found)
    (tmp_path / "plans").mkdir()
    text = new_plan(tmp_path / "plans", "x", "us", found)
    table = tomllib.loads(text)["layers"]
    assert table["parcels"] == {
        "path": "../data/land.gpkg", "layer": "one", "columns": {"access": "PERMIT", "owner": "OWN1"},
    }  # fmt: skip
    assert table["canopy_height"] == {"path": "../data/canopy_height.tif", "unit": "ft"}
    assert table["canopy_cover"] == "../data/canopy_cover.tif"
    assert checked(tmp_path / "plans" / "plan.toml", text)["parcels"]["state"] != "wrong"


def test_what_lies_elsewhere_is_doubted(tmp_path: Path) -> None:
    far = gpd.read_file(SAMPLE / "dwellings.gpkg").translate(yoff=300_000.0)
    gpd.GeoDataFrame({"building": ["house"] * len(far)}, geometry=far).to_file(tmp_path / "far.gpkg")
    text = (SAMPLE / "sign.csv").read_text(encoding="utf-8")
    rows = [line.split(",") for line in text.splitlines()]
    turned = "\n".join(",".join([r[1], r[0], *r[2:]]) for r in rows[1:]).replace("-92.", "-82.")
    (tmp_path / "sign.csv").write_text("lat,lon,kind,date,note,observer\n" + turned, encoding="utf-8")
    answers = try_layers([SAMPLE / "parcels.gpkg", tmp_path / "far.gpkg", tmp_path / "sign.csv", SAMPLE / "water.gpkg"])
    doubts = {a.layer: a.doubts for a in answers}
    assert doubts["parcels"] == doubts["water"] == ()
    told = re.fullmatch(r"It lies about (\d+) km from the parcels; check its CRS, or .*", doubts["dwellings"][0])
    assert told is not None
    assert 290 <= int(told[1]) <= 300, "moved 300 km north, told from edge to edge"
    assert "km from the parcels" in doubts["sign"][0]


def test_exchanged_axes_are_seen_against_the_parcels(tmp_path: Path) -> None:
    """A ranch near the equator, where both orders are numbers that exist."""
    for name, (x, y) in {"land": (10.0, 4.0), "house": (4.0, 10.0)}.items():
        shape = shapely.box(x, y, x + 0.02, y + 0.02) if name == "land" else shapely.Point(x + 0.01, y + 0.01)
        columns = {"access": ["granted"]} if name == "land" else {"building": ["house"]}
        gpd.GeoDataFrame(columns, geometry=[shape], crs="EPSG:4326").to_file(tmp_path / f"{name}.gpkg")
    house = try_layers([tmp_path / "land.gpkg", tmp_path / "house.gpkg"])[1]
    assert house.doubts == (
        "It lies far from the parcels, and on them once x and y are exchanged; exchange them in the file.",
    )


PIN = Choice(site="DH-02", at=(-92.70, 36.2), choice="pin", date=dt.date(2026, 11, 20))
REJECT = Choice(at=(-92.69, 36.21), choice="reject", reason="too wet")


@pytest.fixture
def plan(tmp_path: Path) -> Path:
    return Path(shutil.copy(SAMPLE / "plan.toml", tmp_path / "plan.toml"))


def test_edits_are_checked_as_a_plan_is_before_anything_is_written(plan: Path) -> None:
    held = open_plan(plan)
    before = plan.read_bytes()
    for edit, said in (
        (SetKey(key=("sites", "spacing"), value=300), "sites.spacing: the length 300 has no unit"),
        (SetKey(key=("sites", "cuont"), value=3), "sites.cuont: there is no such key; did you mean count?"),
        (SetKey(key=("factors", "cover", "weight"), value=-1), "factors.cover.weight: the value is -1; expected"),
        (SetKey(key=("factors", "covr", "weight"), value=1), "factors.covr: there is no such key; did you mean cover?"),
        (AddChoice(choice=Choice(at=(0.0, 0.0), choice="pin")), ""),
        (TakeOutChoice(row=1), "choices: there is no choice 1"),
    ):
        if not said:
            assert len(plan_of(change_plan(held, [edit])).choices) == 1
            continue
        with pytest.raises(PlanError) as caught:
            change_plan(held, [SetKey(key=("sites", "count"), value=9), edit])
        assert f"plan.toml, field {said}" in str(caught.value)
    assert plan.read_bytes() == before


def test_a_window_that_is_killed_comes_back_with_its_edits(plan: Path) -> None:
    first = lock_plan(plan)
    assert isinstance(first, PlanLock)
    assert not lock_plan(plan)
    held = open_plan(plan)
    journal = open_journal(held)
    edits = [SetKey(key=("factors", "cover", "weight"), value=4.5), AddChoice(choice=PIN), AddChoice(choice=REJECT),
             SetKey(key=("ranch", "date"), value=dt.date(2026, 12, 1))]  # fmt: skip
    now = held
    for edit in edits:
        now = change_plan(now, [edit])
        journal.append(edit_row(edit))

    again = open_plan(plan)
    assert again == held, "nothing was saved yet"
    kept = open_journal(again)
    assert kept.replay.fits
    back, said = play_back(again, kept.replay.edits)
    assert said == ()
    assert back.text == now.text
    saved = save_plan(back, kept)
    assert plan.read_text(encoding="utf-8") == now.text
    assert not kept.path.exists()
    assert open_plan(plan) == saved
    assert plan_of(saved).choices == (PIN, REJECT)


def test_a_save_that_fails_keeps_every_edit(plan: Path) -> None:
    held = open_plan(plan)
    journal = open_journal(held)
    journal.append(edit_row(AddChoice(choice=PIN)))
    now = change_plan(held, [AddChoice(choice=PIN)], factors=False)
    plan.write_text(held.text + "# theirs\n", encoding="utf-8")
    with pytest.raises(InputError, match="changed by another program"):
        save_plan(now, journal)
    kept = open_journal(open_plan(plan))
    assert len(kept.replay.edits) == 1
    assert not kept.replay.fits


def test_a_stop_right_after_the_save_makes_no_edit_twice(plan: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    held = open_plan(plan)
    journal = open_journal(held)
    journal.append(edit_row(AddChoice(choice=PIN)))
    now = change_plan(held, [AddChoice(choice=PIN)], factors=False)

    def stop(*args: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(journal, "clear", stop)
    with pytest.raises(KeyboardInterrupt):
        save_plan(now, journal)
    assert plan.read_text(encoding="utf-8") == now.text
    kept = open_journal(open_plan(plan))
    assert kept.path.exists()
    assert not kept.replay


def test_edits_that_cannot_be_made_any_more_are_told_and_the_others_made(plan: Path) -> None:
    held = open_plan(plan)
    rows = [edit_row(TakeOutChoice(row=1)), {"edit": "nonsense"}, edit_row(AddChoice(choice=PIN))]
    back, said = play_back(held, rows)
    assert plan_of(back, factors=False).choices == (PIN,)
    assert [s.split(":")[0] for s in said] == [
        "Edit 1 of the journal cannot be made again", "Edit 2 of the journal cannot be made again",
    ]  # fmt: skip


@pytest.mark.parametrize("broken", [lambda t: t + "[[choices]]\n", lambda t: t.replace("[ranch]", "[ranch")])
def test_a_plan_that_is_wrong_does_not_open(plan: Path, broken: Callable[[str], str]) -> None:
    plan.write_text(broken(plan.read_text(encoding="utf-8")), encoding="utf-8")
    with pytest.raises(PlanError):
        open_plan(plan)


def test_a_new_plan_is_written_only_where_there_is_none(tmp_path: Path, dropped: tuple[Recognised, ...]) -> None:
    text = new_plan(tmp_path, "x", "us", dropped)
    made = save_plan(PlanText(file=str(tmp_path / "plan.toml"), text=text))
    assert open_plan(tmp_path / "plan.toml") == made
    with pytest.raises(InputError, match="there is a file of this name already"):
        save_plan(PlanText(file=str(tmp_path / "plan.toml"), text=text))
