"""Groups: members and nights seen, and whether the same group came with the same count on nights running."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence

from boscage.model.groups import CameraData, CameraOptions, Deployment, Group, GroupNight, NightsTest, Visit

EARTH_M = 6_371_008.8


def find_groups(data: CameraData, visits: Sequence[Visit], options: CameraOptions) -> tuple[Group, ...]:
    """Groups from visits.

    Visits that a tag names belong to the group of that name. Of the others, cameras no farther apart than `reach`, one
    after another, are taken to see one group (common practice, no source); boars alone are counted apart. A night's
    count is the largest number seen at one time at any of its cameras.
    """
    areas = _areas(list(data.deployments.values()), options.reach.m)
    named = sorted({v.group for v in visits if v.group})
    out = [_group(data, [v for v in visits if v.group == n], (), options, name=n) for n in named]
    for area in areas:
        here = [v for v in visits if v.deployment in area and not v.group]
        together = [v for v in here if not v.is_boar_alone]
        boars = [v for v in here if v.is_boar_alone]
        if together:
            out.append(_group(data, together, boars, options))
    return tuple(out)


def nights_test(nights: Sequence[GroupNight], wanted: int, last: dt.date | None = None) -> NightsTest:
    """Whether the last nights a group was seen show one composition, without a night between.

    Args:
        nights: By night, rising.
        wanted: Nights running asked for; field practice is 2 to 3 (common practice, no source).
        last: Last whole night that a camera was out; a group not seen since then does not pass.
    """
    if not nights:
        return NightsTest(passed=False, running=0, wanted=wanted, why="It was not seen.")
    running = 1
    for earlier, later in zip(nights[-2::-1], nights[:0:-1], strict=True):
        if earlier.night + dt.timedelta(days=1) != later.night or earlier.members != later.members:
            break
        running += 1
    newest = nights[-1]
    told = f"{newest.size} animals of the same classes on {_nights(running)} up to {newest.night}"
    if last is not None and newest.night < last:
        why = f"{told}; not seen since, and a camera was out up to {last}."
        return NightsTest(passed=False, running=running, wanted=wanted, why=why)
    if running >= wanted:
        return NightsTest(passed=True, running=running, wanted=wanted, why=f"{told}.")
    return NightsTest(passed=False, running=running, wanted=wanted, why=f"{told}; {wanted} are asked for.")


def _nights(count: int) -> str:
    return "1 night" if count == 1 else f"{count} nights running"


def _group(
    data: CameraData, visits: Sequence[Visit], boars: Sequence[Visit], options: CameraOptions, name: str = ""
) -> Group:
    nights = _by_night(visits)
    cameras = tuple(d for d in data.deployments if any(v.deployment == d for v in visits))
    most = max(n.size for n in nights)
    fullest = next(n for n in reversed(nights) if n.size == most)
    return Group(
        name=name or _place_name(data, visits), is_named=bool(name), deployments=cameras, nights=nights,
        members=fullest.members, least=min(n.size for n in nights), most=most,
        test=nights_test(nights, options.nights, _last_night([data.deployments[c] for c in cameras])),
        boars=len(boars),
    )  # fmt: skip


def _by_night(visits: Sequence[Visit]) -> tuple[GroupNight, ...]:
    """Each night's fullest visit; of equal ones the earliest."""
    out = []
    for night in sorted({v.night for v in visits}):
        held = sorted((v for v in visits if v.night == night), key=lambda v: (-v.size, v.start, v.deployment))
        members = held[0].members
        out.append(GroupNight(night=night, size=held[0].size, members=members))
    return tuple(out)


def _last_night(cameras: Sequence[Deployment]) -> dt.date:
    """Evening date of the last night that a camera was out until the noon after it."""
    return max((c.end - dt.timedelta(hours=36)).date() for c in cameras)


def _place_name(data: CameraData, visits: Sequence[Visit]) -> str:
    """The place of the camera that saw it most often; of equal ones the first."""
    seen = [v.deployment for v in visits]
    most = max(data.deployments, key=seen.count)
    camera = data.deployments[most]
    return camera.name or camera.location or camera.deployment


def _areas(cameras: Sequence[Deployment], reach_m: float) -> list[set[str]]:
    """Cameras joined where one is within reach of another, in the order of the first of each."""
    areas: list[set[str]] = []
    by_id: Mapping[str, Deployment] = {c.deployment: c for c in cameras}
    for camera in cameras:
        near = [a for a in areas if any(_away_m(camera, by_id[d]) <= reach_m for d in a)]
        merged = {camera.deployment}.union(*near)
        areas = [a for a in areas if a not in near]
        areas.append(merged)
    order = {c.deployment: i for i, c in enumerate(cameras)}
    return sorted(areas, key=lambda a: min(order[d] for d in a))


def _away_m(first: Deployment, second: Deployment) -> float:
    """Great-circle distance on a sphere of the Earth's mean radius; within 0.6 % of the ellipsoid."""
    low, high = math.radians(first.lat), math.radians(second.lat)
    across = math.radians(second.lon - first.lon)
    half = math.sin((high - low) / 2) ** 2 + math.cos(low) * math.cos(high) * math.sin(across / 2) ** 2
    return 2.0 * EARTH_M * math.asin(min(1.0, math.sqrt(half)))
