"""The map of use: the right pattern on the right ground, lines of equal use, marks that are never lost."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from evidence_results import HIGH_KM2, LOW_KM2, PEAKS, density_at

from boscage.model.evidence import NOTHING, SIGN
from boscage.sheets.frame import MapFrame
from boscage.sheets.groundpatterns import LEAST_STEP
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.ranchmap import LegendRoom, plan_map
from boscage.sheets.usekey import class_words
from boscage.sheets.usemap import (
    Levels,
    bait_cameras,
    camera_marks,
    draw_use_map,
    isopleth_lines,
    mark_looks,
    use_classes,
)
from boscage.sheets.usepatterns import NOT_LOOKED, USE_PATTERNS
from boscage.values import Printer

WEST, SOUTH = 520_000.0, 4_006_000.0
NAMES = list(USE_PATTERNS)


@pytest.fixture(scope="module")
def made(make):
    return make(sites=4, found="full")


def frame_of(result, scale=50_000):
    b = result.grid.bounds
    x, y = (b.west + b.east) / 2, (b.south + b.north) / 2
    return MapFrame.centred(x, y, scale=scale, width_mm=b.width / scale * 1000, height_mm=b.height / scale * 1000)


def named(made, evidence=None, scale=50_000):
    """Name of the class by cell."""
    result = made.result
    return np.array(NAMES)[use_classes(evidence or result.evidence, result.grid, frame_of(result, scale))]


def cell(made, x, y):
    return made.result.grid.index(WEST + x, SOUTH + y)


def drawn(made, evidence):
    result = replace(made.result, evidence=evidence)
    page = Page("letter")
    plan = plan_map(made.overview, Box(12.0, 30.0, 190.0, 150.0), LegendRoom())
    with own_settings():
        return page, draw_use_map(page, result, made.overview, plan)


def test_more_use_is_more_ink_and_bare_kinds_differ():
    ink = {n: 1.0 - p.paint((240, 240)).mean() / 255.0 for n, p in USE_PATTERNS.items()}
    graded = [ink[n] for n in ("high use", "middle use", "low use", "trace")]
    assert all(a - b >= LEAST_STEP for a, b in pairwise(graded))
    assert USE_PATTERNS[NOT_LOOKED].paper == 255
    assert ink[NOT_LOOKED] < 0.06
    assert len({p.tile for p in USE_PATTERNS.values()}) == len(USE_PATTERNS)


def test_breaks_are_the_isopleths(made):
    """Levels are per square metre, the density per square kilometre."""
    evidence, classes = made.result.evidence, named(made)
    levels = Levels.of(evidence)
    assert (levels.high, levels.low) == pytest.approx((HIGH_KM2, LOW_KM2))
    assert levels.low < levels.middle < levels.high
    density = evidence.density
    assert ((classes == "high use") == (density >= HIGH_KM2)).all()
    assert (np.isin(classes, ["high use", "middle use", "low use"]) == (density >= LOW_KM2)).all()
    x, y, *_ = PEAKS[0]
    assert classes[cell(made, x, y)] == "high use"


def test_searched_ground_and_ground_not_looked_at_differ(made):
    classes, looked = named(made), made.result.evidence.effort.looked
    outside = made.result.evidence.density < LOW_KM2
    assert (classes[(looked == NOTHING) & outside] == "looked, no sign").all()
    assert (looked == NOTHING).any()
    assert classes[cell(made, 3500.0, 500.0)] == NOT_LOOKED


def test_searched_ground_is_widened_but_never_over_use_or_found_sign(made):
    wide, narrow = (named(made, scale=s) == "looked, no sign" for s in (100_000, 2_000))
    assert wide.sum() > narrow.sum()
    assert not (wide & (made.result.evidence.density >= LOW_KM2)).any()
    assert not (wide & (made.result.evidence.effort.looked == SIGN)).any()


def test_a_lone_old_sign_is_not_lost(made):
    """It lies beyond the 95 % line where nothing else is."""
    place = cell(made, 600.0, 5200.0)
    assert made.result.evidence.density[place] < 0.01 * LOW_KM2
    assert named(made)[place] == "trace"


def test_without_a_searched_line_ground_without_sign_is_not_looked_at(made):
    classes = named(made, replace(made.result.evidence, effort=None))
    assert "looked, no sign" not in classes
    assert classes[cell(made, 3500.0, 500.0)] == NOT_LOOKED


def test_no_density_is_all_not_looked(made):
    none = np.full(made.result.grid.shape, np.nan, np.float32)
    classes = named(made, replace(made.result.evidence, density=none, effort=None, isopleths=()))
    assert (classes == NOT_LOOKED).all()
    assert isopleth_lines(replace(made.result.evidence, density=none), made.result.grid) == {}


def test_lines_run_where_density_is_their_level(made):
    lines = isopleth_lines(made.result.evidence, made.result.grid)
    assert set(lines) == {"half", "most"}
    for name, level in (("half", HIGH_KM2), ("most", LOW_KM2)):
        points = np.vstack(lines[name])
        assert len(points) > 50
        assert density_at(points[:, 0], points[:, 1], WEST, SOUTH) == pytest.approx(level, rel=0.02)


def test_both_lines_are_named_on_the_map(made):
    page, seen = drawn(made, made.result.evidence)
    texts = [t.get_text() for t in page.figure.axes[0].texts]
    assert {"50 %", "95 %"} <= set(texts)
    assert {"use_half", "use_most"} <= seen.key.shown


def test_every_camera_has_a_mark_and_its_number(made):
    evidence = made.result.evidence
    page, seen = drawn(made, evidence)
    texts = " ".join(t.get_text() for t in page.figure.axes[0].texts)
    for k, camera in enumerate(evidence.cameras, start=1):
        assert f"C{k}" in seen.left_out or f"C{k} {camera.name[:5]}" in texts or f"C{k}" in texts.split()
    assert seen.marks == {"camera", "camera_bait", "bait"}


def test_crowded_cameras_are_counted(made):
    camera = made.result.evidence.cameras[0]
    many = tuple(replace(camera, x_m=camera.x_m + k) for k in range(300))
    page, seen = drawn(made, replace(made.result.evidence, cameras=many))
    labels = [t.get_text() for t in page.figure.axes[0].texts if t.get_text().startswith("C")]
    assert len(seen.left_out) > 20
    assert len(labels) + len(seen.left_out) >= 300


def test_a_camera_at_bait_differs_by_shape(made):
    markers = {k: [look["marker"] for look in mark_looks(k)] for k in ("camera", "camera_bait", "bait")}
    assert len(markers["camera_bait"]) == 2
    assert markers["camera"][0] is markers["camera_bait"][1]
    assert markers["bait"][0] is markers["camera_bait"][0]


def test_bait_places_are_found_by_their_cameras_then_by_sites(made):
    evidence = made.result.evidence
    assert bait_cameras(evidence) == {0: 0, 1: 2}
    marks, unknown = camera_marks(evidence, made.result.sites)
    assert [m.label for m in marks if m.kind == "bait"] == ["B3 DH-02"]
    site = made.result.sites[1].place
    assert [(m.x_m, m.y_m) for m in marks if m.kind == "bait"] == [(site.x_m, site.y_m)]
    assert unknown == ["B4"]


def test_two_baited_cameras_of_one_name_are_two_bait_places(made):
    evidence = made.result.evidence
    twin = replace(evidence.cameras[2], name=evidence.cameras[0].name)
    two = replace(evidence, cameras=(evidence.cameras[0], twin), bait_names=(twin.name, twin.name))
    assert bait_cameras(two) == {0: 0, 1: 1}


def test_a_camera_off_the_map_is_no_part_of_it(made):
    camera = replace(made.result.evidence.cameras[0], x_m=100.0)
    _, seen = drawn(made, replace(made.result.evidence, cameras=(camera,), bait_names=()))
    assert seen.marks == set()


@pytest.mark.parametrize(("units", "per", "area"), [("us", "0.81 per 100 ac", " ac"), ("metric", "2.0 per km²", " ha")])
def test_the_legend_gives_levels_and_land(made, units, per, area):
    """A square kilometre is 247.1 acres (NIST SP 811): 2 per square kilometre is 0.81 per 100 acres."""
    words = class_words(made.result.evidence, Printer(units))
    assert per in words["high use"][1]
    assert words["high use"][1].endswith(area)
    assert "drawn wider than it is" in words["looked, no sign"][1]
    assert "NOT the same as no sign" in words[NOT_LOOKED][1]
    without = class_words(replace(made.result.evidence, effort=None), Printer(units))
    assert "no searched line" in without[NOT_LOOKED][1]
