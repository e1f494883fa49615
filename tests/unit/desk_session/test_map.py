"""Pictures of the map: from overviews, by tile, the same whatever was asked before."""

from __future__ import annotations

import shutil
from pathlib import Path

import numpy as np
import pytest
import rasterio
import shapely
import tiny_ranch as tiny
from rasterio.transform import from_origin
from scipy.ndimage import binary_dilation

from boscage.errors import InputError
from boscage.exports.store import Store
from boscage.model.desk import LayerSwitches, Pixels, TileRequest, TileScheme, ViewFrame, ViewRequest
from boscage.model.desk_answers import SiteEdits
from boscage.pipeline import desk_store
from boscage.pipeline.desk_features import PAD_PX, Cutter, Pieces
from boscage.pipeline.desk_overview import STEP_M, Pyramid, RasterOverview, cut, halved, make_overview
from boscage.pipeline.desk_session import Session
from boscage.pipeline.desk_store import MappedStore
from boscage.sheets.screencolours import COLOURS
from boscage.sheets.screenground import MARGIN_CELLS, Field
from boscage.values import Bounds, Grid


def image(pixels: Pixels) -> np.ndarray:
    return np.frombuffer(pixels.data, np.uint8).reshape(pixels.height_px, pixels.width_px, 4)


def tile_at(session: Session, local: tuple[float, float], zoom: int, **more: object) -> TileRequest:
    x, y = tiny.place(tiny.Variant(), *local)
    side = session.scheme.bounds(zoom, 0, 0).width
    col, row = int((x - session.scheme.west) // side), int((session.scheme.north - y) // side)
    return TileRequest(zoom=zoom, col=col, row=row, **more)  # type: ignore[arg-type]


def tint_share(pixels: Pixels, tints: list[tuple[int, int, int]]) -> float:
    shown = image(pixels)[..., :3]
    return float(np.any([(shown == t).all(axis=2) for t in tints], axis=0).mean())


def test_every_zoom_has_tiles_and_none_is_blank(again: Session) -> None:
    for zoom in range(again.scheme.zooms):
        made = again.tile(tile_at(again, tiny.A, zoom))
        assert (made.width_px, made.height_px, len(made.data)) == (256, 256, 256 * 256 * 4)
        assert len(np.unique(image(made).reshape(-1, 4), axis=0)) > 3
        assert (image(made)[..., 3] == 255).all()


def test_a_tile_shows_the_score_of_the_ranking_and_changes_with_it(again: Session) -> None:
    bare = LayerSwitches(relief=False, contours=False, canopy=False, stops=False, parcels=False, tracks=False,
                         fences=False, water=False, hazards=False, sign=False)  # fmt: skip
    request = tile_at(again, tiny.A, 4, switches=bare)
    plain = again.tile(request)
    x, y = tiny.place(tiny.Variant(), *tiny.A)
    bounds = again.scheme.bounds(request.zoom, request.col, request.row)
    metres = again.scheme.metres_per_px(request.zoom)
    score = again._ranker.result.score[again.ranch.scene.grid.index(x, y)]
    steps, tints = COLOURS["standard"].score_steps, COLOURS["standard"].score
    shown = image(plain)[int((bounds.north - y) / metres), int((x - bounds.west) / metres), :3]
    assert tuple(shown) == tints[int(np.searchsorted(steps, score, side="right"))]
    other = again.rank(SiteEdits(weights={"water": 20.0, "cover": 0.1}))
    changed = again.tile(request)
    assert changed.ranking == other.ranking > plain.ranking
    assert changed.data != plain.data
    no_score = again.tile(TileRequest(**{**vars(request), "switches": LayerSwitches(**{**vars(bare), "score": False})}))
    assert no_score.ranking == 0
    assert tint_share(no_score, list(tints)) == 0.0


def test_switches_take_away_what_they_name(again: Session) -> None:
    full = image(again.tile(tile_at(again, (1300.0, 1050.0), 3)))
    for name in ("score", "stops", "canopy", "relief", "contours", "tracks", "water"):
        less = image(again.tile(tile_at(again, (1300.0, 1050.0), 3, switches=LayerSwitches(**{name: False}))))
        assert not np.array_equal(full, less), name


def test_palettes_units_and_scales(again: Session) -> None:
    made = {p: again.tile(tile_at(again, tiny.A, 3, palette=p)).data for p in COLOURS}
    assert len(set(made.values())) == 3
    assert again.tile(tile_at(again, tiny.A, 3, units="metric")).data != made["standard"]
    assert again.tile(tile_at(again, tiny.A, 3, scale=1.5)).width_px == 384


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"zoom": 99}, "no tile"), ({"col": -1}, "no tile"), ({"row": 4096}, "no tile"), ({"palette": "pink"}, "palette"),
     ({"scale": 40.0}, "scale")],
)  # fmt: skip
def test_what_cannot_be_drawn_is_refused_in_a_sentence(again: Session, wrong: dict, words: str) -> None:
    request = TileRequest(**{"zoom": 2, "col": 0, "row": 0, **wrong})
    with pytest.raises(InputError, match=words):
        again.tile(request)
    frame = ViewFrame(x_m=0.0, y_m=0.0, metres_per_px=1.0, width_px=0, height_px=9)
    with pytest.raises(InputError, match="empty"):
        again.view(ViewRequest(frame=frame))
    with pytest.raises(InputError, match="the part"):
        again.view(ViewRequest(frame=ViewFrame(x_m=0.0, y_m=0.0, metres_per_px=1.0, width_px=9, height_px=9), part="x"))


