"""All that sign and cameras say of use on a ranch, put together for a grid."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from boscage.evidence.ages import age_class, age_signs
from boscage.evidence.surface import use_surface
from boscage.model.evidence import AgedSigns, Searched, Sign, SignOptions, UseSurface, VisitPoint
from boscage.model.scene import Scene


def ranch_use(scene: Scene, options: SignOptions, visit_weight: float) -> tuple[AgedSigns, UseSurface]:
    """Sign and visits of cameras as weighted points, and the surface of use that they give.

    A visit is a sign of its own weight that fades like any other: the night before counts most.
    """
    layer, lines = scene.vectors.get("sign"), scene.vectors.get("searched")
    signs = age_signs([] if layer is None else signs_of(layer.frame), options)
    both = _with_visits(signs, scene.visits or (), options, visit_weight)
    searched = None if lines is None else searched_of(lines.frame)
    return both, use_surface(both, scene.grid, options, searched)


def signs_of(frame: Any) -> list[Sign]:
    """Checked sign points as the layer holds them."""
    shapes = frame.geometry
    x, y, ages = shapes.x.to_numpy(), shapes.y.to_numpy(), frame["age_days"].to_numpy()
    states = frame["age_class"].tolist() if "age_class" in frame.columns else [""] * len(frame)
    rains = frame["rain_days"].tolist() if "rain_days" in frame.columns else [float("nan")] * len(frame)
    rows = frame["row"].tolist() if "row" in frame.columns else [0] * len(frame)
    return [
        Sign(
            x_m=float(x[k]), y_m=float(y[k]), kind=kind, days=float(ages[k]), state=states[k] or None,
            days_since_rain=float(rains[k]), row=int(rows[k]),
        )
        for k, kind in enumerate(frame["kind"].tolist())
    ]  # fmt: skip


def searched_of(frame: Any) -> list[Searched]:
    """Searched lines as the layer holds them, each part of a line by itself."""
    lines = []
    for shape, days in zip(frame.geometry, frame["since_days"].tolist(), strict=True):
        for part in getattr(shape, "geoms", [shape]):
            lines.append(Searched(line=np.asarray(part.coords, dtype=np.float64)[:, :2], days=float(days)))
    return lines


def _with_visits(
    signs: AgedSigns, visits: Sequence[VisitPoint], options: SignOptions, visit_weight: float
) -> AgedSigns:
    days = np.array([v.days for v in visits], dtype=np.float64)
    weights = visit_weight * 0.5 ** (days / options.half_life_days)
    return AgedSigns(
        x_m=np.concatenate([signs.x_m, [v.x_m for v in visits]]),
        y_m=np.concatenate([signs.y_m, [v.y_m for v in visits]]), age_days=np.concatenate([signs.age_days, days]),
        classes=(*signs.classes, *[age_class(d) for d in days]), weights=np.concatenate([signs.weights, weights]),
        notes=signs.notes,
    )  # fmt: skip
