"""The sheet on evidence and sets: what must be said is there, nothing overlaps, nothing missing is good news."""

import math
import re
from dataclasses import replace

import pytest
from evidence_results import BAD_ROW, REASON, make_group, make_weighting
from matplotlib.patches import Wedge
from paper import outside, overlaps, strays, text_boxes
from pypdf import PdfReader

from boscage.model.findings import Standing
from boscage.sheets.evidencepage import plan_evidence
from boscage.sheets.field_sheets import plan_sheets
from boscage.sheets.flow import heading, height_of
from boscage.sheets.grouptext import nights_words
from boscage.sheets.mapblock import room_below
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.running import draw_foot

FOOT_MM = 15.6
CASES = {
    "plain": {}, "metric": {"found": "limit", "units": "metric"}, "a4": {"paper": "a4"},
    "metric_letter": {"units": "metric", "paper": "letter"}, "many": {"found": "many", "sites": 60, "close": True},
    "long": {"long": True}, "bare": {"found": "bare", "sites": 2}, "wide": {"found": "no sets", "wide": True},
    "wide_limit": {"found": "limit", "wide": True, "units": "metric"},
    "no_layers": {"bare": True, "missing": ("tracks", "dwellings", "water", "power_lines")},
    "no_site": {"sites": 0},
}  # fmt: skip


def pages_of(made):
    sheets = plan_evidence(made.result, made.overview)
    pages = []
    with own_settings():
        for number, sheet in enumerate(sheets, start=3):
            page = Page(made.result.plan.paper, number=number, of=2 + len(sheets))
            sheet.draw(page)
            pages.append(page)
    return pages


def written(made, target):
    pages = pages_of(made)
    with own_settings():
        write_pdf(pages, target, title="t", date=made.result.plan.date)
    return [re.sub(r"\s+", " ", p.extract_text()) for p in PdfReader(target).pages]


def whole(made, target):
    return " ".join(written(made, target))


def changed(made, **own):
    return replace(made, result=replace(made.result, **own))


def seen(made, **own):
    return changed(made, evidence=replace(made.result.evidence, **own))


@pytest.fixture(scope="module", params=list(CASES))
def case(request, make):
    made = make(**{"sites": 6, "found": "full", **CASES[request.param]})
    return request.param, pages_of(made)


@pytest.fixture(scope="module")
def made(make):
    return make(sites=6, found="full")


@pytest.fixture(scope="module")
def text(made, tmp_path_factory):
    return whole(made, tmp_path_factory.mktemp("evidence") / "a.pdf")


def test_no_text_overlaps_or_leaves_its_place(case):
    name, pages = case
    with own_settings():
        for page in pages:
            texts, boxes = text_boxes(page)
            assert len(texts) > 10
            assert overlaps(texts, boxes) == [], name
            assert outside(page, texts, boxes) == [], name
            assert strays(page) == [], name


def below_the_body(page):
    """Texts in the foot, the page's own number left out."""
    texts, boxes = text_boxes(page)
    return sorted(t for t, b in zip(texts, boxes, strict=True) if b[1] < FOOT_MM and not t.startswith("page "))


def test_everything_stays_above_the_foot(case, make):
    name, pages = case
    result = make(**{**CASES[name], "sites": 0, "found": "none"}).result
    blank = Page(result.plan.paper)
    with own_settings():
        draw_foot(blank, result)
        foot = below_the_body(blank)
        assert foot
        for page in pages:
            assert below_the_body(page) == foot, name


def test_moves_are_a_table_with_reasons(text):
    for words in (
        "What moved since the run before, and why", "1 3 DH-01 DH-03 +6 fresh sign +7 points, way in -1.",
        "5 new DH-05 not ranked not known Permission was granted since.",
        "out 7 ranked no more DH-07 -11 Now within a no-go area.",
    ):  # fmt: skip
        assert words in text, words


@pytest.mark.parametrize(("moves", "words"), [(None, "There was no run before"), ((), "No place changed its rank.")])
def test_no_run_before_differs_from_no_move(made, tmp_path, moves, words):
    assert words in whole(changed(made, moves=moves), tmp_path / "a.pdf")


