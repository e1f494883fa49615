"""How the ranch is cut into tiles, and that what goes between the processes can."""

from __future__ import annotations

import pickle
from dataclasses import FrozenInstanceError

import numpy as np
import pytest

from boscage.model.choices import Choice
from boscage.model.desk import TILE_PX, LayerSwitches, TileRequest, TileScheme, ViewFrame, ViewRequest
from boscage.model.desk_answers import Failure, JobRequest, RigListRequest, RigRequest, SiteEdits
from boscage.model.rig import Stem
from boscage.values import Bounds

RANCH = Bounds(500_013.0, 4_000_007.0, 506_113.0, 4_009_950.0)


@pytest.mark.parametrize("side", [90.0, 3_000.0, 8_192.0, 11_200.0, 45_000.0])
def test_the_coarsest_tile_holds_the_ranch_and_the_finest_is_fine(side: float) -> None:
    bounds = Bounds(RANCH.west, RANCH.south, RANCH.west + side, RANCH.south + 0.8 * side)
    scheme = TileScheme.over(bounds, "EPSG:32615")
    whole = scheme.bounds(0, 0, 0)
    assert whole.west <= bounds.west and whole.east >= bounds.east
    assert whole.south <= bounds.south and whole.north >= bounds.north
    assert scheme.metres_per_px(scheme.zooms - 1) == 0.125
    assert np.log2(scheme.coarsest_m) == round(np.log2(scheme.coarsest_m))
    assert scheme.coarsest_m <= max(4.0 * side / TILE_PX, 2.0), "not much coarser than it must be"


def test_a_tile_is_four_of_the_next_zoom() -> None:
    scheme = TileScheme.over(RANCH, "EPSG:32615")
    outer = scheme.bounds(3, 5, 2)
    inner = [scheme.bounds(4, 10 + c, 4 + r) for r in (0, 1) for c in (0, 1)]
    assert (inner[0].west, inner[0].north) == (outer.west, outer.north)
    assert (inner[3].east, inner[3].south) == (outer.east, outer.south)
    assert inner[0].east == inner[1].west and inner[0].south == inner[2].north
    assert outer.width == TILE_PX * scheme.metres_per_px(3)


def test_the_tiles_of_a_view_cover_it_and_begin_in_its_middle() -> None:
    scheme = TileScheme.over(RANCH, "EPSG:32615")
    view = ViewFrame(x_m=503_000.0, y_m=4_005_000.0, metres_per_px=2.5, width_px=1280, height_px=720)
    zoom = scheme.zoom_for(view.metres_per_px)
    assert scheme.metres_per_px(zoom) == 2.0, "the coarsest that is not coarser than the view"
    tiles = scheme.tiles(zoom, view.bounds)
    boxes = [scheme.bounds(zoom, c, r) for c, r in tiles]
    for x, y in ((0, 0), (1280, 0), (0, 720), (1280, 720), (640, 360), (1, 719)):
        east, north = view.to_ground(x, y)
        assert any(b.west <= east <= b.east and b.south <= north <= b.north for b in boxes)
    first = boxes[0]
    assert first.west <= view.x_m <= first.east and first.south <= view.y_m <= first.north
    assert len(tiles) == len(set(tiles)) <= 8 * 5
    assert scheme.tiles(zoom, Bounds(0.0, 0.0, 10.0, 10.0)) == ()


@pytest.mark.parametrize(("metres", "zoom"), [(1e6, 0), (64.0, 0), (63.0, 1), (0.125, 9), (1e-6, 9)])
def test_the_zoom_for_a_scale_stays_within_those_there_are(metres: float, zoom: int) -> None:
    assert TileScheme.over(RANCH, "EPSG:32615").zoom_for(metres) == zoom


def test_ground_and_pixels_answer_each_other() -> None:
    view = ViewFrame(x_m=100.0, y_m=200.0, metres_per_px=0.5, width_px=300, height_px=200)
    assert view.to_px(*view.to_ground(12.5, 160.0)) == pytest.approx((12.5, 160.0))
    assert view.to_px(view.x_m, view.y_m) == (150.0, 100.0)
    assert view.to_ground(0, 0) == (view.bounds.west, view.bounds.north)


def test_requests_go_between_processes_and_do_not_change() -> None:
    frame = ViewFrame(x_m=1.0, y_m=2.0, metres_per_px=1.0, width_px=10, height_px=10)
    sent = [
        TileRequest(zoom=1, col=2, row=3), ViewRequest(frame=frame, switches=LayerSwitches(score=False)),
        SiteEdits(weights={"cover": 2.0}, choices=(Choice(at=(-92.0, 36.0), choice="pin"),)),
        RigRequest(site="A-01", extra=(Stem(stem="x", x_m=1.0, y_m=2.0, dbh_m=0.3),), options={"contacts": 6}),
        RigListRequest(columns=("stem",), rows=(("1",),)), JobRequest(plan="p.toml", options={"masked": True}),
        Failure(sentence="no"), TileScheme.over(RANCH, "EPSG:32615"),
    ]  # fmt: skip
    for one in sent:
        assert pickle.loads(pickle.dumps(one)) == one
        with pytest.raises(FrozenInstanceError):
            one.new = 1  # type: ignore[attr-defined]
    assert len({TileRequest(zoom=1, col=2, row=3), TileRequest(zoom=1, col=2, row=3)}) == 1, "a tile can be a key"
