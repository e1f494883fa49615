"""`boscage rig` as a whole: from a stem list in each of its forms, and from a plan's sites."""

from __future__ import annotations

import itertools
import json
import math
from pathlib import Path

import numpy as np
import pyogrio
import pytest

from boscage.cli.main import main

SAMPLE = Path(__file__).resolve().parents[2] / "sample_data"
PERIMETER_M = 18.288
FILES = {"rig.json", "rig.gpkg", "rig_sheet.pdf"}


def rig(folder: Path, text: str, *words: str) -> tuple[int, dict]:
    folder.mkdir(exist_ok=True)
    (folder / "stems.csv").write_text(text, encoding="utf-8")
    status = main(["rig", "--stems", str(folder / "stems.csv"), "--perimeter", "60ft", *words])
    path = folder / "out" / "rig.json"
    return status, json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}


def hexagon(radius: float = 2.9, turn: float = 0.0) -> list[tuple[float, float]]:
    return [(radius * math.cos(a + turn), radius * math.sin(a + turn)) for a in np.arange(6) * math.pi / 3]


def grid_list(points: list[tuple[float, float]], dbh_cm: float = 0.0) -> str:
    return "stem,x_m,y_m,dbh_cm\n" + "".join(f"{n},{x:.6f},{y:.6f},{dbh_cm}\n" for n, (x, y) in enumerate(points, 1))


def check_ring(told: dict, reach: float) -> None:
    """The promises of the ring that can be read off the output alone."""
    corners = np.array([(c["x_m"], c["y_m"]) for c in told["contacts"]])
    trunks = np.array([(c["stem_x_m"], c["stem_y_m"]) for c in told["contacts"]])
    step = np.roll(corners, -1, axis=0) - corners
    after = np.roll(step, -1, axis=0)
    assert (step[:, 0] * after[:, 1] - step[:, 1] * after[:, 0] > 0).all()
    length = np.hypot(*step.T)
    area = 0.5 * np.sum(corners[:, 0] * np.roll(corners[:, 1], -1) - corners[:, 1] * np.roll(corners[:, 0], -1))
    assert told["perimeter_m"] == pytest.approx(length.sum(), abs=1e-5)
    assert 0.9 * PERIMETER_M - 1e-6 <= length.sum() <= PERIMETER_M + 1e-6
    assert told["roundness"] == pytest.approx(4 * math.pi * area / length.sum() ** 2, abs=1e-6)
    built = sum(max(0, math.ceil(s / (PERIMETER_M / 10) - 1e-6) - 1) for s in length)
    assert told["built_supports"] == built == len(told["supports"])
    assert told["score"] == pytest.approx(100 * (told["roundness"] - 0.03 * built), abs=1e-5)
    assert told["finished_roundness"] >= told["roundness"] - 1e-9
    assert told["finished_perimeter_m"] <= PERIMETER_M + 1e-6
    off = np.hypot(*(trunks - corners).T) - np.array([c["dbh_m"] / 2 for c in told["contacts"]])
    assert (off <= reach + 1e-5).all()
    assert (off >= -1e-5).all()
    assert len({c["stem"] for c in told["contacts"]}) == len(told["contacts"]) >= 5


def test_a_hexagon_of_points(tmp_path: Path) -> None:
    status, told = rig(tmp_path, grid_list(hexagon()), "--reach", "0m", "--min-dbh", "0m")
    assert status == 0
    assert {p.name for p in (tmp_path / "out").iterdir() if p.is_file()} == FILES
    check_ring(told, 0.0)
    assert told["roundness"] == pytest.approx(math.pi / 6 / math.tan(math.pi / 6), abs=1e-6)
    assert told["score"] == pytest.approx(100 * (told["roundness"] - 0.18), abs=1e-5)
    layers = {name for name, _ in pyogrio.list_layers(tmp_path / "out" / "rig.gpkg")}
    assert layers == {"rings", "contacts", "supports", "stakes", "ties", "stems"}
    assert len(told["stakes"]) >= 5


