"""What is drawn on the page on the way in: true to scale, and told apart without colour."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.lines import Line2D
from matplotlib.patches import Circle
from paper import stroked
from pypdf import PdfReader
from way_results import full_journey, make_exposure

from boscage.model.journey import ATV, FOOT, VEHICLE
from boscage.sheets.frame import ROUND_SCALES
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.sightmap import draw_sight_map, sight_frame
from boscage.sheets.style import LINES
from boscage.sheets.wayfurniture import draw_scale_bar
from boscage.sheets.waymap import draw_way_map, way_frame
from boscage.sheets.wayprofile import label_places, plan_profile, plot_box

BOX = Box(15.0, 30.0, 110.0, 100.0)


def ramp(x, y):
    return 0.1 * x


@pytest.mark.parametrize("turn", [0.0, 0.7, 1.6, 3.0])
@pytest.mark.parametrize("size", [0.05, 1.0, 7.0])
def test_the_whole_way_is_in_the_frame_at_a_round_scale(make, turn, size):
    made = make(sites=1)
    site = made.result.sites[0]
    middle = np.array([site.place.x_m, site.place.y_m])
    spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]]) * size
    legs = tuple(replace(g, line=(g.line - middle) @ spin + middle) for g in site.journey.inward)
    frame = way_frame(replace(site.journey, inward=legs), site, BOX)
    assert frame.scale in ROUND_SCALES
    across, down = np.array([frame.to_mm(x, y) for leg in legs for x, y in leg.line]).T
    at = frame.to_mm(*middle)
    for mm, place, room, margin in ((across, at[0], BOX.width, 12.0), (down, at[1], BOX.height, 9.0)):
        low, high = min(mm.min(), place), max(mm.max(), place)
        assert low >= margin - 1e-6
        assert low + high == pytest.approx(room)


def test_the_scale_bar_is_as_long_as_its_figure_says(make, tmp_path):
    """1,000 ft at 1:24,000 is 304.8 / 24 = 12.7 mm (international foot, 0.3048 m)."""
    made = make(sites=1)
    frame = replace(way_frame(made.result.sites[0].journey, made.result.sites[0], BOX), scale=24_000.0)
    page = Page("letter")
    with own_settings():
        draw_scale_bar(page, 20.0, 20.0, 36.0, frame, "us")
    texts = [t.get_text() for t in page.figure.texts + [a for a in page.figure.artists if hasattr(a, "get_text")]]
    assert any("1,000 ft" in t for t in texts)
    quarters = {round(p.get_width(), 4) for p in page.figure.patches + page.figure.artists if hasattr(p, "get_width")}
    assert quarters == {round(12.7 / 4, 4)}


def sight_map(make):
    """The first site and the axes of its map of sight lines."""
    made = make(sites=1)
    page = Page("letter")
    with own_settings():
        draw_sight_map(page, made.result, made.result.sites[0], made.overview, Box(15.0, 30.0, 60.0, 66.4))
    return made.result.sites[0], page.figure.axes[0]


def test_the_circle_is_drawn_to_scale(make):
    site, axes = sight_map(make)
    circles = [c for c in axes.patches if isinstance(c, Circle) and c.get_radius() == site.exposure.radius_m]
    assert circles
    low, high = axes.transData.transform([(0, 0), (2 * site.exposure.radius_m, 0)])[:, 0]
    frame = sight_frame(site, site.exposure, Box(0.0, 0.0, 60.0, 60.0))
    assert (high - low) / 72 * 25.4 == pytest.approx(1_200_000.0 / frame.scale, rel=1e-6)
    assert (high - low) / 72 * 25.4 < 60.0


def test_every_watcher_is_drawn_once_in_its_size(make):
    site, axes = sight_map(make)
    dots = [a for a in axes.lines if isinstance(a, Line2D) and a.get_marker() == "o"]
    sizes = {round(d.get_markersize() / 72 * 25.4, 2): len(d.get_xdata()) for d in dots}
    left = site.exposure.shares
    assert sizes == {
        2.3: int((left >= 0.5).sum()), 1.7: int(((left >= 0.1) & (left < 0.5)).sum()),
        1.15: int(((left >= 1e-4) & (left < 0.1)).sum()), 0.7: int((left < 1e-4).sum()),
    }  # fmt: skip
    assert sum(sizes.values()) == len(site.exposure.watchers)
    hollow = next(d for d in dots if round(d.get_markersize() / 72 * 25.4, 2) == 0.7)
    assert hollow.get_markerfacecolor() == "#ffffff"


def test_a_sight_line_runs_from_the_set_to_each_of_the_worst(make):
    site, axes = sight_map(make)
    place = np.array([site.place.x_m, site.place.y_m])
    paths = [p.get_path().vertices for p in axes.patches if not isinstance(p, Circle)]
    lines = [v for v in paths if any(np.allclose(v[k : k + 1], place, atol=0.01) for k in range(len(v)))]
    for seen in site.exposure.worst:
        end = (seen.x_m, seen.y_m)
        pairs = [(v[k], v[k + 1]) for v in lines for k in range(len(v) - 1)]
        assert any(np.allclose(a, place, atol=0.01) and np.allclose(b, end, atol=0.01) for a, b in pairs)
    numbers = sorted(t.get_text() for t in axes.texts if t.get_text().isdigit())
    assert numbers == ["1", "2", "3"]


def test_the_legs_differ_in_grey():
    """Share of ink along a strip over the line: the three legs and the tracks under them are told apart.

    Grey by ITU-R BT.601 luma, weights from memory.
    """
    inked = {}
    with own_settings():
        for name in ("way_vehicle", "way_atv", "way_foot", "road", "track", "trail"):
            page = Page("a4")
            for look in LINES[name]:
                page.line((20.0, 120.0), (50.0, 50.0), look)
            canvas = FigureCanvasAgg(page.figure)
            page.figure.set_dpi(300)
            canvas.draw()
            grey = np.asarray(canvas.buffer_rgba())[..., :3] @ np.array([0.299, 0.587, 0.114])
            strip = grey[550:630, 300:1350] < 128
            along, across = strip.any(axis=0).mean(), strip.sum(axis=0).max()
            inked[name] = (float(along), int(across), bool(strip[strip.shape[0] // 2].mean() < 0.05))
    for a, b in combinations(inked, 2):
        (along_a, across_a, double_a), (along_b, across_b, double_b) = inked[a], inked[b]
        differs = abs(along_a - along_b) > 0.15 or abs(across_a - across_b) >= 3 or double_a != double_b
        assert differs, (a, b, inked)
    assert inked["way_vehicle"][0] == inked["road"][0] == 1.0


def test_the_way_is_drawn_where_it_runs(make, tmp_path):
    """The first pass of the ATV's leg, read back from the PDF, lies on the leg within a tenth of a millimetre."""
    made = make(sites=1, bare=True, missing=("tracks", "water", "dwellings", "power_lines", "no_go", "sign"))
    site = made.result.sites[0]
    page = Page("letter")
    with own_settings():
        draw_way_map(page, made.result, site, made.overview, Box(15.0, 30.0, 110.0, 106.4))
        write_pdf([page], tmp_path / "a.pdf", title="t", date=made.result.plan.date)
    reader = PdfReader(tmp_path / "a.pdf")
    lines = stroked(reader, reader.pages[0], LINES["way_atv"][1].width_pt)
    frame = way_frame(site.journey, site, Box(15.0, 30.0, 110.0, 100.0))
    first, last = (frame.to_mm(*site.journey.inward[1].line[k]) for k in (0, -1))
    want = [(15.0 + x, page.height_mm - 30.0 - y) for x, y in (first, last)]
    assert any(np.allclose([line[0], line[-1]], want, atol=0.1) for line in lines)


