"""What cameras near a site saw, in sentences, and which group of animals a site is for."""

from __future__ import annotations

import math
from collections.abc import Sequence

from boscage.model.findings import CameraFound
from boscage.model.groups import Group
from boscage.values import Printer

MOST_TOLD = 3


def near_cameras(
    x_m: float, y_m: float, cameras: Sequence[CameraFound], reach_m: float
) -> list[tuple[float, CameraFound]]:
    """Cameras within a reach of a place, the nearest first, with their distances."""
    away = sorted(((math.hypot(c.x_m - x_m, c.y_m - y_m), c) for c in cameras), key=lambda a: (a[0], a[1].name))
    return [(d, c) for d, c in away if d <= reach_m]


def group_near(
    x_m: float, y_m: float, cameras: Sequence[CameraFound], groups: Sequence[Group], reach_m: float
) -> str | None:
    """The group that the nearest camera with visits saw, or None where none is near."""
    for _, camera in near_cameras(x_m, y_m, cameras, reach_m):
        for group in groups:
            if camera.use.visits and camera.use.deployment in group.deployments:
                return group.name
    return None


def camera_sentences(
    x_m: float, y_m: float, cameras: Sequence[CameraFound], groups: Sequence[Group], reach_m: float, printer: Printer
) -> tuple[str, ...]:
    """What each near camera saw, and the groups that it belongs to; empty without cameras near."""
    near = near_cameras(x_m, y_m, cameras, reach_m)
    lines = [_camera(away, camera, printer) for away, camera in near[:MOST_TOLD]]
    if len(near) > MOST_TOLD:
        lines.append(f"{len(near) - MOST_TOLD} more cameras within {printer.length(reach_m)}.")
    seen = {c.use.deployment for _, c in near}
    lines += [_group(g) for g in groups if seen & set(g.deployments)]
    return tuple(lines)


def _camera(away_m: float, camera: CameraFound, printer: Printer) -> str:
    use = camera.use
    nights = f"{use.nights:.0f} night{'s' if round(use.nights) != 1 else ''}"
    start = f"Camera {camera.name}, {printer.length(away_m)} off"
    if not use.visits:
        return f"{start}: no visit in {nights}."
    visits = f"{use.visits} visit{'s' if use.visits != 1 else ''} in {nights}"
    last = int(camera.last_days)
    when = {0: "tonight", 1: "last night"}.get(last, f"{last} nights ago")
    return f"{start}: {visits}, latest {when}, {use.largest} at one time at most."


def _group(group: Group) -> str:
    size = f"{group.least}" if group.least == group.most else f"{group.least} to {group.most}"
    passed = "passed" if group.test.passed else "not passed"
    return f"Group {group.name}, {size} a night: same count on nights running {passed}; {_lower(group.test.why)}"


def _lower(text: str) -> str:
    return text[:1].lower() + text[1:]
