"""The written page on the way in and on who sees the set: everything that must be said is there."""

import re
from dataclasses import replace

import numpy as np
import pytest
from pypdf import PdfReader

from boscage.sheets.field_sheets import plan_sheets, print_field_sheets
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.waypage import way_sheets


def pages_of(made, target):
    print_field_sheets(made.result, made.overview, made.closeups, target)
    return [re.sub(r"\s+", " ", p.extract_text()) for p in PdfReader(target).pages]


def way_page(made, target):
    """Text of the page alone, as page 5 of 5."""
    (sheet, *_) = way_sheets(made.result, made.result.sites[0], made.overview)
    page = Page(made.result.plan.paper, number=5, of=5)
    with own_settings():
        sheet.draw(page)
        write_pdf([page], target, title="t", date=made.result.plan.date)
    return re.sub(r"\s+", " ", PdfReader(target).pages[0].extract_text())


def changed(made, **own):
    site = made.result.sites[0]
    return replace(made, result=replace(made.result, sites=(replace(site, **own),)))


@pytest.fixture(scope="module")
def plain(make, tmp_path_factory):
    made = make(sites=1)
    return made, way_page(made, tmp_path_factory.mktemp("plain") / "a.pdf")


def test_the_page_says_what_it_must(plain):
    """Pounds and feet: 0.45359237 kg and 0.3048 m (NIST SP 811, appendix B.8)."""
    made, text = plain
    journey = made.result.sites[0].journey
    for words in (
        "DH-01: way in and who sees it", "page 5 of 5", "Start: the gate Sorrel gate.", "50 lb",
        "net alone; no gear list of this place yet", "1 trip", "of 2 people, 25 lb each", "about 120", "kcal each",
        "In, with the first load", "Out, with a load", "by vehicle", "by ATV", "on foot",
        "gate Mill gate (LOCKED: get the key or the code)", "Also: gate Sorrel gate; a fence line once by ATV",
        "grid north up", "Profile of the way in", "to ATV, 10 min", "on foot, 5 min", "times as large as distances",
        "Who sees it", "under 0.1", "3.4", "expected sightings a day", "public road: County Road 12",
        "dwelling: house 1", "62 %", "within 1,970 ft were looked at", "are not counted", "start", "change-over",
    ):  # fmt: skip
        assert words in text, words
    assert f"{journey.carry.distance_m / 0.3048:.0f} ft" in text
    assert re.search(r"1:\d+,000 \(1 in = ", text)


def test_in_and_out_are_two_figures(plain):
    made, text = plain
    journey = made.result.sites[0].journey
    assert round(journey.minutes_in) != round(journey.minutes_out)
    assert f"In, with the first load: {journey.minutes_in:.0f} min" in text
    assert f"Out, with a load: {journey.minutes_out:.0f} min" in text


def test_metric(make, tmp_path):
    text = way_page(make(sites=1, units="metric"), tmp_path / "a.pdf")
    for words in ("23 kg", "11 kg each", "within 600 m were looked at", " km", "(1 cm = "):
        assert words in text, words
    assert re.search(r"\d (ft|lb|mi|in)\b", text) is None


@pytest.mark.parametrize("wishes", [{}, {"seen": "nobody"}, {"way": "barred"}, {"way": "unknown", "seen": "unknown"}])
def test_the_forbidden_words_are_no_findings(make, tmp_path, wishes):
    text = way_page(make(sites=1, **wishes), tmp_path / "a.pdf")
    assert re.search(r"\b(safe|clear|hidden)\b", text, re.IGNORECASE) is None


def test_no_way_is_said_big_and_without_a_profile(make, tmp_path):
    made = make(sites=1, way="barred")
    text = way_page(made, tmp_path / "a.pdf")
    assert made.result.sites[0].journey.reason in text
    for barrier in made.result.sites[0].journey.barriers:
        assert text.count(barrier) == 2
    for words in ("Profile", "trip", "kcal", "change-over"):
        assert words not in text


def test_what_is_not_known_is_said(make, tmp_path):
    text = way_page(make(sites=1, way="unknown", seen="unknown"), tmp_path / "a.pdf")
    assert "No road or track that may be used is mapped: the way in is not known." in text
    assert "No road, track or dwelling is mapped: who sees it is not known." in text
    assert "Profile" not in text


def test_what_was_not_asked_for_is_not_called_unmapped(make, tmp_path):
    made = make(sites=1, way="unknown", seen="unknown")
    made = replace(made, result=replace(made.result, factor_weights={"cover": 3.0}))
    text = way_page(made, tmp_path / "a.pdf")
    assert "The way in was not worked out in this run, so it is not known" in text
    assert "Who sees it was not worked out in this run, so it is not known" in text
    assert "is mapped" not in text


def test_nobody_sees_it_comes_with_its_caution(make, tmp_path):
    text = way_page(make(sites=1, seen="nobody"), tmp_path / "a.pdf")
    assert "No sampled place sees it." in text
    assert "Only mapped roads, tracks, dwellings and parcel lines within 1,970 ft were looked at" in text
    assert "expected sightings" not in text