def test_use_is_told_with_ages_and_bandwidth(text):
    for words in (
        "under a day old (A): 12; 1 to 3 days (B): 21; 4 to 14 days (C): 34; older (D): 83",
        "Bandwidth 787 ft, rule: reference", "3 signs without a date", "line round 50 % of use",
        "line round 95 % of use",
        "looked, no sign", "not looked", "C: camera at a bait place", "One searched line has no date",
    ):  # fmt: skip
        assert words in text, words


def test_no_searched_line_is_loud(made, tmp_path):
    words = whole(seen(made, effort=None), tmp_path / "a.pdf")
    assert "NO SEARCHED LINE is in the plan: ground without sign is unknown, NOT ground without animals." in words


def test_cameras_with_all_they_saw(made, text):
    for words in (
        "Cameras: 6", "C1 creek crossing 24 30 1.25 2026-11-19, 2 days ago 5 yes stated",
        "C2 north bench 24 30 1.25 2026-11-19, 2 days ago 6 not written down not stated, taken as still out",
        "C5 old orchard 0 30 not known", "C6 cedar saddle 24 0 0.00 no visit recorded none seen",
        "No visit recorded is NOT the same as no animals: C6.", "14 rows of people and vehicles left out of everything",
        "version 1.0.2", "midnight at the top", "Rows of camera tables left out: 9", "3 further rows.",
    ):  # fmt: skip
        assert words in text, words
    for row in (3, 8):
        assert BAD_ROW.format(row=row) in text
    assert BAD_ROW.format(row=9) not in text
    wedges = sum(len(p.figure.findobj(Wedge)) for p in pages_of(made))
    assert wedges == sum(sum(n > 0 for n in c.use.by_hour) for c in made.result.evidence.cameras)


def test_all_cameras_are_there_however_many(make, tmp_path):
    made = make(sites=6, found="many")
    words = whole(made, tmp_path / "a.pdf")
    for k, camera in enumerate(made.result.evidence.cameras, start=1):
        assert f"C{k} {camera.name} {camera.use.nights:.0f} {camera.use.visits} " in words
    assert "Groups of animals: 8" in words


def test_no_camera_and_no_group_are_said(made, tmp_path):
    words = whole(seen(made, cameras=(), groups=()), tmp_path / "a.pdf")
    assert "NO CAMERAS: no camera package is in the plan." in words
    assert "No group of animals is told apart" in whole(seen(made, groups=()), tmp_path / "b.pdf")


def test_groups_are_cards(text):
    for words in (
        "Groups of animals: 3", "notched-ear named by a tag; seen by C1, C2 7 at one time",
        "north bench taken as one group: its cameras stand near each other; seen by C3 7 to 9 at one time",
        "On the fullest night: 2 sows, 5 juveniles, 1 subadult.", "Same count 2 nights running: passed.",
        "Same count 2 nights running: NOT PASSED. 8 animals of the same classes on 1 night",
        "Seen on 8 nights, 2026-11-09 to 2026-11-19; the last 6: 11-13: 7",
        "3 visits by boars alone at its cameras, counted for no member.",
    ):  # fmt: skip
        assert words in text, words


def test_nights_of_a_group():
    group = make_group(0, "")
    assert nights_words(replace(group, nights=())) == "Seen on no night."
    assert nights_words(replace(group, nights=group.nights[:1])) == "Seen on 1 night, 2026-11-09; 11-09: 7."


def test_bait_against_the_spacing(text):
    """1 km is 0.62 and 2 km 1.24 miles (NIST SP 811); Snow and VerCauteren (2019) give 1 to 2 km."""
    for words in (
        "Bait places against the published spacing of 0.6 mi to 1.2 mi",
        "B1 creek crossing C1 B2 2,100 ft TOO NEAR 0 %",
        "B3 DH-02 B3 B1 0.9 mi spaced 20 %", "B4 the old salt lick not on it B3 1.9 mi TOO FAR 30 %",
        "Snow and VerCauteren (2019)", "they feed the same animals",
        "Not on the map, no camera or site has the name: B4.",
        "beyond reach of any: 1,580 ac", "1,010 ac round 522 300 m E, 4 010 900 m N",
    ):  # fmt: skip
        assert words in text, words


