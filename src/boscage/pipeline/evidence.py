"""What sign and cameras say of a ranch: put into the scene before scoring, and into the result after it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from boscage.evidence.groups import find_groups
from boscage.evidence.ranch import ranch_use
from boscage.evidence.visits import camera_use, find_visits
from boscage.exports.store import key_of
from boscage.factors.use import UseOptions
from boscage.model.evidence import VisitPoint
from boscage.model.findings import CameraFound, Evidence
from boscage.model.groups import CameraUse, Visit
from boscage.model.layers import LayerSet
from boscage.model.portfolio import BaitSpacing
from boscage.model.results import ScoutResult
from boscage.model.scene import Scene
from boscage.siting.portfolio_bait import check_bait_spacing
from boscage.siting.seen import camera_sentences
from boscage.siting.sites import RatedFactor
from boscage.values import Printer


def with_visits(scene: Scene, layers: LayerSet) -> Scene:
    """The scene with the visits that cameras saw up to the date; as it is without cameras."""
    key = key_of(scene.digests.get("cameras"), scene.plan.cameras)
    scene = replace(scene, digests={**scene.digests, "cameras": key})
    return scene if layers.cameras is None else replace(scene, visits=_points(scene, layers, _visits(scene, layers)))


def _visits(scene: Scene, layers: LayerSet) -> tuple[Visit, ...]:
    """Visits at cameras on the ranch, those of nights still to come left out."""
    assert layers.cameras is not None, "asked only where there are cameras"
    found = find_visits(layers.cameras, scene.plan.cameras)
    return tuple(v for v in found if v.deployment in layers.camera_places and v.night <= scene.date)


def _points(scene: Scene, layers: LayerSet, visits: Sequence[Visit]) -> tuple[VisitPoint, ...]:
    return tuple(
        VisitPoint(
            x_m=layers.camera_places[v.deployment][0], y_m=layers.camera_places[v.deployment][1],
            days=float((scene.date - v.night).days), size=v.size, deployment=v.deployment,
        )
        for v in visits
    )  # fmt: skip


def with_evidence(result: ScoutResult, scene: Scene, layers: LayerSet, rated: Sequence[RatedFactor]) -> ScoutResult:
    """The result with what sign and cameras say, of the ranch and of each site; as it is without either."""
    use = next((r.options for r in rated if isinstance(r.options, UseOptions)), UseOptions())
    sign = scene.vectors.get("sign")
    if sign is None and scene.visits is None:
        return result
    both, surface = ranch_use(scene, use, use.visit)
    signs = len(both.classes) - len(scene.visits or ())
    found = Evidence(
        density=surface.density * np.float32(1e6), bandwidth=surface.bandwidth, isopleths=surface.isopleths,
        classes={c: both.classes[:signs].count(c) for c in ("A", "B", "C", "D")}, effort=surface.effort,
        notes=surface.notes,
    )  # fmt: skip
    if layers.cameras is not None:
        found = _with_cameras(found, scene, layers)
    printer, reach_m = Printer(result.plan.ranch.units), result.plan.cameras.reach.m
    sites = tuple(
        replace(
            s, seen_by=camera_sentences(s.place.x_m, s.place.y_m, found.cameras, found.groups, reach_m, printer)
        )
        for s in result.sites
    )  # fmt: skip
    return replace(result, evidence=found, sites=sites)


def _with_cameras(found: Evidence, scene: Scene, layers: LayerSet) -> Evidence:
    data, places = layers.cameras, layers.camera_places
    assert data is not None, "asked only where there are cameras"
    visits = _visits(scene, layers)
    near = replace(data, deployments={k: d for k, d in data.deployments.items() if k in places})
    cameras = tuple(_camera(u, scene, layers) for u in camera_use(near, visits))
    bait = [c for c in cameras if c.bait]
    return replace(
        found, cameras=cameras, groups=find_groups(near, visits, scene.plan.cameras), bait=_bait(bait, scene),
        bait_names=tuple(c.name for c in bait), version=data.version, people=data.people,
        bad_rows=tuple(f"{b.table}, row {b.row}, {b.field}: {b.text}" for b in data.bad),
    )  # fmt: skip


def _camera(use: CameraUse, scene: Scene, layers: LayerSet) -> CameraFound:
    assert layers.cameras is not None, "asked only where there are cameras"
    held = layers.cameras.deployments[use.deployment]
    x, y = layers.camera_places[use.deployment]
    last = max(use.nights_seen, default=None)
    return CameraFound(
        name=held.name or held.location or held.deployment, x_m=x, y_m=y, use=use,
        last_days=math.nan if last is None else float((scene.date - last).days), bait=held.bait,
        end_is_assumed=held.end_is_assumed,
    )  # fmt: skip


def _bait(cameras: Sequence[CameraFound], scene: Scene) -> BaitSpacing | None:
    """Baited cameras against the published spacing; several at one place are one bait place."""
    if not cameras:
        return None
    places = np.array([(c.x_m, c.y_m) for c in cameras])
    waited = [math.nan if c.use.visits else c.use.nights for c in cameras]
    return check_bait_spacing(
        places, scene.plan.bait, printer=Printer(scene.plan.ranch.units), land=(scene.grid, scene.granted),
        days_without_visit=waited,
    )  # fmt: skip
