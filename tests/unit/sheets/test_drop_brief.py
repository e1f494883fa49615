"""The drop brief: ten blocks on one page, everything that must be said is there, blanks stay blank, nothing is cut."""

import datetime as dt
import re
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise
from typing import Any

import matplotlib
import numpy as np
import pytest
from drop_results import DATE, LONG_NAME, NEVER, STATED, MadeDrop, made_drop
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.text import Text
from paper import MM_PER_PT, outside, overlaps, strays, stroked, text_boxes
from pypdf import PdfReader

from boscage.model.brief import SlungItem
from boscage.sheets.dropbrief import compose_drop_pages, plan_drop_sheets, print_drop_brief
from boscage.sheets.dropcoords import LEAST_DDM_PT
from boscage.sheets.dropjob import LEAST_PT, groups_of
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.sheet import Sheet
from boscage.sheets.style import AreaLook, LineLook, TextStyle
from boscage.sheets.typeset import ELLIPSIS

FOOT, MILE, NAUTICAL, POUND = 0.3048, 1609.344, 1852.0, 0.45359237
"""NIST SP 811, appendix B.8; the international nautical mile."""
FOOT_MM = 17.0
RULES = (
    "The pilot alone decides go or no-go", "it gives no permission", "operator certificated under 14 CFR part 133",
    "the law of the place", "the land's own rules", "Wires are often in no data", "Nobody under the load or the line",
)  # fmt: skip
CASES: dict[str, dict[str, Any]] = {
    "one": {}, "two": {"drops": 2, "none": 2}, "four": {"drops": 4}, "seven": {"drops": 7},
    "no base": {"drops": 2, "base": False}, "nothing stated": {"drops": 3, "stated": False, "zone": None},
    "no gap": {"drops": 0, "none": 3}, "over": {"drops": 3, "over": True, "parts": 2},
    "no landing": {"landings": False}, "long": {"drops": 4, "long": True, "over": True},
    "long and tall": {"drops": 4, "long": True, "units": "metric", "paper": "letter", "none": 2, "parts": 2},
    "long one": {"long": True, "paper": "a4"}, "metric": {"drops": 4, "units": "metric"},
    "a4": {"drops": 4, "paper": "a4"}, "far": {"drops": 3, "far": True}, "close": {"drops": 4, "close": True},
    "many loads": {"drops": 4, "parts": 6, "items": 6}, "flags": {"drops": 4, "flags": 9},
    "crowded": {"drops": 2, "terrain": False, "wires": "not searched", "parts": 4, "none": 2},
    "bare": {"drops": 3, "terrain": False, "wires": "not searched", "carry": "barred", "stated": False},
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Seen:
    """What is to be judged of one drawn page.

    Attributes:
        text: Everything on it in the order drawn, one blank between words.
        large: Texts of at least the size of a coordinate, in bold.
        small: Texts above the foot under the least size.
        faults: Overlaps, texts off the paper, off their drawing, across the foot's rule.
        filled: For each empty box for an allowable load, whether a text stands in it.
    """

    kind: str
    text: str
    large: tuple[str, ...]
    small: tuple[str, ...]
    cut: tuple[str, ...]
    faults: tuple[Any, ...]
    filled: tuple[bool, ...]


def look(sheet: Sheet, page: Page) -> Seen:
    words, boxes = text_boxes(page)
    artists = [t for t in page.figure.findobj(Text) if t.get_visible() and t.get_text().strip()]
    foot = FOOT_MM / 25.4 * 72
    straddling = [t for t, b in zip(words, boxes, strict=True) if b[1] < 15.4 < b[3]]
    return Seen(
        kind=sheet.kind, text=plain(" ".join(words)),
        large=tuple(plain(t.get_text()) for t in artists if t.get_fontsize() >= 14.0 and t.get_weight() == "bold"),
        small=tuple(t.get_text() for t in artists if t.get_fontsize() < 7.0
                    and t.get_transform().transform(t.get_position())[1] > foot),
        cut=tuple(t for t in words if ELLIPSIS in t),
        faults=(*overlaps(words, boxes), *outside(page, words, boxes), *strays(page), *straddling),
        filled=tuple(has_text(box, boxes) for box in allowable_boxes(page)),
    )  # fmt: skip


def allowable_boxes(page: Page) -> list[np.ndarray]:
    return [
        r.get_window_extent().extents * MM_PER_PT for r in page.figure.findobj(Rectangle)
        if r.get_linewidth() == 1.0 and 15.0 < r.get_width() < 30.0 and r.get_height() < 9.0
    ]  # fmt: skip


def has_text(box: np.ndarray, texts: np.ndarray) -> bool:
    middles = (texts[:, :2] + texts[:, 2:]) / 2.0
    return bool(((middles > box[:2]) & (middles < box[2:])).all(axis=1).any())


@lru_cache(maxsize=64)
def _seen(key: tuple[tuple[str, Any], ...]) -> tuple[Seen, ...]:
    made = made_drop(**dict(key))
    with own_settings():
        return tuple(look(sheet, page) for sheet, page in compose_drop_pages(made.result, made.overview))


def seen(name: str = "", **wishes: Any) -> tuple[Seen, ...]:
    """The pages of a brief as wished; each is drawn once."""
    return _seen(tuple(sorted((CASES[name] if name else wishes).items())))


def texts(name: str = "", **wishes: Any) -> list[str]:
    return [page.text for page in seen(name, **wishes)]


@pytest.fixture(params=list(CASES))
def case(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def front_of(made: MadeDrop) -> Page:
    with own_settings():
        return next(compose_drop_pages(made.result, made.overview))[1]


def pages_of(made: MadeDrop, target: Any) -> list[str]:
    print_drop_brief(made.result, made.overview, target)
    return [re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(target).pages]


def changed(made: MadeDrop, **own: Any) -> MadeDrop:
    return replace(made, result=replace(made.result, **own))


def plain(text: str) -> str:
    return re.sub(r"\s+", " ", text).strip()


# Layout


def test_no_text_overlaps_or_leaves_its_place(case):
    for page in seen(case):
        assert page.faults == (), page.kind


def test_no_type_on_a_front_is_under_seven_points(case):
    for page in seen(case):
        assert page.kind != "front" or page.small == ()


def test_the_coordinate_is_large_and_bold(case):
    """At least 14 points, and what is set is the result's own text, on one line or on two."""
    assert (LEAST_DDM_PT, LEAST_PT) == (14.0, 7.0)
    large = [t for page in seen(case) if page.kind == "front" for t in page.large]
    both = {f"{a} {b}" for a, b in pairwise(large)}
    for drop in made_drop(**CASES[case]).result.drops:
        assert plain(drop.place.ddm) in {*large, *both}


def test_words_are_cut_only_where_names_are_far_too_long(case):
    assert any(page.cut for page in seen(case)) == ("long" in case)


def test_the_allowable_load_is_an_empty_box_for_base_and_drops(case):
    made = made_drop(**CASES[case])
    fronts = [page for page in seen(case) if page.kind == "front"]
    for group, page in zip(groups_of(made.result, made.overview), fronts, strict=True):
        assert page.filled == (False,) * (len(group.drops) + 1)


def test_the_forbidden_words_are_never_printed(case):
    for page in seen(case):
        assert re.search(r"\b(safe|safely|clear|cleared)\b", page.text, re.IGNORECASE) is None


def test_not_complete_stands_on_every_sheet_of_paper(case):
    """On each front and on the back behind it."""
    for page, behind in pairwise(seen(case)):
        if page.kind == "front":
            assert "not complete" in page.text.lower() and "NOT COMPLETE" in behind.text


def test_exactly_one_front_for_up_to_four_drops():
    for count in (1, 2, 3, 4):
        made = made_drop(drops=count)
        assert [s.kind for s in plan_drop_sheets(made.result, made.overview)].count("front") == 1


def test_more_drops_make_more_fronts_each_on_an_odd_page():
    made = made_drop(drops=7)
    kinds = [s.kind for s in plan_drop_sheets(made.result, made.overview)]
    starts = [k for k, kind in enumerate(kinds) if kind == "front"]
    assert len(starts) == 2 and all(k % 2 == 0 for k in starts)
    pages = texts("seven")
    for start, title in zip(starts, ("drops 1 to 4 of 7", "drops 5 to 7 of 7"), strict=True):
        assert title in pages[start] and f"page {start + 1} of {len(pages)}" in pages[start]
        assert f"Back: {title}" in pages[start + 1]
        ten_blocks(pages[start])


def ten_blocks(front: str) -> None:
    for words in (
        "mission", "objective", "Map, north up", "Coordinates", "Loads", "Performance", "Comms", "Crash-rescue", "PPE",
        "Go / no-go",
    ):  # fmt: skip
        assert words in front, words


def test_drops_are_numbered_in_the_order_flown():
    made = made_drop(drops=4)
    sites = ["DH-03", "DH-01", "DH-04", "DH-02"]
    by_site = {load.site: load for load in made.result.loads}
    loads = tuple(replace(by_site[s], number=n, flight=(n + 1) // 2) for n, s in enumerate(sites, start=1))
    (group,) = groups_of(replace(made.result, loads=loads), made.overview)
    assert [d.drop.site for d in group.drops] == sites
    assert [d.name for d in group.drops] == ["1 DH-03", "2 DH-01", "3 DH-04", "4 DH-02"]


def test_the_checks_see_what_is_wrong():
    page = Page("letter")
    page.area(Box(50.0, 50.0, 25.0, 5.0), AreaLook(outline=LineLook(width_pt=1.0)))
    page.text(55.0, 53.5, "900 lb")
    page.text(60.0, 53.5, "more")
    page.text(50.0, 90.0, "small", TextStyle(size_pt=6.5))
    found = look(Sheet("front", lambda page: None), page)
    assert found.filled == (True,) and found.small == ("small",) and found.faults == (("900 lb", "more"),)


# The front


def test_the_front_says_what_it_must():
    made = made_drop(drops=4)
    front = texts("four")[0]
    ten_blocks(front)
    for words in (
        *(STATED[k] for k in ("mission", "plan_number", "takeoff", "objective", "abort", "aircraft", "receive", "tone",
          "air_to_air", "following", "lost_comms", "hospital", "hospital_phone", "county", "caller", "kit")),
        "2026-11-21", "printed for 2026-11-21", "drops 1 to 4 of 4",
        "Drop point: the open gap, NOT the set under trees.", "datum WGS 84", "NOT COMPLETE",
        "Degrees, decimal minutes", "Datum, grid WGS 84 / UTM zone 15N", "Grid north up", "WMM2025",
        "24 °C / 75 °F", "1013 hPa / 29.91 inHg", "200° T, 12 kt", "allowable load: PILOT", "DENSITY ALTITUDE",
        "emergency: 911", "flight helmet", "hard hat with chin strap", "GO: pilot alone", "stock, people away",
        "it is not the allowable load", "loads out", "WIRE 298 ft", "part est.", "med-evac", "DROP POINT", "nm",
    ):  # fmt: skip
        assert plain(str(words)) in front, words
    for drop in made.result.drops:
        place = drop.place
        for words in (place.ddm, place.decimal, f"USNG {place.usng}"):
            assert plain(words) in front, words
    for place in (made.result.hospital, made.result.evacuation, made.result.road_end):
        assert plain(place.ddm) in front


def test_figures_are_in_the_units_of_flying():
    """Feet for altitudes, the density altitude to ten feet; pounds whole, each by itself."""
    made = made_drop(drops=4)
    front = texts("four")[0]
    for drop in made.result.drops:
        assert f"{drop.point.elevation_m / FOOT:,.0f} ft" in front
        for metres in (drop.air.pressure_altitude_m, drop.air.density_altitude_m):
            assert f"{10 * round(metres / FOOT / 10):,} ft" in front
    assert f"loads in 4: {sum(load.total_kg for load in made.result.loads) / POUND:,.0f} lb" in front
    for load in made.result.loads:
        for kg in (load.items_kg, load.rigging_kg, load.total_kg):
            assert f"{kg / POUND:,.0f}" in front


def test_times_are_local_with_their_zone_or_utc():
    """Central Standard Time is six hours behind UTC (15 USC 263)."""
    day = made_drop(drops=4).result.daylight
    rise = day.sunrise + dt.timedelta(seconds=30)
    assert f"{rise - dt.timedelta(hours=6):%H:%M} to" in texts("four")[0]
    assert "CST, UTC-6" in texts("four")[0]
    assert f"{rise:%H:%M} to" in texts("nothing stated")[0]
    assert "sunrise to sunset (UTC)" in texts("nothing stated")[0]


def test_what_is_not_stated_is_a_line_to_write_on(tmp_path):
    """Thirty blanks more than where everything is stated, and no figure that nobody gave."""
    lines = {}
    for stated in (True, False):
        made = made_drop(drops=2, stated=stated)
        print_drop_brief(made.result, made.overview, tmp_path / "a.pdf")
        reader = PdfReader(tmp_path / "a.pdf")
        found = stroked(reader, reader.pages[0], 0.6)
        lines[stated] = [x for x in found if abs(x[0, 1] - x[-1, 1]) < 1e-6 and abs(x[-1, 0] - x[0, 0]) > 7.0]
        text = plain(reader.pages[0].extract_text())
        assert ("hPa" in text) == ("kt" in text.replace(" kt ", "", 1)) == stated
    assert len(lines[True]) >= 12, "loads out, hand signals, ten initials"
    # head 5, rigging and total and hazmat of 2 loads 6, weather 4, altitudes of 3 places 6, comms 6, rescue 8
    assert len(lines[False]) - len(lines[True]) >= 30


def test_the_map_is_referenced_and_the_cross_stands_at_the_gap():
    made = made_drop(drops=3)
    page = front_of(made)
    assert len(page.maps) == 1
    assert page.maps[0].crs == made.result.grid.crs
    axes = page.figure.axes[0]
    crosses = [p for p in axes.patches if isinstance(p, PathPatch) and p.get_linewidth() == 3.0]
    middles = np.array([p.get_path().vertices.mean(axis=0) for p in crosses])
    for drop in made.result.drops:
        away = np.hypot(*(middles - (drop.place.x_m, drop.place.y_m)).T)
        assert away.min() < 0.5, "metres"
        assert np.hypot(*(middles - (drop.set_place.x_m, drop.set_place.y_m)).T).min() > 40.0
        b = page.maps[0].bounds
        assert b.west < drop.place.x_m < b.east and b.south < drop.place.y_m < b.north


def test_the_scale_of_the_map_is_that_of_its_box():
    for wishes in ({}, {"drops": 4}, {"drops": 3, "far": True}, {"drops": 1, "base": False}):
        page = front_of(made_drop(**wishes))
        (shown,) = page.maps
        across = shown.bounds.width / shown.box.width
        assert across == pytest.approx(shown.bounds.height / shown.box.height, rel=1e-9)
        assert 5.0 <= across <= 100.0, "1:5,000 to 1:100,000"


def test_a_base_off_the_map_is_pointed_to():
    made = made_drop(drops=3, far=True)
    home = made.result.rounds[-1].legs[-1]
    front = texts("far")[0]
    assert f"to base {home.distance_m / NAUTICAL:.2f} nm, {round(home.true_bearing_deg):03d}° T" in front


def test_wires_that_were_not_looked_for_are_no_good_news():
    bare = texts("bare")
    assert "WIRES NOT SEARCHED" in bare[0] and "wires NOT searched" in bare[0]
    assert "power lines NOT SEARCHED" in " ".join(bare)
    none = texts(drops=2, wires="none in data")
    assert "wires: none in data" in none[0] and "hold no wires; they are not complete" in " ".join(none)
    for pages in (bare, none):
        assert re.search(r"\bno wires (near|here|found)", " ".join(pages), re.IGNORECASE) is None


def test_sites_without_a_gap_are_said_on_the_front():
    pages = texts(drops=1, none=1)
    assert "NO DROP POINT for DH-90: The widest gap within 492 ft is 21 ft wide; 39 ft is asked for." in pages[0]


def test_warnings_without_room_are_pointed_to():
    pages = texts("flags")
    assert "More to be warned of: see the back." in pages[0]
    assert all(f"grown since. ({k + 1})" in " ".join(pages[1:]) for k in range(1, 9))


def test_loads_over_the_limit_are_said_and_not_counted():
    made = made_drop(drops=3, over=True, parts=2)
    pages = texts("over")
    (over,) = made.result.over_limit
    assert f"OVER THE STATED LIMIT, not flown: load {over.number}" in pages[0]
    assert "loads in 6: " in pages[0]
    assert f"OVER THE LIMIT, not flown: load {over.number}, 3 DH-03, 926 lb." in " ".join(pages[1:])


def test_a_load_over_the_stated_limit_is_said_without_a_base_too(tmp_path):
    made = made_drop(drops=1, base=False)
    heavy = tuple(replace(load, items_kg=400.0) for load in made.result.loads)
    assert "OVER THE STATED LIMIT" in pages_of(changed(made, loads=heavy), tmp_path / "a.pdf")[0]


def test_every_load_stands_in_the_table_on_front_or_back():
    made = made_drop(drops=4, parts=6, items=6)
    pages = texts("many loads")
    assert "the same table goes on on the back" in pages[0]
    rows = re.findall(r"F\d+ / [12]\b", " ".join(pages))
    assert len(rows) == len(made.result.loads) == 24


def test_loads_that_nobody_flies_have_no_release_order():
    assert re.search(r"F\d+ / \d", texts("no base")[0]) is None
    assert re.search(r"flight 0|load 0|F0", " ".join(texts("no base"))) is None


def test_no_load_at_all_is_said(tmp_path):
    made = changed(made_drop(drops=1), loads=(), rounds=())
    pages = pages_of(made, tmp_path / "a.pdf")
    assert "No load is planned for these drops." in pages[0]
    assert "No flight serves these drops." in " ".join(pages)


def test_a_place_stated_but_not_worked_out_is_printed_as_stated(tmp_path):
    made = changed(made_drop(drops=1), evacuation=None)
    assert "36.21050 N 92.75450 W" in pages_of(made, tmp_path / "a.pdf")[0]


# The back


def test_the_back_names_what_was_and_what_was_not_searched():
    back = texts("four")[1]
    for words in (
        "NOT COMPLETE.", "power lines not complete walked by the operator", "2026-08-02", "roads and tracks", *NEVER,
        *RULES,
    ):  # fmt: skip
        assert words in back, words


def test_the_back_has_every_fact_of_a_drop():
    made = made_drop()
    (drop,) = made.result.drops
    whole = " ".join(texts("one")[1:])
    landing = drop.landings[0]
    for words in (
        "51 ft across, floor slopes 6 %", "tallest within 197 ft: 62 ft", "150 ft, a suggestion, the pilot decides",
        drop.point.wires.text, "203 ft at", "under trees: NOT the drop point",
        "3 trips of the crew, 43 lb on a back, 13 min in all",
        "374 ft to the set", *drop.flags, f"1a: {landing.place.ddm}, USNG {landing.place.usng}",
        "Type 3: pad 15 ft square, circle 75 ft", "8:1 approach surface, a screen only", "Power line: 298 ft at",
    ):  # fmt: skip
        assert plain(words) in whole, words


def test_approaches_are_true_bearings_joined():
    """Kept are 150, 165 and 180 degrees grid; grid north lies 0.14 degrees east of true north there."""
    (drop,) = made_drop().result.drops
    kept = [a.bearing_deg for a in drop.landings[0].found.below_surface]
    assert kept == [150.0, 165.0, 180.0] and abs(drop.place.convergence_deg) < 0.5
    assert "ground known and below it outward at 150° to 180° T." in " ".join(texts("one")[1:])


def test_no_landing_place_is_said_without_comfort():
    assert "none found within 1,310 ft in the heights there are (Type 3)" in " ".join(texts("no landing"))


def test_a_declination_that_the_plan_states_is_used_and_said():
    """Magnetic bearing is true bearing less declination, east positive: `east is least`."""
    made = made_drop(drops=2, turn=4.0)
    pages = texts(drops=2, turn=4.0)
    assert "magnetic 4.0° east of true (stated in the plan)" in pages[0]
    for drop in made.result.drops:
        true = round(drop.set_bearing_deg)
        assert f"203 ft at {true:03d}° T / {round(drop.set_bearing_deg - 4.0):03d}° M, under trees" in pages[1]


@pytest.mark.parametrize("turn", [None, 4.0])
def test_legs_have_both_miles_and_both_norths(turn):
    made = made_drop(drops=4, turn=turn)
    whole = " ".join(texts(drops=4, turn=turn)[1:])
    for flight in made.result.rounds:
        for leg in flight.legs:
            far = leg.distance_m / MILE
            ground = f"{far:.1f} mi" if far >= 0.5 else f"{leg.distance_m / FOOT:,.0f} ft"
            turn = ((round(leg.true_bearing_deg) - 1) % 360 + 1, (round(leg.magnetic_bearing_deg) - 1) % 360 + 1)
            row = f"{leg.distance_m / NAUTICAL:.2f} nm {ground} {turn[0]:03d}° T {turn[1]:03d}° M"
            assert row in whole, row
        assert f"F{flight.number}: loads {', '.join(map(str, flight.loads))}, {flight.minutes:.1f} min" in whole


def test_without_a_base_there_are_no_legs():
    whole = " ".join(texts("no base"))
    assert "No base is stated: flights, legs and their order are not worked out." in whole
    assert " nm " not in " ".join(texts("no base")[1:])


def test_without_a_speed_the_time_is_not_known():
    assert "time not known, no speed stated" in " ".join(texts(drops=2, stated=False))


def test_slips_are_printed_with_how_far_off_they_land():
    made = made_drop(drops=4)
    whole = " ".join(texts("four")[1:])
    for drop in made.result.drops:
        for slip in drop.misreads:
            if slip.off_m is None:
                row = f"{slip.written} {slip.read_as} cannot be read so"
            else:
                row = f"{slip.written} {slip.read_as} {slip.text.rsplit(' is ', 1)[-1]}"
            assert plain(row) in whole, row
    worst = max(s.off_m or 0.0 for s in made.result.drops[0].misreads)
    assert f"{worst / MILE:,.0f} mi" in whole


def test_a_horizon_that_is_not_known_is_said():
    assert "NOT KNOWN: no terrain" in " ".join(texts("bare"))
    share = int(made_drop(drops=4).result.drops[0].light.known_share * 100)
    assert f"known on {share} % of bearings" in " ".join(texts("four"))


def test_first_and_last_sun_are_those_of_the_result():
    whole = " ".join(texts("four"))
    for n, drop in enumerate(made_drop(drops=4).result.drops, start=1):
        local = [
            t - dt.timedelta(hours=6) + dt.timedelta(seconds=30) for t in (drop.light.first_sun, drop.light.last_sun)
        ]
        assert f"{n} {drop.site} {local[0]:%H:%M} {local[1]:%H:%M} known on" in whole


def test_every_item_is_listed_with_its_mass():
    whole = " ".join(texts("four"))
    for words in (
        "net with its top rope 1 68 lb 68 lb",
        "rope 3 5.7 lb est. 17 lb est.",
        "1 loppers, 2 drinking water",
    ):
        assert words in whole, words


def test_an_item_of_unknown_mass_is_not_nought(tmp_path):
    made = made_drop(drops=1)
    (load,) = made.result.loads
    item = replace(load.items[0].item, item="hoist", dry_kg=None)
    made = changed(made, loads=(replace(load, items=(*load.items, SlungItem(item=item, count=1))),))
    assert "hoist 1 not known not known" in " ".join(pages_of(made, tmp_path / "a.pdf"))


def test_an_order_that_is_not_proven_is_said(tmp_path):
    made = changed(made_drop(drops=2), is_least=False)
    assert "is not proven" in " ".join(pages_of(made, tmp_path / "a.pdf"))


def test_a_carry_that_is_barred_or_was_not_asked_for():
    assert "Not reachable on foot: the nearest way is barred by Dunnock Creek." in " ".join(texts("bare"))
    assert "carry not worked out" in " ".join(texts(drops=1, carry="not asked"))


def test_no_drop_at_all_is_one_page_with_the_reasons():
    (page,) = texts("no gap")
    for words in ("NO DROP POINT for any site", "DH-90: The widest gap", "DH-92", "NOT COMPLETE", *RULES):
        assert words in page, words


# Both


def test_long_names_stand_whole_somewhere():
    pages = texts("long")
    whole = " ".join(pages)
    for words in ("mission", "objective", "abort", "hospital", "kit", "following"):
        assert f"{words}: {LONG_NAME}" in whole, words
    for drop in made_drop(**CASES["long"]).result.drops:
        assert drop.site in whole


def test_metric_has_feet_beside_metres_and_kilograms():
    made = made_drop(drops=4, units="metric")
    pages = texts("metric")
    whole = " ".join(pages)
    for drop in made.result.drops:
        assert f"{drop.point.elevation_m / FOOT:,.0f} ft ({drop.point.elevation_m:,.0f} m)" in pages[0]
    for words in ("TOTAL kg", "nm", " km", "kt", "inHg", "19 kg on a back"):
        assert words in whole, words
    assert re.search(r"\d (lb|mi)\b", whole) is None


@pytest.mark.parametrize(("paper", "size_mm"), [("letter", (215.9, 279.4)), ("a4", (210.0, 297.0))])
def test_paper_size(tmp_path, paper, size_mm):
    """Letter is 8.5 by 11 in (ANSI/ASME Y14.1 size A); A4 is 210 by 297 mm (ISO 216)."""
    made = made_drop(drops=1, paper=paper)
    print_drop_brief(made.result, made.overview, tmp_path / "a.pdf")
    for page in PdfReader(tmp_path / "a.pdf").pages:
        box = page.mediabox
        assert (float(box.width) / 72 * 25.4, float(box.height) / 72 * 25.4) == pytest.approx(size_mm, abs=0.02)


def test_same_bytes_twice_whatever_the_settings(tmp_path):
    made = made_drop(drops=2)
    print_drop_brief(made.result, made.overview, tmp_path / "a.pdf")
    with matplotlib.rc_context({"font.size": 20, "pdf.fonttype": 3, "lines.linewidth": 9}):
        print_drop_brief(made.result, made.overview, tmp_path / "b.pdf")
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()
    info = PdfReader(tmp_path / "a.pdf").metadata
    assert info.creation_date.date() == DATE
    assert info.title == "Drop brief, Dunnock Hollow Ranch"
