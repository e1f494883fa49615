"""Visits and groups: the largest number at one time, nights running, boars apart."""

from __future__ import annotations

import datetime as dt
import math
from pathlib import Path

import pytest

from boscage.evidence.groups import find_groups, nights_test
from boscage.evidence.visits import camera_use, find_visits
from boscage.model.groups import CameraData, CameraOptions, Deployment, GroupNight, Sighting
from boscage.readers.camtrap import read_camera_packages
from boscage.values import Length

SAMPLE = Path(__file__).parents[3] / "sample_data" / "cameras"
ZONE = dt.timezone(dt.timedelta(hours=-6))
BEGIN = dt.datetime(2026, 11, 5, 15, tzinfo=ZONE)
OPTIONS = CameraOptions()


def camera(name: str = "A", lon: float = -92.7, nights: float = 10.0) -> Deployment:
    end = BEGIN + dt.timedelta(days=nights)
    return Deployment(deployment=name, location=name, name=f"place {name}", lon=lon, lat=36.2, start=BEGIN, end=end)


def seen(
    minutes: float,
    count: int,
    life_stage: str = "",
    sex: str = "",
    *,
    level: str = "media",
    key: str = "",
    **facts: str,
) -> Sighting:
    at = BEGIN + dt.timedelta(minutes=minutes)
    key = key or f"k{minutes}"
    given = {"deployment": "A", "species": "Sus scrofa", "group": ""} | facts
    return Sighting(
        sighting=f"{key}-{count}-{life_stage}-{sex}", level=level, event=key if level == "event" else "",
        media=key if level == "media" else "", start=at, end=at, kind="animal", count=count, life_stage=life_stage,
        sex=sex, **given,
    )  # fmt: skip


def data(*rows: Sighting, cameras: tuple[Deployment, ...] = (camera(),)) -> CameraData:
    made = {c.deployment: c for c in cameras}
    return CameraData(packages=("p",), version="1.0.2", deployments=made, sightings=rows)


def test_size_is_the_largest_number_at_one_time_and_never_a_sum() -> None:
    rows = [
        seen(0, 3, "juvenile"),
        seen(5, 2, "adult", "female"),
        seen(5, 4, "juvenile"),
        seen(9, 3, "adult", "female"),
    ]
    (visit,) = find_visits(data(*rows), OPTIONS)
    assert visit.size == 6
    assert visit.members == {"adult female": 3, "juvenile": 4}


def test_classes_of_one_event_add_up_and_photographs_of_it_are_not_added() -> None:
    event = [seen(0, 3, "adult", "female", level="event", key="E1"), seen(0, 6, "juvenile", level="event", key="E1")]
    photographs = [seen(m, 9) for m in (0, 3, 6)]
    (visit,) = find_visits(data(*event, *photographs), OPTIONS)
    assert visit.size == 9 and visit.members == {"adult female": 3, "juvenile": 6}


@pytest.mark.parametrize(("minutes", "visits"), [(30, 1), (31, 2), (200, 2)])
def test_a_gap_ends_a_visit(minutes: int, visits: int) -> None:
    """30 minutes, as in a published study of a suid (trade practice 15 to 30)."""
    assert len(find_visits(data(seen(0, 1), seen(minutes, 1)), OPTIONS)) == visits


def test_a_long_visit_holds_as_long_as_no_gap_is_longer() -> None:
    (visit,) = find_visits(data(*[seen(25 * k, 1) for k in range(12)]), OPTIONS)
    assert (visit.end - visit.start) == dt.timedelta(minutes=275)


def test_other_animals_and_blanks_make_no_visit() -> None:
    assert find_visits(data(seen(0, 4, species="Odocoileus virginianus")), OPTIONS) == ()


def test_a_night_is_named_by_its_evening() -> None:
    before, after = seen(60 * 20, 1), seen(60 * 22, 1)  # 11:00 and 13:00 of the next day
    first, second = find_visits(data(before, after), OPTIONS)
    assert (first.night, second.night) == (dt.date(2026, 11, 5), dt.date(2026, 11, 6))


def test_use_of_a_camera_and_of_one_that_saw_nothing() -> None:
    rows = [seen(60 * h, 2) for h in (4, 9, 33)]
    found = camera_use(data(*rows, cameras=(camera(), camera("B", -92.6))), find_visits(data(*rows), OPTIONS))
    assert (found[0].visits, found[0].nights, found[0].visits_per_night) == (3, 10.0, pytest.approx(0.3))
    assert {h: n for h, n in enumerate(found[0].by_hour) if n} == {0: 2, 19: 1}
    assert found[0].nights_seen == (dt.date(2026, 11, 5), dt.date(2026, 11, 6)) and found[0].largest == 2
    assert (found[1].visits, found[1].visits_per_night, sum(found[1].by_hour)) == (0, 0.0, 0)
    assert math.isnan(camera_use(data(cameras=(camera(nights=0.0),)), ())[0].visits_per_night)


