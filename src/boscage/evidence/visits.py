"""Visits: what cameras saw, without summing photographs; visits a night and hours of activity."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby

from boscage.model.groups import CameraData, CameraOptions, CameraUse, Deployment, Sighting, Visit


def find_visits(data: CameraData, options: CameraOptions) -> tuple[Visit, ...]:
    """Visits of the animals that count, by camera and time.

    A camera's rows at event level are used where it has any, else its rows at media level, never both. One event's rows
    are its classes, so that their counts make up its size. Photographs make one visit as long as no gap is longer than
    the stated one; its size is the largest number on one of them, and each class its own largest number. Events that
    follow one another within the gap are joined in the same way.
    """
    out: list[Visit] = []
    for camera in data.deployments.values():
        rows = [s for s in data.sightings if s.deployment == camera.deployment and _counts(s, options)]
        events = [s for s in rows if s.level == "event"]
        out += _joined(_moments(events or rows), options.gap_minutes, camera)
    return tuple(out)


def camera_use(data: CameraData, visits: Sequence[Visit]) -> tuple[CameraUse, ...]:
    """Visits a night, nights seen and hours of activity of each camera; a camera that saw nothing has zeros."""
    return tuple(_use(camera, [v for v in visits if v.deployment == key]) for key, camera in data.deployments.items())


def _use(camera: Deployment, visits: Sequence[Visit]) -> CameraUse:
    hours = [v.start.hour for v in visits]
    return CameraUse(
        deployment=camera.deployment, visits=len(visits), nights=camera.nights,
        visits_per_night=len(visits) / camera.nights if camera.nights > 0.0 else math.nan,
        nights_seen=tuple(sorted({v.night for v in visits})), by_hour=tuple(hours.count(h) for h in range(24)),
        largest=max((v.size for v in visits), default=0),
    )  # fmt: skip


def _counts(sighting: Sighting, options: CameraOptions) -> bool:
    return sighting.kind == "animal" and sighting.species == options.species


def _moments(rows: Iterable[Sighting]) -> list[tuple[list[Sighting], dt.datetime, dt.datetime]]:
    """Rows of one event, or of one photograph, together, with their time; by time."""

    def key(row: Sighting) -> tuple[str, str]:
        return row.level, (row.event if row.level == "event" else row.media) or row.start.isoformat()

    made = []
    for _, found in groupby(sorted(rows, key=key), key=key):
        held = list(found)
        made.append((held, min(r.start for r in held), max(r.end for r in held)))
    return sorted(made, key=lambda m: (m[1], m[2]))


def _joined(
    moments: Sequence[tuple[list[Sighting], dt.datetime, dt.datetime]], gap_minutes: float, camera: Deployment
) -> list[Visit]:
    """Moments with no longer gap than stated, as one visit; a moment of another named group begins a new one."""
    runs: list[list[tuple[list[Sighting], dt.datetime, dt.datetime]]] = []
    until = dt.datetime.min.replace(tzinfo=dt.UTC)
    for moment in moments:
        within = runs and (moment[1] - until).total_seconds() <= 60.0 * gap_minutes
        if within and _group(runs[-1][-1][0]) == _group(moment[0]) and _alike(runs[-1][-1][0], moment[0]):
            runs[-1].append(moment)
        else:
            runs.append([moment])
            until = moment[2]
        until = max(until, moment[2])
    return [_visit(run, camera) for run in runs]


def _group(rows: Sequence[Sighting]) -> str:
    return next((r.group for r in rows if r.group), "")


def _alike(first: Sequence[Sighting], second: Sequence[Sighting]) -> bool:
    """Whether both moments at event level are boars alone or neither is: a boar that follows is a visit of its own."""
    if first[0].level == "media":
        return True
    return _boars(first) == _boars(second)


def _boars(rows: Sequence[Sighting]) -> bool:
    return all(r.animal_class == "adult male" for r in rows)


def _visit(run: Sequence[tuple[list[Sighting], dt.datetime, dt.datetime]], camera: Deployment) -> Visit:
    each = [_members(rows) for rows, _, _ in run]
    classes = sorted({c for members in each for c in members})
    return Visit(
        deployment=camera.deployment, start=run[0][1], end=max(end for _, _, end in run),
        members={c: max(m.get(c, 0) for m in each) for c in classes}, size=max(sum(m.values()) for m in each),
        group=_group([r for rows, _, _ in run for r in rows]),
    )  # fmt: skip


def _members(rows: Sequence[Sighting]) -> Mapping[str, int]:
    """Animals of each class at one moment; rows of one class there are animals apart and add up."""
    made: dict[str, int] = {}
    for row in rows:
        made[row.animal_class] = made.get(row.animal_class, 0) + row.count
    return made