def test_bait_that_is_not_written_down(made, tmp_path):
    words = whole(seen(made, bait=None, bait_names=()), tmp_path / "a.pdf")
    assert "NO BAIT PLACES are written down: whether bait is spaced well is not known." in words
    bait = replace(made.result.evidence.bait, unreached_ha=math.nan)
    assert "Land beyond reach of bait: not known." in whole(seen(made, bait=bait), tmp_path / "b.pdf")


def test_sets_with_rounds_and_what_comes_next(text):
    for words in (
        "Asked: 3 nets, 2 crews with 6 hours a day each, 20 minutes at a set, a reach of 0.9 mi, sets at least 984 ft",
        "3 sets cover 63.1 % of the use, on 4,250 ac of permitted land. Proven: no allowed choice covers more",
        "Chosen sets: 3", "DH-01 1 31.0 % 1", "DH-03 2= 28.0 % 1", "DH-04 4 25.0 % 2",
        "Crew 1: base, DH-03, DH-01, base. 214 of 360 minutes", "no round of these is shorter",
        "Crew 2: base, DH-04, base. 96 of 360 minutes", "NOT proven to be the shortest",
        "One more net (4) would add 7.9 points, to 71.0 %.", "DH-02 in place of DH-04: covers 62.9 %.",
        "Taking the best next site each time would cover 60.2 %.", "rounds begin", "chosen set",
    ):  # fmt: skip
        assert words in text, words


def test_a_time_limit_never_reads_as_the_best(make, tmp_path):
    words = whole(make(sites=6, found="limit"), tmp_path / "a.pdf")
    assert "NOT PROVEN BEST: stopped at the time limit (gap 2.02 %)." in words
    assert "(not proven; no choice covers more than 74.0 %)" in words
    assert "not proven: no choice covers more than this" in words
    assert "Left out, no way leads there or no crew can check them in its hours: DH-02." in words
    assert "3 further exchanges." in words
    assert "optimal" not in words.lower()
    assert "Proven:" not in words


def test_no_sets_and_no_rounds_are_said(make, made, tmp_path):
    words = whole(make(sites=6, found="no sets"), tmp_path / "a.pdf")
    assert f"NO SETS TOGETHER: {REASON}" in words
    together = made.result.together
    bare = replace(together, chosen=replace(together.chosen, rounds=()), base=None)
    assert "ROUNDS ARE NOT WORKED OUT" in whole(changed(made, together=bare), tmp_path / "b.pdf")
    off = replace(together, base=(0.0, 0.0))
    assert "Where rounds begin lies off the map." in whole(changed(made, together=off), tmp_path / "c.pdf")
    assert "is not worked out: there is no use to cover" in whole(changed(made, together=None), tmp_path / "d.pdf")


def test_weights_with_their_consistency(made, text, tmp_path):
    for words in (
        "Basis: comparison table. Consistency ratio 0.144, random index of Saaty and Ozdemir (2003).", "fresh use 25 %",
        "CONSISTENCY RATIO ABOVE 0.10",
        "The one that hurts most is fresh use against water near, stated as 7; the others",
        "1/1.7, which gives a ratio of 0.041",
    ):  # fmt: skip
        assert words in text, words
    plain = whole(changed(made, weighting=make_weighting(bad=False)), tmp_path / "a.pdf")
    assert "Basis: ratios stated directly; there is no consistency to test." in plain
    assert "CONSISTENCY RATIO" not in plain
    assert "is not stated" in whole(changed(made, weighting=None), tmp_path / "b.pdf")


def test_firmness_of_every_rank(text):
    assert "2= DH-02 80 ranks 1 to 5" in text
    assert "10,000 draws" in text


def test_nothing_known_draws_no_map_and_says_so(make, tmp_path):
    made = make(sites=2, found="bare")
    pages = pages_of(made)
    assert all(p.figure.axes == [] for p in pages)
    words = whole(made, tmp_path / "a.pdf")
    for said in ("NEITHER SIGN NOR CAMERAS: use is not known.", "NO SEARCHED LINE", "NO CAMERAS", "NO BAIT PLACES"):
        assert said in words
    assert "nan" not in words.lower().replace("dunnock", "")
    none = whole(changed(made, evidence=None), tmp_path / "b.pdf")
    assert "NO SIGN AND NO CAMERAS are in the plan: use of the ranch is not known." in none


