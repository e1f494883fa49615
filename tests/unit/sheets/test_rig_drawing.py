"""The drawing of a rig plan: exact scale, every number and letter, norths, a legend of what is drawn."""

import math

import numpy as np
import pytest
from matplotlib.path import Path
from paper import stroked
from pypdf import PdfReader
from rig_plans import RigWish, made_plan, made_result, with_plan

from boscage.model.rig import Stem
from boscage.sheets import rigmarks
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.rig_sheet import print_rig_sheets
from boscage.sheets.rigkey import legend_rows, scale_words
from boscage.sheets.riglabels import draw_labels
from boscage.sheets.rigplan import RIG_SCALES, draw_rig, rig_frame
from boscage.sheets.rigwords import (
    RigTape,
    bearing_words,
    bearing_zero_deg,
    declination_words,
    share_words,
    true_north_deg,
)

BOX = Box(12.0, 60.0, 128.0, 130.0)


def sketched(**wishes):
    plan = made_plan(RigWish(**wishes))
    page = Page("letter")
    frame = rig_frame(plan, BOX.width, BOX.height)
    with own_settings():
        sketch = draw_rig(page.axes(BOX), frame, plan, RigTape(plan and wishes.get("units", "us")))
        draw_labels(sketch)
    return sketch


def words_on(sketch):
    return [t.get_text() for t in sketch.axes.texts]


@pytest.mark.parametrize("wishes", [{}, {"radius_m": 6.0, "units": "metric", "paper": "a4"}, {"guy_m": 12.0}])
def test_ring_in_the_file_is_to_the_printed_scale(tmp_path, wishes):
    """A regular hexagon of radius R has sides R (Euclid IV.15), measured in the PDF's own points of 1/72 inch."""
    result = made_result(built=0, **wishes)
    target = tmp_path / "a.pdf"
    print_rig_sheets([result], target, date=None)
    reader = PdfReader(target)
    page = reader.pages[0]
    rings = [p for p in stroked(reader, page, rigmarks.RING.width_pt) if len(p) >= 6]
    assert len(rings) == 1
    sides = np.hypot(*(np.roll(rings[0][:6], -1, axis=0) - rings[0][:6]).T)
    scale = float(page.extract_text().split("1:")[1].split(" ")[0])
    assert scale in RIG_SCALES
    assert sides * scale / 1000.0 == pytest.approx(result.plan.ring.spans[0].length_m, rel=2e-4)
    assert result.plan.ring.spans[0].length_m == pytest.approx(wishes.get("radius_m", 2.8), rel=1e-9)


def test_scale_bars_in_the_file_are_as_long_as_they_say(tmp_path):
    """A foot is 0.3048 m exactly (NIST SP 811, 2008, B.6). The bars are the only boxes 1.3 mm high."""
    target = tmp_path / "a.pdf"
    print_rig_sheets([made_result()], target, date=None)
    reader = PdfReader(target)
    text = reader.pages[0].extract_text()
    scale = float(text.split("1:")[1].split(" ")[0])
    boxes = [p for p in stroked(reader, reader.pages[0], 0.5) if len(p) >= 4]
    bars: dict[float, float] = {}
    for box in boxes:
        width, height = np.ptp(box, axis=0)
        if height == pytest.approx(1.3, abs=0.01):
            bars[round(float(box[:, 1].max()), 2)] = bars.get(round(float(box[:, 1].max()), 2), 0.0) + width
    upper, lower = (bars[y] * scale / 1000.0 for y in sorted(bars, reverse=True))
    assert "10 ft" in text
    assert "4 m" in text
    assert upper == pytest.approx(10 * 0.3048, rel=2e-4)
    assert lower == pytest.approx(4.0, rel=2e-4)


def test_trunks_are_to_scale():
    sketch = sketched()
    stem = sketch.plan.contacts[4].stem
    paths = [p for p in sketch.axes.patches if p.get_facecolor()[:3] == pytest.approx((0x11 / 255,) * 3)]
    at = [p.get_path().get_extents() for p in paths]
    widths = [e.width for e in at if math.dist(((e.x0 + e.x1) / 2, (e.y0 + e.y1) / 2), (stem.x_m, stem.y_m)) < 1e-6]
    assert widths == pytest.approx([stem.dbh_m], rel=1e-6)


@pytest.mark.parametrize(
    "wishes",
    [{}, {"contacts": 14, "built": 10, "stems": 60, "long_ids": True}, {"contacts": 5, "posts": 2, "built": 2},
     {"contacts": 14, "built": 10, "stems": 60, "radius_m": 6.0, "guy_m": 9.0}],
)  # fmt: skip
def test_every_number_and_letter_is_on_the_drawing(wishes):
    sketch = sketched(**wishes)
    words = words_on(sketch)
    bold = [t.get_text() for t in sketch.axes.texts if t.get_weight() == "bold"]
    assert sorted(int(w) for w in bold if w.isdigit()) == [c.number for c in sketch.plan.contacts]
    assert sorted(w for w in bold if len(w) == 1 and w.isalpha()) == [s.label for s in sketch.plan.supports]
    assert words.count("pivot") == words.count("closure") == 1


def test_ids_without_room_are_counted_and_never_cut():
    sketch = sketched(stems=60, long_ids=True, radius_m=6.0)
    seen = [s for s in sketch.plan.nearby if sketch.frame.holds(s.x_m, s.y_m)]
    assert not [w for w in words_on(sketch) if "…" in w]
    halves = [w for w in words_on(sketch) if w.startswith("W-stem")]
    assert len(halves) + sketch.unnamed == len(seen)
    assert sketch.unnamed > 0


