"""The right answer of the tiny ranch is found, however the ranch is turned and whatever units its files use."""

from __future__ import annotations

import json
import math

import pytest
import tiny_ranch as tiny
from pyproj import Transformer

from boscage.cli.main import main

VARIANTS = [
    tiny.Variant(),
    tiny.Variant(degrees=33.0),
    tiny.Variant(crs="EPSG:4326"),
    tiny.Variant(degrees=33.0, crs="EPSG:4326"),
    tiny.Variant(crs="EPSG:3433", feet=True),
    tiny.Variant(degrees=33.0, crs="EPSG:3433", feet=True),
]


def local_distance(site: dict, variant: object, goal: tuple[float, float]) -> float:
    x, y = Transformer.from_crs("EPSG:4326", tiny.UTM, always_xy=True).transform(site["lon"], site["lat"])
    gx, gy = tiny.place(variant, *goal)
    return math.hypot(x - gx, y - gy)


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict]:
    found = {}
    for variant in VARIANTS:
        folder = tmp_path_factory.mktemp(variant.name)
        plan = tiny.build(folder, variant)
        assert main(["scout", str(plan), "--no-sheets"]) == 0
        found[variant.name] = json.loads((folder / "out" / "scout.json").read_text(encoding="utf-8"))
    return found


@pytest.mark.parametrize("variant", VARIANTS, ids=lambda v: v.name)
def test_the_secluded_thicket_wins(answers: dict[str, dict], variant: object) -> None:
    best = answers[variant.name]["sites"][0]
    around_m, cell_m = 30.0, 10.0
    assert local_distance(best, variant, tiny.A) + around_m <= tiny.THICKET_M + cell_m
    assert best["parcel"] == "West"
    assert best["score"] >= 85


@pytest.mark.parametrize("variant", VARIANTS, ids=lambda v: v.name)
def test_refused_land_and_setbacks_hold_no_site(answers: dict[str, dict], variant: object) -> None:
    for site in answers[variant.name]["sites"]:
        assert local_distance(site, variant, (tiny.HOUSE[0] + 90, tiny.HOUSE[1])) >= 300.0
        assert site["parcel"] == "West"


@pytest.mark.parametrize("variant", VARIANTS[1:], ids=lambda v: v.name)
def test_the_answer_does_not_depend_on_position_or_units(answers: dict[str, dict], variant: object) -> None:
    plain, turned = answers[VARIANTS[0].name], answers[variant.name]
    assert abs(plain["sites"][0]["score"] - turned["sites"][0]["score"]) <= 2
    for name in ("permission", "dwelling", "public_road", "parcel_line"):
        assert turned["stops"][name] == pytest.approx(plain["stops"][name], rel=0.01)


def test_hectares_ruled_out_are_those_of_the_construction(answers: dict[str, dict]) -> None:
    stops = answers[VARIANTS[0].name]["stops"]
    ring = 18.288 / (2 * math.pi)
    assert stops["permission"] == pytest.approx(600 * 3000 / 1e4, rel=0.002)
    assert stops["dwelling"] == pytest.approx(math.pi * (300 + ring) ** 2 / 1e4, rel=0.01)
    inset = 15.24 + ring
    assert stops["parcel_line"] == pytest.approx(
        (2400 * 3000 - (2400 - 2 * inset) * (3000 - 2 * inset)) / 1e4, rel=0.01
    )
