"""What a map shows, and that it still differs in black and white."""

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
import shapely
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.lines import Line2D
from matplotlib.patches import Circle

from boscage.sheets.content import MapContent
from boscage.sheets.features import sign_ages
from boscage.sheets.frame import MapFrame
from boscage.sheets.legend import entries
from boscage.sheets.mapdraw import draw_map
from boscage.sheets.page import Box, Page
from boscage.sheets.pdf import own_settings
from boscage.sheets.shapes import area_path, clip, draw_area
from boscage.sheets.sitetext import compass_point
from boscage.sheets.style import AREAS, LINES, PERMISSION_LETTERS
from boscage.sheets.symbols import sign_paths
from boscage.values import Printer

WEST, SOUTH = 520_000.0, 4_006_000.0
WHOLE = MapFrame.centred(WEST + 3000, SOUTH + 3000, scale=45_000, width_mm=140, height_mm=140)


def drawn(content, frame=WHOLE):
    page = Page("letter")
    axes = page.axes(Box(20, 30, frame.width_mm, frame.height_mm))
    return axes, draw_map(axes, frame, content)


def grey(page):
    """The page as a printer without colour sees it, 0 black to 255 white (ITU-R BT.601 luma, weights from memory)."""
    canvas = FigureCanvasAgg(page.figure)
    page.figure.set_dpi(200)
    canvas.draw()
    return np.asarray(canvas.buffer_rgba())[..., :3] @ np.array([0.299, 0.587, 0.114])


def test_every_layer_shows_and_is_in_the_legend(make):
    made = make(sites=3, missing=())
    content = MapContent(backdrop=made.overview, stops=made.result.stops, sites=made.result.sites)
    _, key = drawn(content)
    assert key.shown == {
        "granted", "refused", "unknown", "ruled_out", "no_go", "pond", "creek", "creek_dry", "road", "track", "trail",
        "fence", "gate", "gate_locked", "power_line", "dwelling", "site",
    }  # fmt: skip
    assert key.sign_kinds == set(sign_paths())
    assert key.has_relief
    words = [e.words for e in entries(key, Printer("us"))]
    for word in ("ranked site", "NO: permission refused", "power line", "dwelling", "sign: wallow", "ruled out"):
        assert word in words
    assert len(words) == len(set(words))


def test_a_bare_map_has_only_what_is_there(make):
    layers = ("tracks", "gates", "fences", "water", "dwellings", "power_lines", "no_go", "sign")
    made = make(sites=0, bare=True, missing=layers)
    _, key = drawn(MapContent(backdrop=made.overview))
    assert key.shown == {"granted", "refused", "unknown"}
    assert not key.has_relief
    assert key.canopy == ""
    assert key.contour_interval_m is None


def test_the_three_permissions_differ_by_line_hatch_and_letter():
    looks = [AREAS[s] for s in ("granted", "refused", "unknown")]
    assert len({(look.hatch) for look in looks}) == 3
    assert len({look.outline.dashes for look in looks}) == 3
    assert len(set(PERMISSION_LETTERS.values())) == 3
    assert LINES["road"] != LINES["track"] != LINES["trail"]


def test_the_three_permissions_differ_in_grey():
    """The share of inked paper inside an area, without its outline, tells the three apart."""
    patches = []
    with own_settings():
        for state in ("granted", "refused", "unknown"):
            page = Page("a4")
            axes = page.axes(Box(20, 20, 60, 60))
            axes.set_xlim(0, 60)
            axes.set_ylim(0, 60)
            draw_area(axes, area_path([shapely.box(2, 2, 58, 58)]), AREAS[state], 1.0)
            patches.append(grey(page)[160:630, 160:630])
    inked = [float((p[60:-60, 60:-60] < 215).mean()) for p in patches]
    assert inked[0] == 0.0
    for a, b in combinations(inked, 2):
        assert abs(a - b) > 0.02


