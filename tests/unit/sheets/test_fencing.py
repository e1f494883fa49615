"""Fences and gates on the map: where they are, which way they lie, and that they differ without colour."""

from __future__ import annotations

import datetime as dt
from typing import Any

import geopandas as gpd
import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.patches import PathPatch
from shapely.geometry import LineString, Point

from boscage.model.results import Backdrop
from boscage.sheets.content import MapContent
from boscage.sheets.fencing import CROSS_EVERY_MM, CROSS_HALF_MM
from boscage.sheets.frame import MapFrame
from boscage.sheets.legend import Entry, draw_legend, entries
from boscage.sheets.mapdraw import draw_map
from boscage.sheets.page import Box, Page
from boscage.sheets.style import GATE_BAR_MM, GATE_GAP_MM, LAYER_ORDER
from boscage.values import Bounds, Grid, Printer

CRS = "EPSG:32615"
X, Y = 520_000.0, 4_006_000.0
FRAME = MapFrame.centred(X, Y, scale=2500, width_mm=100, height_mm=100)
MM = 2.5  # metres on the ground under one millimetre of paper at 1:2,500
EAST_WEST = [(X - 120, Y), (X + 120, Y)]
NORTH_SOUTH = [(X, Y - 120), (X, Y + 120)]


def drawn(**layers: list[dict[str, Any]]):
    """A map of the layers alone."""
    grid = Grid.covering(Bounds(X - 150, Y - 150, X + 150, Y + 150), cell_m=10.0, crs=CRS)
    vectors = {name: gpd.GeoDataFrame(rows, geometry="geometry", crs=CRS) for name, rows in layers.items()}
    page = Page("letter")
    axes = page.axes(Box(20, 30, 100, 100))
    content = MapContent(backdrop=Backdrop(grid=grid, date=dt.date(2026, 11, 21), vectors=vectors))
    return page, axes, draw_map(axes, FRAME, content)


def strokes(axes, layer: str) -> list[np.ndarray]:
    """Lines drawn in a layer's order, once each: the last pass of its look."""
    own = [p for p in axes.patches if isinstance(p, PathPatch) and 0 <= p.get_zorder() - LAYER_ORDER[layer] < 0.1]
    top = max(p.get_zorder() for p in own)
    parts = [p.get_path().to_polygons(closed_only=False) for p in own if p.get_zorder() == top]
    return [np.asarray(part) for path in parts for part in path]


def long(stroke: np.ndarray) -> float:
    return float(np.hypot(*(stroke[-1] - stroke[0])))


def track(line):
    return [{"class": "track", "public": False, "geometry": LineString(line)}]


def gate(state: str = "closed", name: str = "", at: tuple[float, float] = (X, Y)):
    return [{"name": name, "kind": "inner", "state": state, "geometry": Point(at)}]


def test_a_fence_has_its_line_and_crosses_along_it():
    _, axes, key = drawn(fences=[{"name": "", "geometry": LineString(EAST_WEST)}])
    parts = strokes(axes, "fence")
    line, crosses = max(parts, key=long), [p for p in parts if long(p) < 20]
    assert long(line) == pytest.approx(240.0)
    assert len(crosses) == 2 * round(240 / MM / CROSS_EVERY_MM)
    for stroke in crosses:
        run, rise = stroke[-1] - stroke[0]
        assert abs(run) == pytest.approx(abs(rise)) == pytest.approx(2 * CROSS_HALF_MM * MM)
        assert stroke[:, 1].mean() == pytest.approx(Y)
    assert key.shown == {"fence"}


@pytest.mark.parametrize(("line", "upright"), [(EAST_WEST, True), (NORTH_SOUTH, False)])
def test_the_bars_of_a_gate_lie_across_the_way(line, upright: bool):
    _, axes, _ = drawn(gates=gate(), tracks=track(line))
    bars = strokes(axes, "gate")
    assert len(bars) == 2
    for bar in bars:
        run, rise = np.abs(bar[-1] - bar[0])
        assert (rise, run) == pytest.approx((GATE_BAR_MM * MM, 0.0) if upright else (0.0, GATE_BAR_MM * MM))
    assert long(np.array([b.mean(axis=0) for b in bars])) == pytest.approx(GATE_GAP_MM * MM)


def test_a_gate_on_no_way_opens_through_its_fence():
    _, axes, _ = drawn(gates=gate(), fences=[{"name": "", "geometry": LineString(EAST_WEST)}])
    for bar in strokes(axes, "gate"):
        assert np.ptp(bar[:, 1]) == pytest.approx(0.0) and np.ptp(bar[:, 0]) == pytest.approx(GATE_BAR_MM * MM)


def test_a_gate_on_nothing_is_drawn_all_the_same():
    _, axes, key = drawn(gates=gate(), tracks=track([(X - 120, Y + 100), (X + 120, Y + 100)]))
    assert len(strokes(axes, "gate")) == 2 and "gate" in key.shown


@pytest.mark.parametrize(
    ("state", "count", "shown"), [("open", 2, "gate"), ("", 2, "gate"), ("locked", 3, "gate_locked")]
)
def test_a_locked_gate_has_a_bolt(state: str, count: int, shown: str):
    _, axes, key = drawn(gates=gate(state), tracks=track(EAST_WEST))
    assert len(strokes(axes, "gate")) == count
    assert key.shown == {"track", shown}


def test_a_gate_outside_the_frame_is_not_in_the_legend():
    _, _, key = drawn(gates=gate(at=(X + 130, Y)), tracks=track(EAST_WEST))
    assert key.shown == {"track"}


def test_names_of_gates_stand_beside_them():
    two = gate(name="creek gate") + gate(name="Żabia brama", at=(X + 60, Y + 60)) + gate(at=(X - 60, Y - 60))
    _, axes, _ = drawn(gates=two)
    assert [t.get_text() for t in axes.texts] == ["creek gate", "Żabia brama"]
    x, y = axes.texts[0].get_position()
    half = (GATE_BAR_MM / 2) * MM
    assert abs(y - Y) < 1e-6 and X + half < x


def inked(row: Entry) -> np.ndarray:
    """Which pixels of a legend's swatch are dark, at 200 to the inch."""
    page = Page("letter")
    draw_legend(page, Box(20, 20, 60, 4.3), [row], columns=1)
    page.figure.set_dpi(200)
    canvas = FigureCanvasAgg(page.figure)
    canvas.draw()
    grey = np.asarray(canvas.buffer_rgba())[..., :3] @ np.array([0.299, 0.587, 0.114])
    left, right, top, bottom = (round(mm / 25.4 * 200) for mm in (20, 26.5, 20, 24.3))
    return grey[top:bottom, left:right] < 128


def test_the_legend_tells_fence_power_line_and_both_gates_apart_in_grey():
    """Swatches without colour (ITU-R BT.601 luma, weights from memory) differ by the ink of a dot half a mm wide."""
    _, _, key = drawn(gates=gate())
    key.shown |= {"fence", "power_line", "gate", "gate_locked", "track"}
    rows = entries(key, Printer("us"))
    assert [r.words for r in rows] == ["track", "fence", "power line", "gate", "gate, locked"]
    seen = [inked(row) for row in rows]
    assert seen[1].any(axis=1).sum() * 25.4 / 200 == pytest.approx(2 * CROSS_HALF_MM, abs=0.35)
    for k, one in enumerate(seen):
        assert one.any()
        for other in seen[:k]:
            assert (one != other).sum() * (25.4 / 200) ** 2 > 0.5**2
