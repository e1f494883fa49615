"""Places chosen by hand, on the tiny ranch: what `boscage scout` ranks, and what it says of each choice."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest
import tiny_ranch as tiny
from pypdf import PdfReader
from pyproj import Transformer

from boscage.cli.main import main

PLAIN = tiny.Variant()
SPACING = 200.0
GOOD, WEAK = (1750.0, 1900.0), (1500.0, 2500.0)


def lonlat(u: float, v: float) -> tuple[float, float]:
    lon, lat = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True).transform(*tiny.place(PLAIN, u, v))
    return round(lon, 7), round(lat, 7)


def row(choice: str, u: float, v: float, **more: str) -> str:
    lon, lat = lonlat(u, v)
    text = "".join(f'{key} = "{value}"\n' for key, value in more.items())
    return f'\n[[choices]]\nat = [{lon}, {lat}]\nchoice = "{choice}"\ndate = 2026-11-20\n{text}'


def run(plan: Path, rows: str, base: str, *options: str, status: int = 0) -> dict:
    plan.write_text(base + rows, encoding="utf-8")
    assert main(["scout", str(plan), *options]) == status
    return json.loads((plan.parent / "out" / "scout.json").read_text(encoding="utf-8"))


def away(site: dict, u: float, v: float) -> float:
    x, y = tiny.place(PLAIN, u, v)
    return math.hypot(site["x_m"] - x, site["y_m"] - y)


@pytest.fixture(scope="module")
def ranch(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str, dict]:
    plan = tiny.build(tmp_path_factory.mktemp("choices"), PLAIN)
    base = plan.read_text(encoding="utf-8")
    return plan, base, run(plan, "", base, "--no-sheets")


def test_without_choices_nothing_is_said_of_any(ranch: tuple[Path, str, dict]) -> None:
    assert ranch[2]["choices"] == []
    assert away(ranch[2]["sites"][0], *tiny.A) < tiny.THICKET_M


def test_every_site_pinned_where_it_stands_keeps_rank_and_score(ranch: tuple[Path, str, dict]) -> None:
    plan, base, free = ranch
    frame = Transformer.from_crs(tiny.UTM, "EPSG:4326", always_xy=True)
    rows = ""
    for site in free["sites"]:
        lon, lat = frame.transform(site["x_m"], site["y_m"])
        rows += f'\n[[choices]]\nsite = "{site["site"]}"\nat = [{lon:.7f}, {lat:.7f}]\nchoice = "pin"\n'
    pinned = run(plan, rows, base, "--no-sheets")
    told = [(s["site"], s["score"], s["points"], s["parcel"]) for s in pinned["sites"]]
    assert told == [(s["site"], s["score"], s["points"], s["parcel"]) for s in free["sites"]]
    assert [c["state"] for c in pinned["choices"]] == ["ranked"] * len(free["sites"])


def test_pinned_added_rejected_and_ruled_out(ranch: tuple[Path, str, dict]) -> None:
    plan, base, free = ranch
    best = free["sites"][0]
    u, v = best["x_m"] - tiny.ORIGIN[0], best["y_m"] - tiny.ORIGIN[1]
    made = run(
        plan,
        row("reject", u, v, reason="dogs next door", site=best["site"])
        + row("add", *WEAK, site="Old corral", reason="the manager asks for it")
        + row("pin", *GOOD)
        + row("pin", u + 60.0, v, site="Too near")
        + row("add", *tiny.HOUSE, site="By the house")
        + row("pin", *tiny.REFUSED, site="Next door")
        + row("pin", 9000.0, 0.0, site="Far off"),
        base,
        "--no-sheets",
    )
    by_name = {c["name"]: c for c in made["choices"]}
    assert [c["row"] for c in made["choices"]] == list(range(1, 8))
    assert [c["state"] for c in made["choices"]] == ["rejected", "ranked", "ranked", *["ruled out"] * 4]
    assert by_name["By the house"]["stops"] == ["dwelling"]
    assert by_name["Next door"]["stops"] == ["permission"]
    assert by_name["Too near"]["stops"] == by_name["Far off"]["stops"] == []
    assert "dogs next door" in by_name["Too near"]["sentence"]
    assert "none of the parcels" in by_name["Far off"]["sentence"]
    assert by_name["By the house"]["score"] > made["sites"][0]["score"], "its own score is told, and it is not ranked"
    assert by_name[best["site"]]["sentence"].startswith(
        f"{best['site']}: rejected by hand on 2026-11-20: dogs next door."
    )

    added = made["choices"][1]
    site = next(s for s in made["sites"] if s["site"] == added["site"])
    assert away(site, *WEAK) < 0.02
    assert site["score"] == round(added["score"])
    assert site["why"][0] == "Added by hand as Old corral on 2026-11-20: the manager asks for it."
    assert site["rank"] == added["rank"]
    pinned = next(s for s in made["sites"] if s["site"] == made["choices"][2]["site"])
    assert away(pinned, *GOOD) < 0.02

    scores = [s["score"] for s in made["sites"]]
    assert scores == sorted(scores, reverse=True)
    assert [s["rank"] for s in made["sites"]] == list(range(1, len(scores) + 1))
    assert len(scores) <= 5
    for one in made["sites"]:
        assert away(one, u, v) >= SPACING / 2
        if one["site"] not in (site["site"], pinned["site"]):
            assert away(one, *WEAK) >= SPACING
            assert away(one, *GOOD) >= SPACING


def test_two_pinned_nearer_than_the_spacing_both_stay_and_say_so(ranch: tuple[Path, str, dict]) -> None:
    plan, base, _ = ranch
    made = run(plan, row("pin", *GOOD) + row("add", GOOD[0] - 80.0, GOOD[1], site="B"), base, "--no-sheets")
    first, second = (next(s for s in made["sites"] if s["site"] == c["site"]) for c in made["choices"])
    for one, other in ((first, second), (second, first)):
        assert one["flags"][0] == (
            f"Only 80 m from {other['site']}, nearer than sites.spacing: both were pinned or added by hand."
        )


def test_more_pinned_than_asked_for_are_all_ranked(ranch: tuple[Path, str, dict]) -> None:
    plan, base, _ = ranch
    rows = "".join(row("pin", 400.0, 300.0 + 230.0 * n) for n in range(7))
    made = run(plan, rows, base, "--no-sheets")
    assert len(made["sites"]) == 7
    assert {c["state"] for c in made["choices"]} == {"ranked"}


def test_a_ranch_of_rejected_places_says_why_nothing_is_left(
    ranch: tuple[Path, str, dict], capsys: pytest.CaptureFixture[str]
) -> None:
    plan, base, _ = ranch
    wide = base.replace('spacing = "200m"', 'spacing = "12km"')
    made = run(plan, row("reject", 1500.0, 1500.0, reason="all of it"), wide, "--no-sheets", status=3)
    assert made["sites"] == []
    assert "the places chosen by hand keep every one out" in made["nearest_miss"]
    assert "keep every one out" in capsys.readouterr().err + capsys.readouterr().out


def test_the_sheets_print_what_became_of_each_choice(ranch: tuple[Path, str, dict]) -> None:
    plan, base, _ = ranch
    run(
        plan,
        row("reject", *GOOD, reason="dogs next door") + row("add", *tiny.HOUSE, site="By the house")
        + row("add", *WEAK, site="Old corral", reason="the manager asks"),
        base,
    )  # fmt: skip
    pages = PdfReader(plan.parent / "out" / "field_sheets.pdf").pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    assert "Places chosen by hand" in text
    for words in (
        "Choice 1: rejected by hand on 2026-11-20: dogs next door.",
        "By the house: added by hand on 2026-11-20: no reason stated. NOT RANKED: near a dwelling",
        "Old corral: added by hand on 2026-11-20: the manager asks. Ranked",
        "Added by hand as Old corral on 2026-11-20: the manager asks.",
    ):
        assert words in text


def test_a_wrong_choice_stops_the_run_with_row_and_key(
    ranch: tuple[Path, str, dict], capsys: pytest.CaptureFixture[str]
) -> None:
    plan, base, _ = ranch
    plan.write_text(base + row("pin", *GOOD) + row("reject", *WEAK), encoding="utf-8")
    assert main(["scout", str(plan), "--no-sheets"]) == 2
    assert "plan.toml, row 2, field choices.reason: the place is rejected and has no reason" in capsys.readouterr().err