def test_a_view_shows_every_site_in_it_and_its_legend_says_what_is_there(again: Session) -> None:
    bounds = again.ranch.layers.ranch
    frame = ViewFrame(x_m=(bounds.west + bounds.east) / 2, y_m=(bounds.south + bounds.north) / 2, metres_per_px=5.0,
                      width_px=700, height_px=700)  # fmt: skip
    over = image(again.view(ViewRequest(frame=frame)))
    for site in again.rank().sites:
        x, y = (round(v) for v in frame.to_px(site.x_m, site.y_m))
        assert over[y - 10 : y + 10, x - 10 : x + 10, 3].any()
    assert (over[..., 3] == 0).mean() > 0.6
    hidden = image(again.view(ViewRequest(frame=frame, switches=LayerSwitches(names=False, sites=False))))
    assert (hidden[..., 3] == 0).all()
    words = [row.words for row in again.legend(ViewRequest(frame=frame))]
    assert {"road", "track", "dwelling", "ruled out", "creek", "G: permission granted"} <= set(words)
    assert "power line" not in words, "there is none on the map"
    focused = image(again.view(ViewRequest(frame=frame, focus=again.rank().sites[0].site)))
    assert not np.array_equal(focused, over)


def test_ground_painted_cell_by_cell_is_hatched_where_the_areas_are(again: Session, monkeypatch) -> None:
    """Where outlines are long, what is ruled out is painted from the cells: on the same ground as from the areas."""
    from boscage.pipeline import desk_map

    switches = LayerSwitches(score=False, canopy=False, relief=False, contours=False, parcels=False, tracks=False,
                             fences=False, water=False, hazards=False, sign=False)  # fmt: skip
    zoom = next(z for z in range(9) if again.scheme.metres_per_px(z) == 8.0)
    request = tile_at(again, tiny.HOUSE, zoom, switches=switches)
    areas = image(again.tile(request))[..., 0] < 200
    monkeypatch.setattr(desk_map, "MOST_STOP_POINTS", 0)
    again._map._tiles.clear()
    cells = image(again.tile(request))[..., 0] < 200
    again._map._tiles.clear()

    near = [binary_dilation(mask, iterations=14) for mask in (areas, cells)]
    assert cells.sum() > 300 and areas.sum() > 300
    assert (cells & near[0]).sum() > 0.97 * cells.sum(), "no hatch where no area is"
    assert (areas & near[1]).sum() > 0.95 * areas.sum(), "no area without a hatch"


# Overviews


def tall(folder: Path, side: int = 700) -> Path:
    """A 1 m canopy height raster with gaps, without overviews of its own."""
    rng = np.random.default_rng(4)
    values = np.round(rng.random((side, side)) * 25.0, 2).astype(np.float32)
    values[100:180, 40:300] = -9999.0
    x, y = tiny.ORIGIN
    profile = {"driver": "GTiff", "height": side, "width": side, "count": 1, "dtype": "float32", "crs": tiny.UTM,
               "transform": from_origin(x + 1000.0, y + 1900.0, 1.0, 1.0), "nodata": -9999.0, "tiled": True,
               "blockxsize": 256, "blockysize": 256, "compress": "deflate"}  # fmt: skip
    path = folder / "tall.tif"
    with rasterio.open(path, "w", **profile) as file:
        file.write(values, 1)
    return path


