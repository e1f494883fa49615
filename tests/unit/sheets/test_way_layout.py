"""The page on the way in: nothing overlaps, nothing is cut or small, whatever the way and whoever looks."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from matplotlib.text import Text
from paper import outside, overlaps, strays, text_boxes

from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.typeset import ELLIPSIS
from boscage.sheets.waylayout import plan_way_page
from boscage.sheets.waypage import way_sheets
from boscage.sheets.waytable import LEAST_PT

CASES = {
    "plain": {}, "metric": {"units": "metric"}, "us_a4": {"paper": "a4"}, "one": {"way": "one"},
    "one_metric": {"way": "one", "units": "metric"}, "barred": {"way": "barred"}, "unknown": {"way": "unknown"},
    "nobody": {"seen": "nobody"}, "not_looked": {"seen": "unknown"}, "blank": {"way": "unknown", "seen": "unknown"},
    "bare": {"bare": True, "missing": ("tracks", "dwellings", "water", "terrain")}, "long": {"long": True},
    "long_barred": {"long": True, "way": "barred", "units": "metric"},
}  # fmt: skip
FOOT_MM = 17.0
HEAD_MM = 18.0


def hardened(made):
    """Many trips, many gates, a hole in the terrain, nobody mapped near."""
    site = made.result.sites[0]
    ride = site.journey.inward[1]
    height = ride.elevation_m.copy()
    height[30:70] = np.nan
    legs = (site.journey.inward[0], replace(ride, elevation_m=height), site.journey.inward[2])
    gates = tuple(f"gate {k} on the upper lane (locked: get the key or the code)" for k in range(40))
    journey = replace(
        site.journey, inward=legs, trips=4, load_kg=181.4, share_kg=22.7, carry_min=157.0, kcal=1834.0, crossings=gates
    )  # fmt: skip
    none = np.zeros((0, 2))
    seen = replace(site.exposure, watchers=none, shares=none[:, 0], worst=(), net_looks=0.0, activity_looks=0.0)
    site = replace(site, journey=journey, exposure=seen)
    return replace(made, result=replace(made.result, sites=(site,)))


def way_pages(made):
    sheets = way_sheets(made.result, made.result.sites[0], made.overview)
    pages = []
    with own_settings():
        for number, sheet in enumerate(sheets, start=5):
            page = Page(made.result.plan.paper, number=number, of=4 + len(sheets))
            sheet.draw(page)
            pages.append(page)
    return pages


@pytest.fixture(scope="module", params=[*CASES, "hard"])
def case(request, make):
    name = request.param
    return name, way_pages(hardened(make(sites=1)) if name == "hard" else make(sites=1, **CASES[name]))


def test_no_text_overlaps_or_leaves_its_place(case):
    name, pages = case
    with own_settings():
        for page in pages:
            texts, boxes = text_boxes(page)
            assert overlaps(texts, boxes) == [], name
            assert outside(page, texts, boxes) == [], name
            assert strays(page) == [], name


def test_no_type_is_under_seven_points(case):
    """Between head and foot; the foot is the same on every page."""
    name, pages = case
    for page in pages:
        high = page.height_mm / 25.4 * 72
        small = []
        for text in page.figure.findobj(Text):
            if not text.get_text().strip() or text.get_fontsize() >= LEAST_PT:
                continue
            y = text.get_transform().transform(text.get_position())[1]
            if FOOT_MM / 25.4 * 72 < y < high - HEAD_MM / 25.4 * 72:
                small.append((text.get_text(), text.get_fontsize()))
        assert small == [], name


def test_no_words_of_ours_are_cut(case):
    """Only a parcel's name on a map and the ranch's in head and foot may be; each stands whole on the front."""
    name, pages = case
    for page in pages:
        cut = [t.get_text() for t in page.figure.findobj(Text) if ELLIPSIS in t.get_text()]
        assert (
            all("Dunnock Hollo" in words or "homestead tracts" in words for words in cut) if "long" in name else not cut
        )


def test_boxes_stay_apart_and_on_the_body(make):
    for wishes in CASES.values():
        made = make(sites=1, **wishes)
        laid = plan_way_page(made.result, made.result.sites[0])
        low = laid.body.bottom + 1e-6
        for box in (laid.map_box, laid.side_box, laid.sight_box):
            assert box is None or (box.bottom <= low and box.right <= laid.body.right + 1e-6)
        if laid.map_box is not None:
            assert laid.map_box.right < laid.side_box.x
            assert laid.map_box.bottom < laid.seen_top
            assert laid.map_box.height >= 84.0 - 1e-6
        if laid.sight_box is not None:
            assert laid.sight_box.y > laid.seen_top
            assert laid.sight_box.height >= 60.0 - 1e-6
        for item in laid.placed:
            assert item.y + item.block.height_mm <= low


def test_text_and_key_never_run_into_anything(make):
    """Whatever the number of gates and the length of names: text stays left of the map, above the foot, in order."""
    made = make(sites=1)
    site = made.result.sites[0]
    for gates in (0, 5, 13, 21, 40):
        for letters in range(0, 200, 13):
            crossings = tuple(f"gate {k} (locked: get the key or the code)" for k in range(gates))
            worst = tuple(replace(s, name="timber " * (letters // 7)) for s in site.exposure.worst)
            changed = replace(
                site, journey=replace(site.journey, crossings=crossings), exposure=replace(site.exposure, worst=worst)
            )
            laid = plan_way_page(replace(made.result, sites=(changed,)), changed)
            ends = [(p.y, p.y + p.block.height_mm) for p in laid.placed]
            assert all(a[1] <= b[0] + 1e-6 for a, b in pairwise(ends)), (gates, letters)
            assert ends[-1][1] <= laid.body.bottom - 3.6 + 1e-6, (gates, letters)
            assert laid.sight_box.bottom <= laid.body.bottom - 3.6 + 1e-6
            under = [y for y, _ in ends if y > laid.map_box.y]
            assert all(y >= laid.map_box.bottom for y in under)


def test_the_size_check_sees_small_type():
    page = Page("letter")
    page.text(50, 100, "small", replace(_style(), size_pt=6.5))
    with pytest.raises(AssertionError, match="small"):
        test_no_type_is_under_seven_points(("made up", [page]))


def _style():
    from boscage.sheets.style import BODY

    return BODY