def test_the_ring_is_drawn_to_scale(make):
    made = make(sites=1, bare=True)
    site = made.result.sites[0]
    radius = made.result.plan.net.radius_m
    frame = MapFrame.centred(site.place.x_m, site.place.y_m, scale=2500, width_mm=100, height_mm=90)
    axes, _ = drawn(
        MapContent(backdrop=made.closeups[site.site], focus=site, sites=made.result.sites, ring_radius_m=radius), frame
    )
    rings = [p for p in axes.patches if isinstance(p, Circle)]
    assert {p.get_radius() for p in rings} == {radius}
    low, high = axes.transData.transform([(0, 0), (2 * radius, 0)])[:, 0]
    assert (high - low) / 72 * 25.4 == pytest.approx(18.288 / np.pi / 2.5, rel=1e-6)


def test_fresh_sign_is_filled_and_old_sign_hollow(make):
    made = make(sites=0, bare=True, missing=("power_lines",))
    axes, _ = drawn(MapContent(backdrop=made.overview))
    marks = [a for a in axes.get_children() if isinstance(a, Line2D)]
    wallow = sign_paths()["wallow"]
    fills = {m.get_markerfacecolor(): len(m.get_xdata()) for m in marks if m.get_marker() is wallow}
    ages = list(made.overview.vectors["sign"].query("kind == 'wallow'")["age_days"])
    assert fills["#111111"] == sum(a <= 3 for a in ages)
    assert fills["#a8a8a8"] == sum(3 < a <= 14 for a in ages)
    assert fills["#ffffff"] == sum(a > 14 for a in ages)


def test_sign_without_a_date_or_from_the_future_has_no_age(make):
    made = make(sites=0, bare=True)
    sign = made.overview.vectors["sign"].head(3).copy()
    sign["age_days"] = [2.0, float("nan"), -4.0]
    assert sign_ages(sign, made.overview.date) == [2.0, None, None]
    dated = sign.drop(columns="age_days").assign(date=["2026-11-20", None, "soon"])
    assert sign_ages(dated, made.overview.date) == [1.0, None, None]
    assert sign_ages(sign[["geometry"]], made.overview.date) == [None, None, None]


def test_crowded_sites_are_all_numbered_once(make):
    made = make(sites=16, close=True, bare=True)
    axes, key = drawn(MapContent(backdrop=made.overview, sites=made.result.sites))
    numbers = sorted(int(t.get_text()) for t in axes.texts if t.get_text().isdigit())
    assert numbers == list(range(1, 17))
    assert key.sites_left_out == []


def test_blank_access_counts_as_unknown(make):
    made = make(sites=0, bare=True)
    parcels = made.overview.vectors["parcels"].assign(access=None)
    _, key = drawn(MapContent(backdrop=replace(made.overview, vectors={"parcels": parcels})))
    assert key.shown == {"unknown"}


def test_holes_stay_holes():
    """A ring's area is that of the outer square less that of the hole (shoelace formula on the path's parts)."""
    square = shapely.box(0, 0, 10, 10) - shapely.box(4, 4, 6, 6)
    path = area_path([square])
    area = 0.0
    for part in path.to_polygons(closed_only=False):
        x, y = part.T
        area += 0.5 * float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))
    assert area == pytest.approx(96.0)


def test_clipping_keeps_order_and_what_lies_outside_is_empty():
    frame = MapFrame.centred(0, 0, scale=1000, width_mm=100, height_mm=100)
    got = clip([shapely.Point(0, 0), None, shapely.Point(900, 0)], frame)
    assert [g.is_empty for g in got] == [False, True, True]


def test_compass_points_are_the_sixteen_of_the_wind_rose():
    """Sixteen points, 22.5 degrees from one to the next: the definition, from memory."""
    names = [compass_point(22.5 * k) for k in range(16)]
    assert names[:5] == ["N", "NNE", "NE", "ENE", "E"]
    assert len(set(names)) == 16
    assert compass_point(359.0) == "N"
    assert compass_point(11.0) == "N"
    assert compass_point(12.0) == "NNE"