def test_a_trace_of_sight_is_not_nobody(make, tmp_path):
    made = make(sites=1, seen="nobody")
    exposure = replace(made.result.sites[0].exposure, net_looks=0.02)
    text = way_page(changed(made, exposure=exposure), tmp_path / "a.pdf")
    assert "under 0.1" in text


def test_no_watcher_within_reach_is_not_read_as_nobody(make, tmp_path):
    made = make(sites=1)
    none = np.zeros((0, 2))
    exposure = replace(made.result.sites[0].exposure, watchers=none, shares=none[:, 0], worst=(), net_looks=0.0)
    text = way_page(changed(made, exposure=exposure), tmp_path / "a.pdf")
    assert "is mapped within 1,970 ft: no line of sight was looked along." in text
    assert "That is NOT the same as none." in text
    assert "No sampled place" not in text


def test_missing_layers_are_said(make, tmp_path):
    text = way_page(make(sites=1, missing=("dwellings", "water")), tmp_path / "a.pdf")
    assert "NOT MAPPED: dwellings. Who looks from there is not counted." in text
    assert re.search(r"NOT MAPPED: [a-z, ]*water\. Whether the way meets any is not known\.", text)


def test_one_leg_has_no_carry(make, tmp_path):
    text = way_page(make(sites=1, way="one"), tmp_path / "a.pdf")
    for words in ("carry on foot none by vehicle up to the set", "Start: the public road.", "nothing that is mapped"):
        assert words in text, words
    for words in ("kcal", "trip", "to ATV", "change-over", "-0 ft"):
        assert words not in text, words


def test_a_start_at_the_set_has_no_legs(make, tmp_path):
    made = make(sites=1, way="one")
    journey = replace(made.result.sites[0].journey, inward=(), outward=())
    text = way_page(changed(made, journey=journey), tmp_path / "a.pdf")
    assert "the start is at the set" in text
    assert "Profile" not in text


def test_several_trips_are_said(make, tmp_path):
    made = make(sites=1)
    journey = replace(made.result.sites[0].journey, trips=3, carry_min=41.0, kcal=1234.0, load_kg=90.72, share_kg=15.12)
    text = way_page(changed(made, journey=journey), tmp_path / "a.pdf")
    for words in ("3 trips", "200 lb", "33 lb each", "41 min", "with the empty walks back", "about 1,230"):
        assert words in text, words


def test_no_terrain_no_profile(make, tmp_path):
    text = way_page(make(sites=1, bare=True), tmp_path / "a.pdf")
    assert "No terrain data lie under the way in" in text
    assert "times as large" not in text
    assert "no terrain layer" in text
    assert text.count("no data") >= 8


def test_a_hole_in_the_terrain_is_said(make, tmp_path):
    made = make(sites=1)
    first, ride, last = made.result.sites[0].journey.inward
    height = ride.elevation_m.copy()
    height[40:60] = np.nan
    gap_m = float(np.hypot(*np.diff(ride.line[39:61], axis=0).T).sum())
    journey = replace(made.result.sites[0].journey, inward=(first, replace(ride, elevation_m=height), last))
    text = way_page(changed(made, journey=journey), tmp_path / "a.pdf")
    assert f"No terrain data along {gap_m / 0.3048:.0f} ft: left out" in text


def test_long_names_are_whole_and_go_on(make, tmp_path):
    made = make(sites=1, long=True)
    pages = pages_of(made, tmp_path / "a.pdf")
    first = next(k for k, p in enumerate(pages) if "way in and who sees it" in p)
    assert f"Start: {made.result.sites[0].journey.start}." in pages[first]
    assert f"more on page {len(pages)}" in pages[first]
    name = made.result.sites[0].exposure.worst[0].name
    both = pages[first] + pages[-1]
    for kind in ("public road", "track", "dwelling"):
        assert f"{kind}: {name}" in both
    assert "are not counted." in both


def test_front_says_where_it_goes_on_when_both_do(make, tmp_path):
    made = make(sites=1, long=True, whys=40)
    kinds = [s.kind for s in plan_sheets(made.result, made.overview, made.closeups)]
    start = kinds.index("front")
    assert kinds[start : start + 3] == ["front", "back", "way"]
    pages = pages_of(made, tmp_path / "a.pdf")
    further = [k + 1 for k, kind in enumerate(kinds) if kind == "further"]
    assert f"more on page {further[0]}" in pages[start]
    assert "Why here" in pages[further[0] - 1]
    assert f"more on page {further[-1]}" in pages[start + 2]
    assert "way in, continued" in pages[further[-1] - 1]


def test_pages_are_counted_and_every_front_is_odd(make):
    made = make(sites=3)
    sheets = plan_sheets(made.result, made.overview, made.closeups)
    assert [s.kind for s in sheets] == [
        "overview", "rules", "front", "back", "way", "notes", "front", "back", "way", "notes", "front", "back", "way",
    ]  # fmt: skip
    assert [s.site for s in sheets[2:6]] == ["DH-01"] * 4
