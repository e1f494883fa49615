"""Maps of the ground: the right pattern on the right ground, figures of areas, probes that are never lost."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from boscage.model.ground import ReadPlace
from boscage.model.soil import VERDICTS
from boscage.sheets.frame import MapFrame
from boscage.sheets.groundmap import (
    class_image,
    draw_ground_map,
    post_areas,
    posts_picture,
    resistance_picture,
    unknown_share,
    value_words,
)
from boscage.sheets.groundpatterns import RESISTANCE_PATTERNS, UNKNOWN
from boscage.sheets.page import Box, Page
from boscage.sheets.ranchmap import LegendRoom, plan_map
from boscage.soil.classes import RESISTANCE_MPA, resistance_class
from boscage.values import Printer

NAMES = list(RESISTANCE_PATTERNS)


@pytest.fixture(scope="module")
def made(make):
    return make(sites=3, field="full")


def frame_of(result):
    b = result.grid.bounds
    x, y = (b.west + b.east) / 2, (b.south + b.north) / 2
    return MapFrame.centred(x, y, scale=50_000, width_mm=b.width / 50.0, height_mm=b.height / 50.0)


def at(image, frame, x, y):
    """Pixels of 3 mm round a place."""
    col, row = (round(v / 25.4 * 150) for v in frame.to_mm(x, y))
    return image[row - 9 : row + 9, col - 9 : col + 9]


def test_classes_by_cell_are_the_manuals(made):
    """Every bound belongs to the class that it opens (Soil Survey Manual, chapter 3)."""
    field = made.result.ground
    mpa = field.resistance_mpa.copy()
    bounds = [low for low, _ in RESISTANCE_MPA]
    mpa[0, : len(bounds)] = bounds
    mpa[1, : len(bounds)] = np.nextafter(np.float32(bounds), np.float32(0.0))
    classes = resistance_picture(replace(field, resistance_mpa=mpa)).classes
    for row in (0, 1):
        for col in range(row, len(bounds)):
            assert NAMES[classes[row, col]] == resistance_class(float(mpa[row, col]))
    known = np.isfinite(field.resistance_mpa)
    assert (resistance_picture(field).classes[~known] == NAMES.index(UNKNOWN)).all()


def test_the_pattern_lies_on_its_ground_and_off_the_ranch_is_bare(made):
    result, frame = made.result, frame_of(made.result)
    image = class_image(resistance_picture(result.ground), result.grid, made.overview, frame)
    colours = {n: {tuple(c) for c in p.palette} for n, p in RESISTANCE_PATTERNS.items()}
    tried = []
    for row in range(40, result.grid.rows - 40, 23):
        for col in range(40, result.grid.cols - 40, 23):
            near = result.ground.resistance_mpa[row - 20 : row + 21, col - 20 : col + 21]
            names = {resistance_class(float(v)) or UNKNOWN for v in near.ravel()}
            if len(names) != 1 or (names == {UNKNOWN} and not (3150 < _east(result, col) < 3550)):
                continue
            tried += names
            found = {tuple(c) for c in at(image, frame, *result.grid.centre(row, col)).reshape(-1, 3)}
            assert found == colours[names.pop()]
    assert len(tried) > 60
    assert {"very low", "low", "moderate", "extremely high", UNKNOWN} <= set(tried)
    west, north = result.grid.west, result.grid.north
    assert (at(image, frame, west + 150, north - 150) == 255).all()


def _east(result, col):
    return result.grid.centre(0, col)[0] - 520_000.0


def test_without_parcels_nothing_is_taken_for_off_the_ranch(made):
    result = made.result
    bare = replace(made.overview, vectors={})
    image = class_image(resistance_picture(result.ground), result.grid, bare, frame_of(result))
    corner = image[:20, :20].reshape(-1, 3)
    assert {tuple(c) for c in corner} == {tuple(c) for c in RESISTANCE_PATTERNS[UNKNOWN].palette}


def test_ground_beyond_the_grid_is_unknown(made):
    result = made.result
    b = result.grid.bounds
    frame = MapFrame.centred(b.west - 2000.0, b.north, scale=50_000, width_mm=30.0, height_mm=30.0)
    image = class_image(
        resistance_picture(result.ground), result.grid, replace(made.overview, vectors={}), frame
    )  # fmt: skip
    assert {tuple(c) for c in image.reshape(-1, 3)} == {tuple(c) for c in RESISTANCE_PATTERNS[UNKNOWN].palette}


def test_areas_are_cells_and_the_rest_of_the_ranch_is_unknown(made):
    result = made.result
    field, cell = result.ground, result.grid.cell_ha
    areas = post_areas(field, result.grid, result.ranch_ha)
    for k, verdict in enumerate(VERDICTS[:3]):
        assert areas[verdict][0] == pytest.approx((field.posts == k).sum() * cell)
    assert sum(ha for ha, _ in areas.values()) == pytest.approx(result.ranch_ha)
    assert sum(share for _, share in areas.values()) == pytest.approx(1.0)
    assert areas["unknown"][0] > 0.0
    small = post_areas(field, result.grid, 10.0)
    assert small["unknown"] == (0.0, 0.0)
    assert sum(share for _, share in small.values()) == pytest.approx(1.0)


def test_share_without_a_figure(made):
    result = made.result
    none = np.full(result.grid.shape, np.nan, np.float32)
    assert unknown_share(replace(result.ground, resistance_mpa=none), result.grid, result.ranch_ha) == 1.0
    half = np.isfinite(result.ground.resistance_mpa).sum() * result.grid.cell_ha
    assert unknown_share(result.ground, result.grid, 2.0 * half) == pytest.approx(0.5)


def drawn(made, field):
    result = replace(made.result, ground=field)
    page = Page("letter")
    plan = plan_map(made.overview, Box(12.0, 30.0, 190.0, 150.0), LegendRoom())
    return page, draw_ground_map(page, result, made.overview, plan, resistance_picture(field)), plan


def marks(page):
    """Places of probe marks: the wedge and the crossed box, by number of corners."""
    lines = [line for line in page.figure.axes[0].lines if hasattr(line.get_marker(), "vertices")]
    return [len(line.get_marker().vertices) for line in lines]


def test_every_probe_is_marked_even_under_a_site(made):
    field = made.result.ground
    site = made.result.sites[0].place
    under = ReadPlace(x_m=site.x_m, y_m=site.y_m, resistance_mpa=3.0, stopped_cm=20.0, readings=1)
    page, seen, _ = drawn(made, replace(field, places=(*field.places, under)))
    assert len(marks(page)) == len(field.places) + 1
    assert marks(page).count(9) == 1 + sum(np.isfinite(p.stopped_cm) for p in field.places)
    assert {"probe", "probe_stopped"} <= seen.key.shown
    texts = [t.get_text() for t in page.figure.axes[0].texts]
    assert sum("psi" in t or t == "deeper" for t in texts) == len(field.places) + 1 - seen.unnamed


def test_figures_without_room_are_counted(made):
    """Two hundred probes in one spot."""
    place = made.result.ground.places[0]
    many = tuple(replace(place, x_m=place.x_m + k) for k in range(200))
    page, seen, _ = drawn(made, replace(made.result.ground, places=many))
    texts = [t.get_text() for t in page.figure.axes[0].texts]
    assert seen.unnamed > 50
    assert sum("psi" in t for t in texts) + seen.unnamed == 200


def test_a_probe_off_the_map_is_not_drawn(made):
    place = replace(made.result.ground.places[0], x_m=100.0)
    page, seen, _ = drawn(made, replace(made.result.ground, places=(place,)))
    assert marks(page) == []
    assert seen.unnamed == 0
    assert "probe" not in seen.key.shown


def test_value_words(made):
    """One megapascal is 145.04 pounds a square inch (NIST SP 811, appendix B.8)."""
    place = made.result.ground.places[0]
    assert value_words(replace(place, resistance_mpa=1.0), Printer("us")) == "150 psi"
    assert value_words(replace(place, resistance_mpa=1.0), Printer("metric")) == "1.0 MPa"
    assert value_words(replace(place, resistance_mpa=float("nan")), Printer("us")) == "deeper"


def test_no_hatch_and_no_sign_lie_over_the_patterns(made):
    page, seen, _ = drawn(made, made.result.ground)
    assert seen.key.sign_kinds == set()
    assert seen.key.contour_interval_m is None
    assert (seen.key.canopy, seen.key.has_relief) == ("", False)
    hatched = [p for p in page.figure.axes[0].patches if p.get_hatch() and p.get_hatch() != "----"]
    assert hatched == []
    assert {"granted", "refused", "unknown", "pond", "creek", "road", "track", "trail", "site"} <= seen.key.shown
    assert not {"no_go", "fence", "gate", "dwelling", "power_line", "ruled_out"} & seen.key.shown


def test_posts_are_drawn_with_their_own_patterns(made):
    picture = posts_picture(made.result.ground)
    assert tuple(picture.patterns) == VERDICTS
    assert (picture.classes == made.result.ground.posts).all()
    assert picture.places == ()


def test_labels_stay_in_the_map(made):
    page, _, _ = drawn(made, made.result.ground)
    renderer = FigureCanvasAgg(page.figure).get_renderer()
    axes = page.figure.axes[0]
    frame = axes.get_window_extent(renderer)
    assert isinstance(page.figure, Figure)
    assert all(frame.contains(*t.get_window_extent(renderer).p0) for t in axes.texts)
