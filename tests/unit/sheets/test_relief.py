"""Shaded relief and contours against closed forms."""

import numpy as np
import pytest

from boscage.model.results import Backdrop
from boscage.sheets.frame import MapFrame
from boscage.sheets.relief import contour_interval_m, draw_ground, sample, shade, smooth, trace_contours
from boscage.sheets.style import CANOPY_TINTS
from boscage.values import Bounds, Grid

GRID = Grid.covering(Bounds(0, 0, 400, 300), cell_m=2.0, crs="EPSG:32615")
X, Y = np.meshgrid((np.arange(GRID.cols) + 0.5) * 2, 300 - (np.arange(GRID.rows) + 0.5) * 2)
FRAME = MapFrame.centred(200, 150, scale=2500, width_mm=140, height_mm=100)


def ground(date, **arrays):
    return Backdrop(grid=GRID, date=date, **{k: v.astype(np.float32) for k, v in arrays.items()})


@pytest.fixture
def date():
    import datetime as dt

    return dt.date(2026, 11, 21)


@pytest.mark.parametrize(("east", "north"), [(0.3, 0.0), (0.0, 0.3), (-0.2, 0.25), (0.0, 0.0)])
def test_light_on_a_plane(east, north):
    """Cosine of the angle between the plane's normal and the light from 315 degrees at 45 (Lambert's cosine law)."""
    steep = 2.0
    normal = np.array([-east * steep, -north * steep, 1.0])
    light = np.array([-0.5, 0.5, np.sqrt(0.5)])
    expected = max(0.0, normal @ light / np.linalg.norm(normal))
    assert shade(east * X + north * Y, 2.0) == pytest.approx(np.full(X.shape, expected), abs=2e-4)


def test_slopes_toward_the_light_are_brighter():
    assert shade(-X * 0.2 + Y * 0.2, 2.0)[5, 5] < shade(X * 0.0, 2.0)[5, 5] < shade(X * 0.2 - Y * 0.2, 2.0)[5, 5]


def test_sampling_a_plane_is_exact():
    values = 100 + 0.25 * X - 0.5 * Y
    rows, cols = 50, 70
    got = sample(values, GRID, FRAME, (rows, cols))
    b = FRAME.bounds
    x = b.west + (np.arange(cols) + 0.5) * b.width / cols
    y = b.north - (np.arange(rows) + 0.5) * b.height / rows
    assert got == pytest.approx(100 + 0.25 * x[None, :] - 0.5 * y[:, None], abs=1e-3)


def test_sampling_outside_and_no_data_are_nan():
    frame = MapFrame.centred(0, 0, scale=2500, width_mm=40, height_mm=40)
    got = sample(X, GRID, frame, (40, 40))
    assert np.isnan(got[:, :19]).all()
    assert np.isnan(got[21:]).all()
    assert np.isfinite(got[:19, 21:]).all()


def test_smoothing_leaves_no_data_and_constants():
    values = np.full((30, 30), 7.0)
    values[4, 5] = np.nan
    got = smooth(values, 2.0)
    assert np.isnan(got[4, 5])
    assert np.nanmax(np.abs(got - 7.0)) < 1e-5


def test_contours_of_a_cone_are_circles(date):
    """The level h of a cone of slope s and top t is a circle of radius (t - h) / s."""
    cone = 100.0 - 0.3 * np.hypot(X - 200, Y - 150)
    contours = trace_contours(ground(date, elevation=cone), FRAME, "metric")
    assert contours.interval_m == 5.0
    for level in (65.0, 75.0, 85.0):
        points = np.vstack(contours.lines[level])
        radius = np.hypot(points[:, 0] - 200, points[:, 1] - 150)
        assert radius == pytest.approx(np.full(len(radius), (100 - level) / 0.3), abs=0.4)


def test_interval_follows_relief_and_units():
    assert contour_interval_m(40.0, "us") == pytest.approx(10 * 0.3048)
    assert contour_interval_m(150.0, "us") == pytest.approx(40 * 0.3048)
    assert contour_interval_m(150.0, "metric") == 10.0


def test_no_terrain_gives_no_contours(date):
    assert trace_contours(ground(date, cover=X), FRAME, "us") is None
    assert not draw_ground(ground(date, cover=X), FRAME).has_relief


def test_canopy_darkens_step_by_step_and_stays_light(date):
    """Luminance weights of ITU-R BT.709; ink on the darkest tint keeps a contrast over 7 (WCAG 1.4.6; from memory)."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    luminance = (np.array(CANOPY_TINTS) / 255) @ weights
    assert (np.diff(luminance) < -0.03).all()
    darkest = ((np.array(CANOPY_TINTS[-1]) * 0.83 / 255) ** 2.2) @ weights
    assert (darkest + 0.05) / (0.0056 + 0.05) > 7
    cover = ground(date, cover=np.where(X < 200, 10.0, 90.0))
    image = draw_ground(cover, FRAME).image
    assert image[:, 100].mean() > image[:, -100].mean() + 20


def test_the_image_has_few_colours_and_the_paper_resolution(date):
    rough = ground(date, elevation=40 * np.sin(X / 17) * np.cos(Y / 23), cover=50 + 50 * np.sin(X / 40))
    image = draw_ground(rough, FRAME).image
    assert image.shape == (round(100 / 25.4 * 150), round(140 / 25.4 * 150), 3)
    assert len(np.unique(image.reshape(-1, 3), axis=0)) <= 64


def test_heights_are_drawn_where_they_cover_half_the_map(date):
    top = np.where(X < 390, 12.0, np.nan)
    few = np.where(X < 100, 12.0, np.nan)
    cover = np.full(X.shape, 80.0)
    assert draw_ground(ground(date, canopy_top=top, cover=cover), FRAME).canopy == "height"
    assert draw_ground(ground(date, canopy_top=few, cover=cover), FRAME).canopy == "cover"
    assert draw_ground(ground(date, elevation=X), FRAME).canopy == ""