def test_the_three_ways_of_giving_a_place_agree(tmp_path: Path) -> None:
    """The same wood by grid and by tape and compass, in metres and feet, with a declination of 5 degrees."""
    rng = np.random.default_rng(3)
    points = [*hexagon(2.8, 0.2), *[tuple(p) for p in rng.uniform(-7, 7, (5, 2))]]
    taped = [((math.degrees(math.atan2(x, y)) - 5.0) % 360, math.hypot(x, y)) for x, y in points]
    metres = "stem,dbh_cm,bearing_deg,distance_m\n" + "".join(
        f"{n},30,{b:.8f},{d:.8f}\n" for n, (b, d) in enumerate(taped, 1)
    )
    feet = "stem,dbh_in,bearing_deg,distance_ft\n" + "".join(
        f"{n},{30 / 2.54:.8f},{b:.8f},{d / 0.3048:.8f}\n" for n, (b, d) in enumerate(taped, 1)
    )
    _, by_grid = rig(tmp_path / "grid", grid_list(points, 30.0))
    _, by_metres = rig(tmp_path / "m", metres, "--declination", "5")
    _, by_feet = rig(tmp_path / "ft", feet, "--declination", "5")
    for told in (by_grid, by_metres, by_feet):
        check_ring(told, 0.6)
        assert told["score"] == pytest.approx(by_grid["score"], abs=1e-3)
        assert {c["stem"] for c in told["contacts"]} == {c["stem"] for c in by_grid["contacts"]}
    for contact in by_metres["contacts"]:
        bearing, distance = taped[int(contact["stem"]) - 1]
        assert contact["bearing_deg"] == pytest.approx(bearing, abs=0.01)
        assert contact["distance_m"] == pytest.approx(distance, abs=0.001)


def test_only_sound_thick_trees_hold(tmp_path: Path) -> None:
    kinds = itertools.cycle(["tree"])
    rows = [f"{n},{x:.4f},{y:.4f},30,{k}" for n, ((x, y), k) in enumerate(zip(hexagon(), kinds, strict=False), 1)]
    text = "stem,x_m,y_m,dbh_cm,kind\n" + "\n".join(rows) + "\n"
    assert rig(tmp_path / "all", text)[0] == 0
    for word in ("dead", "leaning", "sapling"):
        spoiled = text.replace("30,tree", f"30,{word}", 2)
        status, told = rig(tmp_path / word, spoiled)
        assert status == 3
        assert told["feasible"] is False
    thin = text.replace(",30,", ",8,")
    assert rig(tmp_path / "thin", thin)[0] == 3
    assert rig(tmp_path / "thin", thin, "--min-dbh", "3in")[0] == 0


def test_no_ring_gives_status_three_and_the_nearest_miss(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    status, told = rig(tmp_path, grid_list(hexagon(9.0), 30.0))
    assert status == 3
    assert told["feasible"] is False
    assert told["nearest_miss"]
    assert told["nearest_miss"] in " ".join(capfd.readouterr().err.split())


def test_posts_stand_in_where_the_ground_takes_them(tmp_path: Path) -> None:
    text = grid_list(hexagon()[:3], 30.0)
    assert rig(tmp_path / "no", text)[0] == 3
    status, told = rig(tmp_path / "yes", text, "--posts")
    assert status == 0
    assert told["support"] == "hybrid"
    assert told["trees_only"]["feasible"] is False
    none = "stem,x_m,y_m,dbh_cm,kind\n1,0,0,30,dead\n"
    status, told = rig(tmp_path / "none", none, "--posts")
    assert (status, told["support"]) == (0, "posts")


@pytest.mark.parametrize(
    "words, said",
    [
        (["--perimeter", "60"], "no unit"),
        (["--perimeter", "60ft", "--gather", "2"], "gather"),
        (["--perimeter", "60ft", "--reach", "-1m"], "reach"),
        (["--perimeter", "60ft", "--contacts", "2"], "contacts"),
        ([], "--perimeter"),
    ],
)
def test_wrong_options(tmp_path: Path, words: list[str], said: str, capfd: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "stems.csv").write_text(grid_list(hexagon(), 30.0), encoding="utf-8")
    assert main(["rig", "--stems", str(tmp_path / "stems.csv"), *words]) == 2
    error = capfd.readouterr().err
    assert said in error
    assert "Traceback" not in error
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("name", ["stems_creek.csv", "stems_bench.csv"])
def test_the_sample_lists(tmp_path: Path, name: str) -> None:
    words = ["--perimeter", "60ft", "--declination", "-0.6", "--out", str(tmp_path)]
    assert main(["rig", "--stems", str(SAMPLE / name), *words]) == 0
    told = json.loads((tmp_path / "rig.json").read_text(encoding="utf-8"))
    check_ring(told, 0.6)
    assert told["score"] >= told["best_at_bark"] - 1e-9
    first = {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.is_file()}
    assert main(["rig", "--stems", str(SAMPLE / name), *words]) == 0
    assert {p.name: p.read_bytes() for p in tmp_path.iterdir() if p.is_file()} == first
