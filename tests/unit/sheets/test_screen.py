"""The map on a screen: its colours, that tiles meet, that pages stay printable."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.backends.backend_pdf import FigureCanvasPdf
from matplotlib.colors import to_hex
from matplotlib.lines import Line2D
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.text import Text

from boscage.model.desk import PALETTES, ViewFrame
from boscage.sheets.content import MapContent
from boscage.sheets.page import Page
from boscage.sheets.pdf import own_settings, write_pdf
from boscage.sheets.screen import ScreenContent, draw_picture, laid_over, map_pixels, page_pixels, recolour
from boscage.sheets.screencolours import COLOURS
from boscage.sheets.screenground import Field, ScreenGround, trace_lines
from boscage.sheets.screenlegend import legend_pixels
from boscage.sheets.style import BLUE, BROWN, GREY, INK, PALE, PAPER, TextStyle
from boscage.values import Grid

WEST, SOUTH = 520_000.0, 4_006_000.0

# Simulation of dichromats, in linear RGB: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes (2009), A physiologically-
# based model for simulation of color vision deficiency, IEEE Trans. Visualization and Computer Graphics 15(6),
# 1291-1298, the authors' tables for severity 1.0, as published with the paper and repeated in public code (checked
# against two copies of it).
VISION = {
    "normal": np.eye(3),
    "protanopia": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "deuteranopia": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.01182, 0.04294, 0.968881]],
    "tritanopia": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}  # fmt: skip
# sRGB to XYZ under D65 (IEC 61966-2-1), and CIE 1976 L*a*b* from XYZ.
TO_XYZ = np.array(
    [[0.4124564, 0.3575761, 0.1804375], [0.2126729, 0.7151522, 0.0721750], [0.0193339, 0.1191920, 0.9503041]]
)
WHITE = TO_XYZ @ np.ones(3)


def lab(tint: tuple[int, int, int], vision: str) -> np.ndarray:
    """Lightness and colour of a tint as somebody sees it."""
    c = np.array(tint) / 255.0
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    seen = np.clip(np.array(VISION[vision]) @ linear, 0.0, 1.0)
    x = TO_XYZ @ seen / WHITE
    f = np.where(x > 216 / 24389, np.cbrt(x), (24389 / 27 * x + 16) / 116)
    return np.array([116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])])


def steps(tints: list[tuple[int, int, int]], vision: str) -> tuple[np.ndarray, np.ndarray]:
    """Fall in lightness and distance in colour (CIE 1976) from each tint to the next."""
    seen = np.array([lab(t, vision) for t in tints])
    return -np.diff(seen[:, 0]), np.linalg.norm(np.diff(seen, axis=0), axis=1)


def test_the_simulation_keeps_grey_as_grey() -> None:
    for vision in VISION:
        assert lab((128, 128, 128), vision) == pytest.approx(lab((128, 128, 128), "normal"), abs=0.02)
    apart = np.linalg.norm(lab((180, 60, 60), "deuteranopia") - lab((110, 110, 60), "deuteranopia"))
    assert apart < 0.5 * np.linalg.norm(lab((180, 60, 60), "normal") - lab((110, 110, 60), "normal")), "red and olive"


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("palette", PALETTES)
def test_classes_of_score_darken_step_by_step_for_every_eye(palette: str, vision: str) -> None:
    darker, apart = steps(list(COLOURS[palette].score), vision)
    least = {"standard": (4.5, 5.0), "deuteran": (4.5, 5.0), "contrast": (8.0, 10.0)}[palette]
    assert darker.min() > least[0], "the order shows in grey"
    assert apart.min() > least[1]


@pytest.mark.parametrize("vision", VISION)
@pytest.mark.parametrize("palette", PALETTES)
def test_classes_of_canopy_darken_too(palette: str, vision: str) -> None:
    for tints in (COLOURS[palette].canopy, COLOURS[palette].canopy_grey):
        darker, _ = steps(list(tints[:-1]), vision)
        assert darker.min() > {"standard": 3.5, "deuteran": 5.0, "contrast": 9.0}[palette]


@pytest.mark.parametrize("vision", ["normal", "protanopia", "deuteranopia"])
def test_ground_that_is_not_ranked_is_told_from_the_lowest_score(vision: str) -> None:
    """By yellow against grey, which the rare tritanopes see least of; what is ruled out is hatched besides."""
    for palette in PALETTES:
        lowest = lab(COLOURS[palette].score[0], vision)
        for tint in COLOURS[palette].canopy_grey:
            assert np.linalg.norm(lowest - lab(tint, vision)) > 4.0


def frame_at(x: float, y: float, width: int, height: int, metres: float) -> ViewFrame:
    return ViewFrame(x_m=x, y_m=y, metres_per_px=metres, width_px=width, height_px=height)


def ground_of(made, metres: float) -> ScreenGround:
    backdrop = made.overview
    rows, cols = backdrop.grid.shape
    score = np.add.outer(np.linspace(0, 60, rows), np.linspace(0, 40, cols)).astype(np.float32)
    score[:, ::17] = np.nan
    return ScreenGround(
        score=Field(grid=backdrop.grid, values=score), canopy=Field(grid=backdrop.grid, values=backdrop.cover),
        elevation=Field(grid=backdrop.grid, values=backdrop.elevation), contour_m=12.0, origin=(WEST, SOUTH + 6000.0),
    )  # fmt: skip


def content_of(made, metres: float = 8.0, palette: str = "standard") -> ScreenContent:
    return ScreenContent(
        content=MapContent(backdrop=made.overview, sites=made.result.sites), ground=ground_of(made, metres),
        stops=[s.geometry for s in made.result.stops if s.name != "permission"], palette=palette,
    )  # fmt: skip


def test_tiles_meet(make) -> None:
    """Two tiles side by side are the halves of one picture: the ground to the bit, features but for their dashes."""
    made = make(sites=3)
    whole = frame_at(WEST + 3000.0, SOUTH + 3000.0, 512, 256, 8.0)
    left, right = (replace(whole, x_m=whole.x_m + s * 128 * 8.0, width_px=256) for s in (-1, 1))
    bare = replace(content_of(made), content=replace(content_of(made).content, backdrop=replace(
        made.overview, vectors={})), stops=(), ground=replace(ground_of(made, 8.0), contour_m=None))  # fmt: skip
    both = np.hstack([map_pixels(f, bare, part="ground") for f in (left, right)])
    assert np.array_equal(both, map_pixels(whole, bare, part="ground"))
    high = replace(whole, width_px=256, height_px=512)
    upper, lower = (replace(high, y_m=high.y_m + s * 128 * 8.0, height_px=256) for s in (1, -1))
    both = np.vstack([map_pixels(f, bare, part="ground") for f in (upper, lower)])
    assert np.array_equal(both, map_pixels(high, bare, part="ground"))
    full = content_of(made)
    both = np.hstack([map_pixels(f, full, part="ground") for f in (left, right)]).astype(int)
    one = map_pixels(whole, full, part="ground").astype(int)
    differ = np.abs(both - one).max(axis=2) > 40
    assert differ.mean() < 0.01
    seam = differ[:, 246:266].mean()
    assert seam < 0.06, "marks reach over the edge"


def test_names_and_sites_lie_over_the_tiles_on_a_clear_ground(make) -> None:
    made = make(sites=4)
    frame = frame_at(WEST + 3000.0, SOUTH + 3000.0, 600, 500, 10.0)
    over, key = draw_picture(frame, content_of(made), part="over", scale=1.0)
    assert "site" in key.shown
    share = (over[..., 3] > 0).mean()
    assert 0.005 < share < 0.3
    ground = map_pixels(frame, content_of(made), part="ground")
    assert (ground[..., 3] == 255).all()
    whole = map_pixels(frame, content_of(made), part="all")
    differ = np.abs(laid_over(over, ground[..., :3]).astype(int) - whole).max(axis=2) > 12
    assert differ.mean() < 0.02, "dashes and marks may stand otherwise, since a tile's map reaches a little further"
    for site in made.result.sites:
        x, y = frame.to_px(site.place.x_m, site.place.y_m)
        assert over[round(y) - 9 : round(y) + 9, round(x) - 9 : round(x) + 9, 3].any(), site.site


@pytest.mark.parametrize("scale", [0.5, 1.0, 1.5, 2.0])
def test_a_scaled_picture_has_scaled_pixels_and_the_same_map(make, scale: float) -> None:
    frame = frame_at(WEST + 3000.0, SOUTH + 3000.0, 256, 256, 8.0)
    plain = map_pixels(frame, content_of(make(sites=0)), part="ground")
    made = map_pixels(frame, content_of(make(sites=0)), part="ground", scale=scale)
    assert made.shape == (round(256 * scale), round(256 * scale), 4)
    blocks = [img[..., :3].astype(float).mean(axis=(0, 1)) for img in (plain, made)]
    assert blocks[0] == pytest.approx(blocks[1], abs=6.0)


def test_high_contrast_draws_in_black_and_wider(make) -> None:
    frame = frame_at(WEST + 3000.0, SOUTH + 3000.0, 400, 400, 12.0)
    plain, strong = (
        map_pixels(frame, content_of(make(sites=0), palette=p), part="ground") for p in ("standard", "contrast")
    )
    dark = [(img[..., :3].max(axis=2) < 60).mean() for img in (plain, strong)]
    assert dark[1] > 1.2 * dark[0]


def test_a_palette_has_its_own_inks_and_leaves_what_is_not_drawn() -> None:
    marks = Line2D([0], [0], marker="o", mfc=INK, mec=PAPER)
    text = Text(0, 0, "a", color=GREY)
    patch = PathPatch(Path([(0, 0), (1, 1)]), facecolor="none", edgecolor=BROWN, lw=2.0)
    for artist in (marks, text, patch):
        recolour(artist, COLOURS["contrast"])
    inks = COLOURS["contrast"].inks
    assert (text.get_color(), marks.get_markerfacecolor()) == (inks[GREY], inks[INK])
    assert to_hex(marks.get_markeredgecolor()) == PAPER
    assert to_hex(patch.get_edgecolor()) == inks[BROWN] and patch.get_facecolor()[3] == 0.0
    assert patch.get_linewidth() == pytest.approx(2.0 * COLOURS["contrast"].widen)
    assert set(inks) >= {GREY, BROWN, BLUE, PALE}
    plain = PathPatch(Path([(0, 0), (1, 1)]), facecolor=GREY, edgecolor=BROWN)
    recolour(plain, COLOURS["standard"])
    assert (to_hex(plain.get_facecolor()), to_hex(plain.get_edgecolor())) == (GREY, BROWN)


def test_what_is_not_known_of_the_canopy_is_marked_and_never_open_ground() -> None:
    grid = Grid("EPSG:32615", WEST, SOUTH + 1000.0, 10.0, 100, 100)
    cover = np.zeros((100, 100), np.float32)
    cover[:, 50:] = np.nan
    ground = ScreenGround(canopy=Field(grid=grid, values=cover), origin=(WEST, SOUTH + 1000.0))
    shown = ScreenContent(content=MapContent(backdrop=None, ground=False), ground=ground)  # type: ignore[arg-type]
    shown = replace(shown, content=replace(shown.content, backdrop=_bare(grid)))
    image = map_pixels(frame_at(WEST + 500.0, SOUTH + 500.0, 200, 200, 5.0), shown, part="ground")
    known, unknown = image[20:180, 10:90, :3].reshape(-1, 3), image[20:180, 110:190, :3].reshape(-1, 3)
    assert len(np.unique(known, axis=0)) == 1
    assert (unknown.astype(int) == COLOURS["standard"].gaps).all(axis=1).mean() > 0.05


def _bare(grid: Grid):
    from boscage.model.results import Backdrop

    return Backdrop(grid=grid, date=dt.date(2026, 11, 21))


def test_a_cell_shows_the_class_of_its_score() -> None:
    grid = Grid("EPSG:32615", WEST, SOUTH + 80.0, 10.0, 8, 8)
    score = np.full((8, 8), np.nan, np.float32)
    score[2, 3], score[2, 4], score[6, 1] = 19.9, 20.0, 95.0
    ground = ScreenGround(score=Field(grid=grid, values=score))
    shown = ScreenContent(content=MapContent(backdrop=_bare(grid)), ground=ground)
    image = map_pixels(frame_at(WEST + 40.0, SOUTH + 40.0, 80, 80, 1.0), shown, part="ground")
    tints = COLOURS["standard"].score
    for (row, col), tint in {(2, 3): tints[0], (2, 4): tints[1], (6, 1): tints[-1]}.items():
        assert (image[row * 10 + 1 : row * 10 + 9, col * 10 + 1 : col * 10 + 9, :3] == tint).all()
    assert not (image[0:9, 0:9, :3] == tints[0]).all()


def test_contours_keep_their_interval_on_every_piece(make) -> None:
    from boscage.sheets.screen import paper_frame

    made = make(sites=0)
    for x in (1000.0, 3000.0, 5000.0):
        frame = frame_at(WEST + x, SOUTH + 3000.0, 128, 128, 8.0)
        contours = trace_lines(ground_of(made, 8.0), paper_frame(frame.bounds, 8.0))
        assert contours is not None and contours.interval_m == 12.0
        assert all(level % 12.0 == pytest.approx(0.0, abs=1e-9) for level in contours.lines)


def test_a_page_on_a_screen_is_the_page_on_paper_and_stays_printable(tmp_path) -> None:
    def drawn() -> Page:
        with own_settings():
            page = Page("letter")
            page.text(30.0, 40.0, "Dunnock Hollow Ranch", TextStyle(size_pt=20.0, bold=True))
            page.line((10.0, 200.0), (100.0, 100.0))
        return page

    plain, shown = drawn(), drawn()
    image = page_pixels(shown, 100.0)
    assert image.shape == (round(279.4 / 25.4 * 100), round(215.9 / 25.4 * 100), 4)
    assert shown.figure.get_dpi() == plain.figure.get_dpi()
    assert isinstance(shown.figure.canvas, FigureCanvasPdf)
    ink = np.argwhere(image[..., 0] < 100) / 100.0 * 25.4
    assert ink[:, 1].min() == pytest.approx(10.0, abs=0.5)
    assert (np.abs(ink[:, 0] - 100.0) < 0.5).any(), "the line lies 100 mm down"
    files = [tmp_path / "plain.pdf", tmp_path / "shown.pdf"]
    for page, file in zip((plain, shown), files, strict=True):
        with own_settings():
            write_pdf([page], file, title="t", date=dt.date(2026, 11, 21))
    assert files[0].read_bytes() == files[1].read_bytes()


@pytest.mark.parametrize("palette", PALETTES)
def test_the_legend_has_a_row_and_a_picture_for_all_that_is_shown(make, palette: str) -> None:
    frame = frame_at(WEST + 3000.0, SOUTH + 3000.0, 600, 600, 10.0)
    _, key = draw_picture(frame, content_of(make(sites=2, missing=()), palette=palette), part="all", scale=1.0)
    rows = legend_pixels(key, units="us", palette=palette, has_score=True)
    words = [w for w, _ in rows]
    assert len(words) == len(set(words))
    for word in ("canopy cover under 20 %", "canopy not known", "ruled out", "power line", "ranked site"):
        assert word in words
    assert sum(w.startswith("score") for w in words) == len(COLOURS[palette].score)
    assert any(w.startswith("contours every") for w in words)
    assert len({image.shape for _, image in rows}) == 1
    drawn = dict(rows)
    assert (drawn["road"][..., :3] < 120).any(), "the swatch is drawn"
    assert len({drawn[w].tobytes() for w in ("road", "track", "trail", "fence", "power line")}) == 5
    none = legend_pixels(key, units="metric", palette=palette, has_score=False)
    assert not any(w.startswith("score") for w, _ in none)