def test_cameras_near_one_another_see_one_group_and_counts_are_not_added() -> None:
    """0.002 degrees of longitude at 36.2 N are 179 m, 0.02 are 1.8 km."""
    cameras = (camera("A"), camera("B", -92.702), camera("C", -92.72))
    rows = [
        seen(300, 5, "juvenile"),
        seen(400, 6, "juvenile", deployment="B"),
        seen(500, 4, "juvenile", deployment="C"),
    ]
    held = data(*rows, cameras=cameras)
    first, second = find_groups(held, find_visits(held, OPTIONS), OPTIONS)
    assert (first.deployments, first.most, first.name) == (("A", "B"), 6, "place A")
    assert (second.deployments, second.most, second.is_named) == (("C",), 4, False)
    wide = CameraOptions(reach=Length(2000.0))
    assert len(find_groups(held, find_visits(held, wide), wide)) == 1


def test_a_boar_alone_is_no_member_and_a_tag_names_a_group() -> None:
    rows = [seen(300, 1, "adult", "male"), seen(600, 4, "juvenile"), seen(900, 7, "juvenile", group="split ear")]
    held = data(*rows)
    named, other = find_groups(held, find_visits(held, OPTIONS), OPTIONS)
    assert (named.name, named.is_named, named.most) == ("split ear", True, 7)
    assert (other.most, other.boars, other.members) == (4, 1, {"juvenile": 4})


def test_a_boar_that_follows_is_a_visit_of_its_own() -> None:
    rows = [
        seen(300, 5, "juvenile", level="event", key="E1"),
        seen(310, 1, "adult", "male", level="event", key="E2"),
        seen(320, 5, "juvenile", level="event", key="E3"),
    ]
    assert [v.is_boar_alone for v in find_visits(data(*rows), OPTIONS)] == [False, True, False]


def night(day: int, size: int, **members: int) -> GroupNight:
    return GroupNight(night=dt.date(2026, 11, day), size=size, members=members or {"juvenile": size})


@pytest.mark.parametrize(
    ("nights", "running", "passed"),
    [
        ([night(9, 7), night(10, 9), night(11, 9)], 2, True),
        ([night(9, 9), night(10, 9), night(11, 9)], 3, True),
        ([night(9, 9), night(11, 9)], 1, False),
        ([night(10, 9), night(11, 8)], 1, False),
        ([night(10, 9, juvenile=6, adult=3), night(11, 9, juvenile=5, adult=4)], 1, False),
        ([night(11, 9)], 1, False),
        ([], 0, False),
    ],
)
def test_same_group_same_count_nights_running(nights: list[GroupNight], running: int, passed: bool) -> None:
    """Two nights running: common practice, no source."""
    found = nights_test(nights, 2)
    assert (found.running, found.passed, found.wanted) == (running, passed, 2)
    assert found.why.endswith(".")


def test_a_group_not_seen_on_the_last_night_does_not_pass() -> None:
    nights = [night(9, 9), night(10, 9)]
    assert nights_test(nights, 2, dt.date(2026, 11, 10)).passed
    late = nights_test(nights, 2, dt.date(2026, 11, 11))
    assert not late.passed and late.running == 2 and "not seen since" in late.why


def test_the_sample_cameras_show_what_they_were_made_to_show() -> None:
    """By construction: groups of 9 and 14 that come whole from the ninth night on, a boar apart, one camera without."""
    held = read_camera_packages([SAMPLE])
    visits = find_visits(held, OPTIONS)
    nine, fourteen = find_groups(held, visits, OPTIONS)
    assert (nine.members, nine.most) == ({"adult female": 3, "juvenile": 6}, 9)
    assert (fourteen.members, fourteen.most) == ({"adult female": 4, "juvenile": 6, "subadult": 4}, 14)
    assert (nine.deployments, fourteen.deployments) == (("UC-C1", "UC-C2"), ("CD-C1", "CD-C2"))
    assert (nine.test.running, fourteen.test.running) == (6, 4)
    assert (nine.boars, fourteen.boars) == (3, 1)
    whole = [n.night for n in nine.nights if n.size == 9]
    assert whole == [dt.date(2026, 11, d) for d in range(13, 19)]
    use = {u.deployment: u for u in camera_use(held, visits)}
    assert use["BC-C1"].visits == 0 and use["UC-C1"].visits == 13 and use["SH-C1"].largest == 1
    assert sum(use["UC-C1"].by_hour[6:18]) == 0