def test_a_profile_of_a_ramp(make):
    """On ground that rises 1 in 10 to the east a way of 1,000 m due east climbs 100 m in a straight line."""
    east = np.column_stack([np.linspace(0.0, 1000.0, 51), np.zeros(51)])
    leg = replace(full_journey(0.0, 0.0, ramp).inward[0], line=east, elevation_m=ramp(east[:, 0], 0.0))
    profile = plan_profile((leg,), "metric", 100.0, 40.0)
    ((kind, run),) = profile.runs
    assert kind == VEHICLE
    assert run[[0, -1]] == pytest.approx(np.array([(0.0, 0.0), (1000.0, 100.0)]))
    assert profile.length_m == pytest.approx(1000.0)
    assert profile.gap_m == 0.0
    assert profile.across.ticks == (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
    assert profile.across.words(profile.across.ticks[-1]) == "1 km"
    assert profile.up.ticks[0] == 0.0
    assert profile.up.ticks[-1] == 100.0
    assert profile.times(100.0, 40.0) == pytest.approx((40.0 / 100.0) / (100.0 / 1000.0))


def test_a_profile_in_feet_has_round_feet(make):
    journey = full_journey(0.0, 0.0, ramp)
    profile = plan_profile(journey.inward, "us", 60.0, 30.0)
    steps = np.diff(profile.up.ticks)
    assert np.allclose(steps, steps[0])
    assert np.allclose(np.array(profile.up.ticks) % steps[0], 0.0)
    assert str(int(steps[0]))[0] in "125"
    heights = np.concatenate([run[:, 1] for _, run in profile.runs])
    assert profile.low_m <= heights.min()
    assert profile.high_m >= heights.max()
    assert [kind for kind, _ in profile.runs] == [VEHICLE, ATV, FOOT]
    assert [words for _, words in profile.changes] == ["to ATV, 10 min", "on foot, 5 min"]
    assert profile.changes[0][0] == pytest.approx(journey.inward[0].distance_m)


def test_flat_ground_is_not_blown_up():
    journey = full_journey(0.0, 0.0, lambda x, y: 250.0 + 0.0 * x)
    profile = plan_profile(journey.inward, "metric", 60.0, 40.0)
    assert profile.times(60.0, 40.0) <= 40.0
    assert profile.low_m <= 250.0 <= profile.high_m


def test_gaps_are_left_out_and_counted():
    journey = full_journey(0.0, 0.0, ramp)
    ride = journey.inward[1]
    height = ride.elevation_m.copy()
    height[[0, 50, 51, 119]] = np.nan
    step = np.hypot(*np.diff(ride.line, axis=0).T)
    profile = plan_profile((replace(ride, elevation_m=height),), "metric", 60.0, 40.0)
    assert [len(run) for _, run in profile.runs] == [49, 67]
    assert profile.gap_m == pytest.approx(step[[0, 49, 50, 51, 118]].sum())
    assert plan_profile((replace(ride, elevation_m=height * np.nan),), "metric", 60.0, 40.0) is None
    assert plan_profile((), "metric", 60.0, 40.0) is None


def test_words_of_change_overs_cross_no_line():
    box = plot_box(Box(0.0, 0.0, 80.0, 50.0))
    edges = (box.x - 13.0, box.right + 4.0)
    for first in np.linspace(box.x, box.right, 23):
        for second in np.linspace(first, box.right, 23):
            places, wide = (first, second), (22.0, 21.0)
            got = label_places(places, wide, edges)
            assert sorted(row for _, row in got) == [0, 1]
            for k, (left, row) in enumerate(got):
                assert edges[0] <= left
                assert left + wide[k] <= edges[1]
                other = 1 - k
                if got[other][1] > row:
                    assert not left < places[other] < left + wide[k], (first, second)


def test_made_exposures_are_within_reach():
    """The made-up sight lines are what a result may be: all places within the radius, shares from 0 to 1."""
    made = make_exposure(0.0, 0.0)
    assert (np.hypot(*made.watchers.T) <= made.radius_m).all()
    assert ((made.shares >= 0.0) & (made.shares <= 1.0)).all()