def test_a_sheet_only_where_there_is_something(make, made):
    empty = make(sites=2)
    assert plan_evidence(empty.result, empty.overview) == []
    assert "evidence" not in [s.kind for s in plan_sheets(empty.result, empty.overview, empty.closeups)]
    standing = Standing(label="1", top_rank_share=1.0, first_share=1.0, low_rank=1, high_rank=1)
    for own in (
        {"moves": ()}, {"evidence": made.result.evidence}, {"together": made.result.together},
        {"sites": (replace(empty.result.sites[0], standing=standing),)},
    ):  # fmt: skip
        assert plan_evidence(replace(empty.result, **own), empty.overview) != []


@pytest.mark.parametrize("wishes", [{"field": "full"}, {}, {"found": "many"}])
def test_the_sheet_stands_behind_the_ground_and_fronts_stay_odd(make, wishes):
    made = make(**{"sites": 3, "found": "full", **wishes})
    kinds = [s.kind for s in plan_sheets(made.result, made.overview, made.closeups)]
    first, front = kinds.index("evidence"), kinds.index("front")
    assert set(kinds[1:first]) <= {"rules", "ground"}
    assert set(kinds[first:front]) <= {"evidence", "notes"}
    assert all(k % 2 == 0 for k, kind in enumerate(kinds) if kind == "front")


def test_further_pages_say_that_they_go_on(made, tmp_path):
    pages = written(made, tmp_path / "a.pdf")
    assert len(pages) > 2
    assert "continued" not in pages[0]
    assert all("Evidence and sets together, continued" in p for p in pages[1:])


@pytest.mark.parametrize("found", ["full", "limit", "bare", "no sets"])
def test_the_forbidden_words_are_no_findings_and_units_are_the_plans(make, tmp_path, found):
    words = whole(make(sites=6, found=found, units="metric"), tmp_path / "a.pdf")
    assert re.search(r"\b(safe|clear)\b", words, re.IGNORECASE) is None
    own = words.replace("2,100 ft apart, under 0.6 mi", "")
    assert re.search(r"\d (ft|ac|psi)\b", own) is None


def test_room_below_a_text_is_that_of_its_last_page():
    box = Box(10.0, 20.0, 100.0, 50.0)
    blocks = [replace(heading("a", 100.0), keep_next=False) for _ in range(3)]
    assert room_below(blocks, box) == pytest.approx(50.0 - height_of(blocks))
    many = blocks * 5
    per_page = int(50.0 // many[0].height_mm)
    left = len(many) % per_page or per_page
    assert room_below(many, box) == pytest.approx(50.0 - left * many[0].height_mm)
    assert room_below([], box) == 50.0


def test_a_front_says_how_firm_it_is_and_what_cameras_saw(make, tmp_path):
    made = make(sites=3, found="full")
    sheets = plan_sheets(made.result, made.overview, made.closeups)
    pages = []
    with own_settings():
        for number, sheet in enumerate(sheets, start=1):
            if sheet.site:
                page = Page(made.result.plan.paper, number=number, of=len(sheets))
                sheet.draw(page)
                pages.append(page)
        write_pdf(pages, tmp_path / "a.pdf", title="t", date=made.result.plan.date)
    read = [re.sub(r"\s+", " ", p.extract_text()) for p in PdfReader(tmp_path / "a.pdf").pages]
    words = " ".join(p for p in read if "DH-01" in p)
    assert "Rank 1: first in 42 % of draws, ranks 1 to 4 in nine of ten." in words
    assert "Rank 2=: first in 22 % of draws, ranks 1 to 5 in nine of ten." in " ".join(read)
    assert "Cameras near" in words
    for sentence in made.result.sites[0].seen_by:
        assert sentence in words
    assert sum("Cameras near" in p for p in read) <= 2
    fronts = [p for p in read if "Which point: middle of the ring" in p]
    assert "rank 2= of 3 score" in fronts[1]