@pytest.fixture(scope="module")
def tall_session(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Session:
    folder = tmp_path_factory.mktemp("tall") / "tiny"
    shutil.copytree(built.parent, folder)
    tall(folder)
    text = (folder / "plan.toml").read_text(encoding="utf-8")
    text = text.replace('canopy_height = { path = "canopy_height.tif", unit = "m" }', 'canopy_height = "tall.tif"')
    (folder / "plan.toml").write_text(text, encoding="utf-8")
    return Session.open(folder / "plan.toml")


def heights_of(session: Session) -> RasterOverview:
    held = session._map._heights
    assert held is not None
    return held


def test_an_overview_is_the_mean_of_the_cells_it_stands_for(tall_session: Session) -> None:
    view = heights_of(tall_session)
    x, y = tiny.ORIGIN
    raw = tall_session.ranch.layers.rasters["canopy_height"]
    for metres, cell in ((2.0, 2.0), (4.0, 4.0), (8.0, 8.0)):
        bounds = Bounds(x + 1000.0, y + 1200.0, x + 1700.0, y + 1900.0)
        found = view.window(bounds, metres)
        assert found.grid.cell_m == cell
        fine = raw.read(Grid(found.grid.crs, found.grid.west, found.grid.north, 1.0,
                             int(found.grid.rows * cell), int(found.grid.cols * cell)))  # fmt: skip
        k = int(cell)
        blocks = fine.reshape(found.grid.rows, k, found.grid.cols, k)
        known = np.isfinite(blocks).sum(axis=(1, 3))
        mean = np.where(known == k * k, np.nansum(blocks, axis=(1, 3)) / np.maximum(known, 1), np.nan)
        gap = np.abs(found.values - mean)[known == k * k]
        assert np.nanmax(gap) <= STEP_M * np.log2(cell), "each level rounds to its step"
        assert np.isnan(found.values[known == 0]).all()
        assert np.isfinite(found.values[known > 0]).all()


def test_near_by_the_rasters_own_cells_are_shown(tall_session: Session) -> None:
    view = heights_of(tall_session)
    x, y = tiny.ORIGIN
    bounds = Bounds(x + 1200.0, y + 1500.0, x + 1264.0, y + 1564.0)
    found = view.window(bounds, 0.25)
    assert found.grid.cell_m == 1.0
    assert np.array_equal(
        found.values, tall_session.ranch.layers.rasters["canopy_height"].read(found.grid), equal_nan=True
    )
    assert found.grid.west <= bounds.west - MARGIN_CELLS and found.grid.north >= bounds.north + MARGIN_CELLS


def test_what_is_read_for_a_tile_does_not_grow_with_the_ranch(tall_session: Session) -> None:
    view = heights_of(tall_session)
    x, y = tiny.ORIGIN
    for metres in (0.125, 0.25, 0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 8.0, 16.0, 32.0):
        side = 256 * metres
        found = view.window(Bounds(x + 1000.0, y + 1900.0 - side, x + 1000.0 + side, y + 1900.0), metres)
        assert max(found.values.shape) <= 1.5 * 256 + 2 * MARGIN_CELLS + 2


def test_an_overview_is_kept_used_again_and_made_anew_when_broken(tall_session: Session) -> None:
    view = heights_of(tall_session)
    assert view.paths and all(p.is_file() for p in view.paths)
    seen: list[int] = []
    source = tall_session.ranch.layers.rasters["canopy_height"]
    out, whole = tall_session.out, view._whole

    def again() -> RasterOverview:
        return make_overview(source, whole, out, is_height=True, progress=lambda d, t: seen.append(d))

    x, y = tiny.ORIGIN
    part = Bounds(x + 1000.0, y + 1200.0, x + 1700.0, y + 1900.0)
    assert np.array_equal(again().window(part, 4.0).values, view.window(part, 4.0).values, equal_nan=True)
    assert seen == [], "it was there"
    broken = view.paths[1].with_suffix(".new")  # replaced, as everything here is: a mapped file must not be cut
    broken.write_bytes(b"\x93NUMPY but not any more")
    broken.replace(view.paths[1])
    assert np.array_equal(again().window(part, 4.0).values, view.window(part, 4.0).values, equal_nan=True)
    assert seen, "it was made again"
    stray = view.paths[0].with_name("0123.0.npy")
    stray.write_bytes(b"old")
    Session.open(tall_session.ranch.plan)
    assert not stray.exists() and view.paths[0].exists()


def test_where_nothing_can_be_written_the_overview_stays_in_memory(tall_session: Session, tmp_path: Path) -> None:
    (tmp_path / ".boscage").write_text("a file where the folder should be", encoding="utf-8")
    view = heights_of(tall_session)
    source = tall_session.ranch.layers.rasters["canopy_height"]
    held = make_overview(source, view._whole, tmp_path, is_height=True, progress=lambda d, t: None)
    x, y = tiny.ORIGIN
    part = Bounds(x + 1000.0, y + 1200.0, x + 1700.0, y + 1900.0)
    assert np.array_equal(held.window(part, 4.0).values, view.window(part, 4.0).values, equal_nan=True)
    assert not any(p.exists() for p in held.paths)


def test_heights_are_shown_in_place_of_cover_where_asked(tall_session: Session) -> None:
    plain = tall_session.tile(tile_at(tall_session, (1300.0, 1600.0), 5, switches=LayerSwitches(score=False)))
    tall_one = tall_session.tile(
        tile_at(tall_session, (1300.0, 1600.0), 5, switches=LayerSwitches(score=False, heights=True))
    )
    assert plain.data != tall_one.data


def test_a_pyramid_holds_means_and_knows_its_margin() -> None:
    rng = np.random.default_rng(8)
    values = rng.random((101, 67)).astype(np.float32)
    values[rng.random(values.shape) < 0.2] = np.nan
    grid = Grid("EPSG:32615", 1000.0, 5000.0, 10.0, 101, 67)
    half = halved(values)
    assert half.shape == (51, 34)
    for r, c in ((0, 0), (25, 17), (50, 33), (50, 3)):
        block = values[2 * r : 2 * r + 2, 2 * c : 2 * c + 2]
        known = block[np.isfinite(block)]
        assert half[r, c] == pytest.approx(known.mean(), abs=1e-6) if len(known) else np.isnan(half[r, c])
    pyramid = Pyramid(Field(grid=grid, values=values))
    whole = pyramid.window(grid.bounds, 20.0)
    assert whole.grid.cell_m == 20.0 and np.array_equal(whole.values, half, equal_nan=True)
    assert pyramid.window(grid.bounds, 5000.0).values.shape == (1, 1)
    assert pyramid.window(Bounds(0.0, 0.0, 10.0, 10.0), 10.0).values.size == 0
    part = cut(Field(grid=grid, values=values), Bounds(1200.0, 4500.0, 1250.0, 4550.0))
    assert part.grid.west == 1200.0 - MARGIN_CELLS * 10.0
    assert np.array_equal(
        part.values[0], values[45 - MARGIN_CELLS, 20 - MARGIN_CELLS : 26 + MARGIN_CELLS], equal_nan=True
    )


# The store, mapped


def test_the_mapped_store_holds_what_the_store_holds(tmp_path: Path, monkeypatch) -> None:
    rng = np.random.default_rng(1)
    arrays = {"big": rng.random((700, 700)).astype(np.float32), "wide": np.asfortranarray(rng.random((400, 900))),
              "small": np.arange(5), "text": np.array(["a note", "another"]), "none": np.zeros((0, 3))}  # fmt: skip
    Store(tmp_path).put("key", arrays)
    held = MappedStore(tmp_path).get("key")
    assert held is not None and set(held) == set(arrays)
    for name, array in arrays.items():
        assert held[name].dtype == array.dtype
        assert np.array_equal(held[name], array)
    assert type(held["big"]) is np.ndarray and held["big"].flags.writeable
    held["big"][0, 0] = 9.0
    again = MappedStore(tmp_path).get("key")
    assert again is not None and again["big"][0, 0] == arrays["big"][0, 0], "what is written stays in this process"
    Store(tmp_path).put("key", {"big": arrays["big"] * 2})
    assert np.array_equal(held["wide"], arrays["wide"]), "a later run does not pull it away"
    assert MappedStore(tmp_path).get("absent") is None
    monkeypatch.setattr(desk_store, "_CAN_MAP", False)
    plain = MappedStore(tmp_path).get("key")
    assert plain is not None and np.array_equal(plain["big"], arrays["big"] * 2)


@pytest.mark.parametrize("broken", ["cut", "noise", "empty"])
def test_a_broken_entry_is_as_good_as_none(tmp_path: Path, broken: str) -> None:
    store = Store(tmp_path)
    store.put("key", {"big": np.random.default_rng(0).random((900, 900))})
    path = next((tmp_path / ".boscage" / "layers").glob("*.npz"))
    whole = path.read_bytes()
    path.write_bytes({"cut": whole[: len(whole) // 2], "noise": b"PK" + bytes(2_000_000), "empty": b""}[broken])
    assert MappedStore(tmp_path).get("key") is None


# Features by tile


SCHEME = TileScheme.over(Bounds(500_000.0, 4_000_000.0, 508_000.0, 4_008_000.0), "EPSG:32615")


def wild(rng: np.random.Generator) -> np.ndarray:
    """Shapes of every kind, some of many vertices, some across the whole ranch."""
    made: list = []
    for _ in range(30):
        x, y = rng.random(2) * 8000.0 + (500_000.0, 4_000_000.0)
        angle = np.linspace(0, 2 * np.pi, int(rng.integers(8, 900)))
        r = rng.uniform(50, 2500) * (1 + 0.2 * np.sin(9 * angle))
        ring = np.column_stack([x + r * np.cos(angle), y + r * np.sin(angle)])
        made += [shapely.Polygon(ring), shapely.LineString(ring[: len(ring) // 2]), shapely.Point(x, y)]
    holed = shapely.box(500_500, 4_000_500, 507_500, 4_007_500).difference(made[0].union(made[3]))
    return np.array([*made, holed], dtype=object)


@pytest.mark.parametrize("zoom", [0, 1, 3, 5, 8])
def test_the_pieces_of_a_tile_are_those_of_the_features(zoom: int) -> None:
    rng = np.random.default_rng(3)
    shapes = wild(rng)
    cutter = Cutter(Pieces(shapes=shapes, values={"name": np.arange(len(shapes)).astype(object)}), SCHEME)
    for col, row in {(int(a * 2**zoom), int(b * 2**zoom)) for a, b in rng.random((6, 2)) * 0.98}:
        pieces = cutter.tile(zoom, col, row)
        bounds = SCHEME.bounds(zoom, col, row)
        box = shapely.box(bounds.west, bounds.south, bounds.east, bounds.north)
        pixel = SCHEME.metres_per_px(zoom)
        names = pieces["name"].tolist()
        for n, shape in enumerate(shapes):
            inside = shape.intersection(box)
            own = [p for p, name in zip(pieces.shapes, names, strict=True) if name == n]
            if inside.is_empty or (inside.area == 0.0 and inside.length < 3 * pixel and shape.geom_type != "Point"):
                continue
            got = shapely.union_all(own).intersection(box) if own else shapely.Point()
            if shape.geom_type == "Point":
                assert own and own[0].equals(shape)
            elif shape.geom_type == "LineString":
                assert inside.hausdorff_distance(got) < 2 * pixel if not got.is_empty else inside.length < 4 * pixel
            else:
                assert got.symmetric_difference(inside).area <= pixel * max(inside.length, shape.length / 50) + pixel**2
        for piece in pieces.shapes:
            assert piece.is_valid
            west, _, east, _ = piece.bounds
            if zoom > 0 and len(shapely.get_coordinates(piece)) > 400:
                pad = PAD_PX * 2 * pixel * 2
                assert west >= bounds.west - pad and east <= bounds.east + pad


def test_a_piece_does_not_depend_on_what_was_asked_before() -> None:
    shapes = wild(np.random.default_rng(9))
    fresh, used = (Cutter(Pieces(shapes=shapes), SCHEME) for _ in range(2))
    for zoom in range(7):
        for col in range(min(2**zoom, 6)):
            used.tile(zoom, col, col)
    for at in ((6, 5, 5), (3, 2, 2), (0, 0, 0)):
        one, other = fresh.tile(*at), used.tile(*at)
        assert [g.wkb for g in one.shapes] == [g.wkb for g in other.shapes]


def test_a_view_gets_the_pieces_on_it() -> None:
    shapes = wild(np.random.default_rng(5))
    cutter = Cutter(Pieces(shapes=shapes), SCHEME)
    for bounds, metres in ((Bounds(502_000, 4_002_000, 503_000, 4_003_000), 2.0),
                           (Bounds(490_000, 3_990_000, 520_000, 4_020_000), 40.0),
                           (Bounds(0.0, 0.0, 10.0, 10.0), 1.0)):  # fmt: skip
        pieces = cutter.over(bounds, metres)
        box = shapely.box(bounds.west, bounds.south, bounds.east, bounds.north)
        expected = shapely.union_all([s.intersection(box) for s in shapes if s.geom_type == "Polygon"])
        got = shapely.union_all([p for p in pieces.shapes if "Polygon" in p.geom_type]).intersection(box)
        assert got.symmetric_difference(expected).area <= metres * (expected.length + 1.0)
    assert len(Cutter(Pieces(shapes=np.empty(0, dtype=object)), SCHEME).tile(3, 1, 1)) == 0


def test_columns_come_with_their_pieces(again: Session) -> None:
    held = again._map._cutters["tracks"]
    pieces = held.over(again.ranch.layers.ranch, 8.0)
    assert set(pieces["class"].tolist()) == {"road", "track"}
    assert "class" in pieces.columns and len(pieces) == len(pieces["class"].tolist())
