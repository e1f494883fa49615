"""`boscage pack` as a whole: from rigs and from standard rings, carriers of the plan, what is too heavy, what stays."""

from __future__ import annotations

import csv
import json
import math
import shutil
from pathlib import Path

import pytest
import tiny_ranch as tiny
from pypdf import PdfReader

from boscage.cli.main import main

LB = 0.45359237


@pytest.fixture(scope="module")
def ranked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("pack")
    plan = tiny.build(folder, tiny.Variant())
    assert main(["scout", str(plan), "--no-sheets"]) == 0
    return folder


@pytest.fixture
def ranch(ranked: Path, tmp_path: Path) -> Path:
    shutil.copytree(ranked, tmp_path / "ranch")
    return tmp_path / "ranch"


def packed(ranch: Path, text: str = "", *sites: str) -> dict:
    plan = ranch / "plan.toml"
    plan.write_text(plan.read_text(encoding="utf-8") + "\n" + text, encoding="utf-8")
    assert main(["pack", str(plan), *sites]) == 0
    return json.loads((ranch / "out" / "pack.json").read_text(encoding="utf-8"))


def test_everything_is_carried_once_and_no_limit_is_passed(ranch: Path) -> None:
    told = packed(ranch, "", "T-01", "T-02")
    assert told["sites"] == ["T-01", "T-02"] and told["left_behind"] == [] == told["over_limit"]
    for load in told["carriers"]:
        assert load["mass_kg"] <= load["limit_kg"] + 1e-9
    want = sum(i["count"] * i["mass_kg"] for i in told["items"])
    pieces = sum(i["count"] for i in told["items"])
    assert want <= sum(load["mass_kg"] for load in told["carriers"]) <= want + 0.001 * pieces + 1e-6
    counted = sum(int(words.split(" x ")[0]) for load in told["carriers"] for words in load["items"])
    assert counted == pieces
    limit = sum({load["carrier"]: load["limit_kg"] for load in told["carriers"]}.values())
    assert told["trips"] >= told["lower_bound_trips"] >= math.ceil(want / limit - 1e-9)
    assert told["is_fewest"] == (told["trips"] == told["lower_bound_trips"])
    assert any("standard ring" in n for n in told["notes"])


def test_the_table_and_the_sheet_say_the_same(ranch: Path) -> None:
    told = packed(ranch, "", "T-01")
    with (ranch / "out" / "pack.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert sum(int(r["count"]) for r in rows) == sum(i["count"] for i in told["items"])
    assert {r["carrier"] for r in rows} == {load["carrier"] for load in told["carriers"]}
    text = " ".join(p.extract_text() for p in PdfReader(ranch / "out" / "pack_sheet.pdf").pages)
    assert "net with its top rope" in text and f"Trip 1 of {told['trips']}" in text and "Cautions" in text
    assert "safe" not in text.lower() and "pilot's to allow" in text


def test_without_a_site_the_ones_chosen_together_are_packed_for(ranch: Path) -> None:
    chosen = json.loads((ranch / "out" / "scout.json").read_text(encoding="utf-8"))["together"]["sites"]
    assert sorted(packed(ranch)["sites"]) == sorted(chosen)


def test_gear_of_a_rig_that_is_there_is_taken(ranch: Path) -> None:
    """The mass of the net as a rig states it, and nothing of the standard ring."""
    gear = [{"item": "net with its top rope", "count": 1, "length_m": 18.0, "mass_kg": 31.0, "note": ""}]
    rig = {"feasible": True, "name": "T-01", "gear": gear}
    (ranch / "out" / "rig.json").write_text(json.dumps(rig), encoding="utf-8")
    told = packed(ranch, "[pack]\nwet = 0.0\n", "T-01")
    nets = [i for i in told["items"] if i["item"] == "net with its top rope"]
    assert [(n["count"], n["mass_kg"]) for n in nets] == [(1, 31.0)]
    assert not any("standard ring" in n for n in told["notes"]) and "stake" not in {i["item"] for i in told["items"]}


def test_a_piece_over_every_limit_is_named_and_never_split(ranch: Path) -> None:
    told = packed(
        ranch, '[pack]\ncarriers = ["mule"]\n[carriers.mule]\nkind = "back"\nparts = { "pack" = "20lb" }\n', "T-01"
    )
    heavy = {row["item"].split(" 18.29m")[0] for row in told["over_limit"]}
    assert {"net with its top rope", "bag of bait"} <= heavy
    assert all("cannot be split" in b["reason"] for b in told["left_behind"])
    assert all(load["mass_kg"] <= 20 * LB + 1e-9 for load in told["carriers"])


def test_what_was_on_a_scale_is_said(ranch: Path) -> None:
    told = packed(ranch, '[pack]\nweighed = { "bag of bait" = "51lb" }\n', "T-01")
    bags = next(i for i in told["items"] if i["item"] == "bag of bait")
    assert bags["weighed"] and bags["mass_kg"] == pytest.approx(51 * LB, abs=1e-3)
    assert told["estimated_kg"] < told["mass_kg"] - bags["count"] * 50 * LB + 0.01 * LB


@pytest.mark.parametrize(
    ("text", "words"),
    [('[pack]\ncarriers = ["truck"]\n', ("plan.toml", "carriers", "truck")),
     ('[carriers.truck]\nkind = "atv"\n[pack]\ncarriers = ["truck"]\n', ("carriers.truck.parts", "placard")),
     ('[pack]\nweighed = { "anvil" = "90lb" }\n', ("pack.weighed", "anvil")),
     ('[carriers.atv]\nwheels = 4\n', ("carriers.atv.wheels", "no such key"))],
)  # fmt: skip
def test_wrong_plans(ranch: Path, text: str, words: tuple[str, ...], capfd: pytest.CaptureFixture[str]) -> None:
    plan = ranch / "plan.toml"
    plan.write_text(plan.read_text(encoding="utf-8") + "\n" + text, encoding="utf-8")
    assert main(["pack", str(plan), "T-01"]) == 2
    said = capfd.readouterr().err
    assert all(w in said for w in words) and "Traceback" not in said
    assert not (ranch / "out" / "pack.json").exists()


def test_without_a_ranking_and_with_a_wrong_site(ranch: Path, capfd: pytest.CaptureFixture[str]) -> None:
    assert main(["pack", str(ranch / "plan.toml"), "T-99"]) == 2
    assert "there is no site T-99" in capfd.readouterr().err
    shutil.rmtree(ranch / "out")
    assert main(["pack", str(ranch / "plan.toml")]) == 2
    assert "run boscage scout first" in capfd.readouterr().err