def test_frame_shows_ring_and_ends_of_lines_not_far_off():
    plan = made_plan(RigWish(guy_m=1.5))
    frame = rig_frame(plan, BOX.width, BOX.height)
    assert all(frame.holds(*p) for p in plan.ring.outline)
    assert all(frame.holds(s.tie.x_m, s.tie.y_m) for s in plan.supports)


def test_far_ends_are_named_where_the_line_leaves_the_frame():
    sketch = sketched(guy_m=20.0, stems=0)
    assert len(sketch.cut) == 3
    assert sum(w.startswith("to stem") for w in words_on(sketch)) == 3
    assert all(sketch.frame.holds(*p) for p in sketch.plan.ring.outline)


def test_scale_is_the_largest_round_one_that_fits():
    plan = made_plan(RigWish(built=0))
    frame = rig_frame(plan, BOX.width, BOX.height)
    larger = RIG_SCALES[RIG_SCALES.index(int(frame.scale)) - 1]
    xs = [c.stem.x_m + s * c.stem.radius_m for c in plan.contacts for s in (-1, 1)]
    ys = [c.stem.y_m + s * c.stem.radius_m for c in plan.contacts for s in (-1, 1)]
    need = max((max(xs) - min(xs)) / (BOX.width - 16), (max(ys) - min(ys)) / (BOX.height - 16)) * 1000
    assert larger < need <= frame.scale


@pytest.mark.parametrize(("declination", "convergence"), [(-0.6, 0.4), (12.5, -1.0), (0.0, 0.0)])
def test_norths_follow_from_the_printed_bearings(declination, convergence):
    """Magnetic = grid + convergence - declination (US Army FM 3-25.26, 2005, 6-6, in signs; from memory)."""
    plan = made_plan(RigWish(declination_deg=declination, convergence_deg=convergence, crs="EPSG:32615"))
    assert bearing_zero_deg(plan) == pytest.approx(declination - convergence, abs=1e-9)
    assert true_north_deg(plan) == pytest.approx(-convergence, abs=1e-9)


def test_legend_has_what_is_drawn_and_nothing_else():
    few = {e.words for e in legend_rows(sketched(contacts=3, built=0, stems=0))}
    assert few == {"contact number", "contact tree", "strap", "top rope", "apron stakes", "closure", "pivot"}
    many = {e.words for e in legend_rows(sketched(contacts=6, built=5, stems=20))}
    assert {
        "dead tree",
        "leaning tree",
        "sapling",
        "guyed sapling",
        "high rope",
        "guy line",
        "guy stake",
        "post",
    } <= many


def test_a_dead_tree_is_not_drawn_as_one_that_could_hold():
    dead = Stem(stem="9", x_m=0.0, y_m=0.0, dbh_m=0.5, kind="dead")
    thin = Stem(stem="8", x_m=0.0, y_m=0.0, dbh_m=0.05)
    assert rigmarks.stem_kind(dead, 0.1) == "dead"
    assert rigmarks.stem_kind(thin, 0.1) == "thin"
    assert rigmarks.stem_kind(Stem(stem="7", x_m=0.0, y_m=0.0, dbh_m=0.1), 0.1) == "tree"


def test_closure_bars_stand_across_both_ways():
    ways = np.array([[1.0, 0.0], [0.0, 1.0]])
    path = rigmarks.closure_bars(ways, off=1.0, half=2.0)
    lines = np.asarray(path.vertices)[path.codes != Path.STOP].reshape(2, 2, 2)
    for line, way in zip(lines, ways, strict=True):
        assert line.mean(axis=0) == pytest.approx(way)
        assert (line[1] - line[0]) @ way == pytest.approx(0.0)


def test_words_of_figures():
    """Pound-force 4.448 221 615 260 5 N and foot 0.3048 m exactly, inch 0.0254 m (NIST SP 811, 2008, B.8)."""
    us, metric = RigTape("us"), RigTape("metric")
    assert (us.far(3.048), us.far(2.286), metric.far(2.286)) == ("10.0 ft", "7.5 ft", "2.29 m")
    assert (us.thick(0.254), metric.thick(0.254)) == ("10.0 in", "25 cm")
    assert (us.force(50 * 4.4482216152605), metric.force(222.4)) == ("50 lbf", "220 N")
    assert us.stock(12 * 0.3048) == "12 ft"
    assert [bearing_words(d) for d in (0.0, 359.8, 41.24, 41.26, 180.0)] == [
        "000.0°", "000.0°", "041.0°", "041.5°", "180.0°",
    ]  # fmt: skip
    assert [share_words(s) for s in (0.0, 0.0001, 0.9999, 1.0)] == ["0 %", "1 %", "99 %", "100 %"]


def test_inch_scale_words_are_exact():
    """One inch of paper at 1:n stands for n inches, n / 12 feet."""
    assert scale_words(75.0, RigTape("us")) == "1:75 (1 in = 6.25 ft)"
    assert scale_words(100.0, RigTape("metric")) == "1:100 (1 cm = 1 m)"


def test_declination_is_said_or_said_to_be_missing():
    stated, not_stated = made_plan(RigWish()), made_plan(RigWish(stated=False, declination_deg=0.0))
    assert declination_words(stated) == "Bearings are magnetic. Declination used: 0.6° west."
    assert "Declination not stated: 0 used, bearings are true" in declination_words(not_stated)


def test_pivot_at_a_contact_tree_has_no_bearing(tmp_path):
    result = made_result()
    first = result.plan.contacts[0].stem
    moved = with_plan(result, pivot=(first.x_m, first.y_m), pivot_stem=first.stem)
    print_rig_sheets([moved], tmp_path / "a.pdf", date=None)
    assert "at the pivot" in PdfReader(tmp_path / "a.pdf").pages[0].extract_text()
