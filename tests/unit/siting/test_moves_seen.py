"""What moved and why, and what cameras near a site say."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest

from boscage.model.findings import CameraFound
from boscage.model.groups import CameraUse, Group, GroupNight, NightsTest
from boscage.pipeline.together import blocks
from boscage.siting.moves import SAME_PLACE_M, Ranked, find_moves
from boscage.siting.seen import camera_sentences, group_near
from boscage.values import Grid, Printer

TITLES = {"use": "fresh sign", "cover": "canopy cover"}


def place(rank: int, x: float, use: float = 10.0, cover: float = 20.0, name: str = "") -> Ranked:
    return Ranked(
        site=name or f"S-{rank:02d}", rank=rank, x_m=x, y_m=0.0, score=use + cover,
        points={"use": use, "cover": cover}, titles=TITLES,
    )  # fmt: skip


def test_nothing_moved_is_nothing_to_say() -> None:
    assert find_moves([place(1, 0.0), place(2, 500.0)], [place(1, 3.0), place(2, 500.0)]) == ()


def test_two_places_that_change_ranks_say_which_factor_did_it() -> None:
    before = [place(1, 0.0, use=12.0), place(2, 500.0, use=11.0)]
    now = [place(1, 500.0, use=18.0, cover=19.0), place(2, 0.0, use=12.0)]
    up, down = find_moves(before, now)
    assert (up.site, up.rank, up.was_site, up.was_rank) == ("S-01", 1, "S-02", 2)
    assert up.points == pytest.approx(6.0) and up.why == "Points: fresh sign +7, canopy cover -1."
    assert (down.rank, down.was_rank) == (2, 1) and "hardly changed" in down.why


def test_places_that_come_and_go() -> None:
    new, gone = find_moves([place(1, 0.0)], [place(1, SAME_PLACE_M + 1.0)])
    assert (new.rank, new.was_rank, gone.rank, gone.was_rank) == (1, None, None, 1)
    assert "New among" in new.why and "Ranked no more" in gone.why and math.isnan(new.points)


def test_a_place_is_taken_once_and_by_the_nearest() -> None:
    before = [place(1, 0.0), place(2, 50.0)]
    now = [place(1, 49.0), place(2, 2.0)]
    assert [(m.rank, m.was_rank) for m in find_moves(before, now)] == [(1, 2), (2, 1)]


def test_a_factor_that_takes_part_no_more_counts_with_what_it_gave() -> None:
    old = place(2, 0.0)
    new = Ranked(site="S-01", rank=1, x_m=0.0, y_m=0.0, score=10.0, points={"use": 10.0}, titles={"use": "fresh sign"})
    (move,) = find_moves([old], [new])
    assert move.why == "Points: canopy cover -20."


def camera(name: str, x: float, visits: int = 3, last: float = 2.0) -> CameraFound:
    use = CameraUse(
        deployment=f"d-{name}", visits=visits, nights=10.4, visits_per_night=visits / 10.4, nights_seen=(),
        by_hour=(0,) * 24, largest=7 if visits else 0,
    )  # fmt: skip
    return CameraFound(name=name, x_m=x, y_m=0.0, use=use, last_days=last if visits else math.nan)


def group(name: str, *cameras: str, passed: bool = True) -> Group:
    night = GroupNight(night=dt.date(2026, 11, 19), size=7, members={"adult female": 7})
    test = NightsTest(passed=passed, running=2, wanted=2, why="7 animals of the same classes on 2 nights running.")
    return Group(
        name=name, is_named=True, deployments=tuple(f"d-{c}" for c in cameras), nights=(night,),
        members=night.members, least=6, most=7, test=test,
    )  # fmt: skip


def said(cameras: list[CameraFound], groups: list[Group], reach: float = 500.0) -> tuple[str, ...]:
    return camera_sentences(0.0, 0.0, cameras, groups, reach, Printer("metric"))


def test_near_cameras_speak_and_far_ones_do_not() -> None:
    lines = said([camera("far", 501.0), camera("b", 300.0), camera("a", 100.0, visits=1, last=1.0)], [])
    assert lines == (
        "Camera a, 100 m off: 1 visit in 10 nights, latest last night, 7 at one time at most.",
        "Camera b, 300 m off: 3 visits in 10 nights, latest 2 nights ago, 7 at one time at most.",
    )
    assert said([camera("far", 501.0)], [group("G", "far")]) == ()


def test_a_camera_that_saw_nothing_says_so_and_many_are_counted() -> None:
    cameras = [camera(f"c{k}", 10.0 * k, visits=0) for k in range(5)]
    lines = said(cameras, [])
    assert lines[0].endswith("no visit in 10 nights.") and lines[-1] == "2 more cameras within 500 m."


def test_groups_of_near_cameras_are_told_with_their_test() -> None:
    lines = said([camera("a", 100.0)], [group("north", "a", passed=False), group("other", "z")])
    assert lines[1].startswith("Group north, 6 to 7 a night: same count on nights running not passed; 7 animals")
    assert len(lines) == 2


def test_a_site_is_for_the_group_of_the_nearest_camera_with_visits() -> None:
    cameras = [camera("empty", 10.0, visits=0), camera("a", 200.0), camera("b", 300.0)]
    groups = [group("first", "b", "empty"), group("second", "a")]
    assert group_near(0.0, 0.0, cameras, groups, 500.0) == "second"
    assert group_near(0.0, 0.0, cameras, groups, 100.0) is None


@pytest.mark.parametrize("most", [1, 7, 40, 400])
def test_blocks_keep_the_sum_and_keep_under_the_most(most: int) -> None:
    values = np.random.default_rng(2).uniform(0.0, 1.0, (23, 31))
    values[:, :9] = 0.0
    grid = Grid("EPSG:32615", 100.0, 900.0, 10.0, 23, 31)
    summed, coarse = blocks(values, grid, most)
    assert summed.sum() == pytest.approx(values.sum()) and np.count_nonzero(summed) <= most
    assert summed.shape == coarse.shape and (coarse.west, coarse.north) == (grid.west, grid.north)
    side = round(coarse.cell_m / grid.cell_m)
    assert summed[0, 1] == pytest.approx(values[:side, side : 2 * side].sum()) if summed.shape[1] > 1 else True
