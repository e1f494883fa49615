"""Hard stops: ground that is ruled out whatever its score, each with its reason, reach and area."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter

from boscage.model.fields import burn, distance_field
from boscage.model.layers import LAYER_TITLES
from boscage.model.results import StopArea
from boscage.model.rules import STOP_TITLES, Rule
from boscage.model.scene import Scene
from boscage.siting.land import Land
from boscage.values import Grid, Printer

TREE_HEIGHTS_TO_A_LINE = 1.5
_EMPTY = shapely.MultiPolygon()
_ARC = 32


def find_stops(
    scene: Scene, land: Land, rules: Mapping[str, Rule], names: Iterable[str] = tuple(STOP_TITLES)
) -> tuple[StopArea, ...]:
    """Every hard stop on the ranch, in the order in which people read them, or those of them that are named.

    Setbacks are measured to the net, not to its middle: the ring's radius is added to each. Buffers are drawn from
    outside the true arc, so that no place nearer than the stated distance passes.
    """
    areas = []
    for name in names:
        if name in scene.plan.stops.switched_off:
            areas.append(
                _area(
                    name,
                    _EMPTY,
                    land,
                    rules.get(name),
                    scene.date,
                    note="switched off in the plan",
                    applied=False,
                )
            )
        else:
            areas.append(_FINDERS[name](name, scene, land, rules[name]))
    return tuple(areas)


def stopped_cells(areas: tuple[StopArea, ...], grid: Grid) -> NDArray[np.bool_]:
    """Cells whose centre is ruled out by any stop."""
    mask = np.zeros(grid.shape, dtype=bool)
    for area in areas:
        mask |= burn(area.geometry, grid)
    return mask


def _area(
    name: str, shape: Any, land: Land, rule: Rule | None, day: dt.date, *, distance_m: float | None = None,
    note: str = "", applied: bool = True,
) -> StopArea:  # fmt: skip
    inside = _polygonal(shapely.intersection(shape, land.ranch))
    stale = rule is not None and rule.is_stale(day)
    return StopArea(
        name=name, title=STOP_TITLES[name], hectares=inside.area / 1e4, geometry=inside, rule=rule, stale=stale,
        distance_m=distance_m, note=note, applied=applied,
    )  # fmt: skip


def _permission(name: str, scene: Scene, land: Land, rule: Rule) -> StopArea:
    unknown = land.parcels.geometry[land.parcels["access"] == "unknown"]
    area = Printer(scene.plan.ranch.units).area(unknown.area.sum() / 1e4)
    note = f"{area} of it unknown: ask" if len(unknown) else ""
    return _area(name, land.ranch.difference(land.granted), land, rule, scene.date, note=note)


def _parcel_line(name: str, scene: Scene, land: Land, rule: Rule) -> StopArea:
    """Ground too near to a line between owners, or to land without permission: the map may be off, the fence is not."""
    extra = rule.distance.m if rule.distance else 0.0
    reach = extra + scene.plan.stops.parcel_uncertainty.m
    inset = shapely.union_all(
        [held.buffer(-(reach + scene.plan.net.radius_m), quad_segs=_ARC) for held in land.holdings]
    )
    return _area(name, land.granted.difference(inset), land, rule, scene.date, distance_m=reach)


def _setback(name: str, scene: Scene, land: Land, rule: Rule) -> StopArea:
    layer, shapes = _things(name, scene)
    reach = rule.distance.m if rule.distance else 0.0
    if shapes is None:
        return _missing(name, layer, land, rule, scene.date)
    return _area(name, _grown(shapes, reach + scene.plan.net.radius_m), land, rule, scene.date, distance_m=reach)


def _power_line(name: str, scene: Scene, land: Land, rule: Rule) -> StopArea:
    """The setback, and ground nearer than one and a half times the height of the trees there."""
    plain = _setback(name, scene, land, rule)
    tops = scene.surface("canopy_top")
    if not plain.applied:
        return plain
    if tops is None:
        note = "tree heights not known, so 1.5 times the tallest tree is not applied"
        return _area(name, plain.geometry, land, rule, scene.date, distance_m=plain.distance_m, note=note)
    near = maximum_filter(np.nan_to_num(tops, nan=0.0), size=3, mode="nearest")
    shapes = scene.vectors["power_lines"].frame.geometry.to_numpy()
    reach = TREE_HEIGHTS_TO_A_LINE * near + scene.plan.net.radius_m
    mask = distance_field(shapes, scene.grid, within_m=float(reach.max()) + 1.0) < reach
    shape = shapely.union(plain.geometry, cells_to_shape(mask & (near > 0), scene.grid))
    share = float(np.isnan(tops[scene.ranch]).mean()) if scene.ranch.any() else 1.0
    note = "" if share < 0.005 else f"tree heights not known on {share:.0%} of the ranch: only the distance holds there"
    return _area(name, shape, land, rule, scene.date, distance_m=plain.distance_m, note=note)


def _no_go(name: str, scene: Scene, land: Land, rule: Rule) -> StopArea:
    layer = scene.vectors.get("no_go")
    if layer is None or layer.frame.empty:
        return _missing(name, "no_go", land, rule, scene.date)
    first, last = scene.date, scene.date + dt.timedelta(days=scene.plan.stops.working_days)
    active = np.array([_is_active(row.from_date, row.until_date, first, last) for row in layer.frame.itertuples()])
    reasons = sorted({str(reason) for reason in layer.frame["reason"][active]})
    idle = int((~active).sum())
    note = "; ".join(reasons) + (f" ({idle} other not in force until {last.isoformat()})" if idle else "")
    shape = _grown(layer.frame.geometry[active].to_numpy(), scene.plan.net.radius_m)
    return _area(name, shape, land, rule, scene.date, note=note)


def _steep(name: str, scene: Scene, land: Land, rule: Rule) -> StopArea:
    slope = scene.surface("slope")
    if slope is None:
        return _missing(name, "terrain", land, rule, scene.date)
    limit = scene.plan.stops.steep if scene.plan.stops.steep is not None else rule.percent
    limit = 100.0 if limit is None else limit
    with np.errstate(invalid="ignore"):
        steep = (slope * 100.0 > limit) & scene.ranch
    unknown = float(np.isnan(slope[scene.ranch]).mean()) if scene.ranch.any() else 0.0
    note = f"over {limit:g} %" + (f"; slope not known on {unknown:.0%} of the ranch" if unknown > 0.001 else "")
    return _area(name, cells_to_shape(steep, scene.grid), land, rule, scene.date, note=note)


def _flood(name: str, scene: Scene, land: Land, rule: Rule) -> StopArea:
    layer = scene.vectors.get("soils")
    if layer is None or layer.frame.empty or "flood_class" not in layer.frame.columns:
        return _missing(name, "soils with a flood_class", land, rule, scene.date)
    classes = scene.plan.stops.flood if scene.plan.stops.flood is not None else rule.classes
    hit = layer.frame["flood_class"].isin(classes)
    known = layer.frame["flood_class"].notna()
    shape = shapely.union_all(layer.frame.geometry[hit].to_numpy())
    note = f"classes: {', '.join(classes)}" + ("" if known.all() else "; class not known on part of the map")
    return _area(name, shape, land, rule, scene.date, note=note)


def _missing(name: str, layer: str, land: Land, rule: Rule, day: dt.date) -> StopArea:
    title = LAYER_TITLES.get(layer, layer)
    note = f"not applied: no {title} layer. That is not the same as none: look on the ground"
    return _area(name, _EMPTY, land, rule, day, note=note, applied=False)


def _things(name: str, scene: Scene) -> tuple[str, NDArray[Any] | None]:
    """The layer behind a setback and its shapes, or None where the layer is missing."""
    layer = {"dwelling": "dwellings", "public_road": "tracks", "power_line": "power_lines"}.get(name, name)
    found = scene.vectors.get(layer)
    if found is None or found.frame.empty:
        return layer, None
    frame = found.frame
    if name == "public_road":
        frame = frame[frame["public"].to_numpy(dtype=bool)]
    return layer, frame.geometry.to_numpy()


def _grown(shapes: NDArray[Any], reach_m: float) -> Any:
    """Union of the shapes grown by a reach, drawn from outside the arc."""
    outside = reach_m / np.cos(np.pi / (4 * _ARC))
    return shapely.union_all(shapely.buffer(shapes, outside, quad_segs=_ARC))


def _is_active(start: str | None, end: str | None, first: dt.date, last: dt.date) -> bool:
    """Whether a dated area is in force on any day from `first` to `last`; a blank start or end is open.

    >>> day = dt.date
    >>> _is_active("2026-10-01", "2026-12-15", day(2026, 12, 10), day(2027, 1, 9))
    True
    >>> _is_active("11-01", "02-15", day(2026, 3, 1), day(2026, 3, 31))
    False
    """
    start, end = (value if isinstance(value, str) and value else None for value in (start, end))
    for value in (start, end):
        if value is not None and len(value) == 5:
            return any(
                _in_season(first + dt.timedelta(days=n), start or "01-01", end or "12-31")
                for n in range((last - first).days + 1)
            )
    begins = dt.date.min if start is None else dt.date.fromisoformat(start)
    ends = dt.date.max if end is None else dt.date.fromisoformat(end)
    return begins <= last and ends >= first


def _in_season(day: dt.date, start: str, end: str) -> bool:
    key = f"{day:%m-%d}"
    return start <= key <= end if start <= end else (key >= start or key <= end)


def cells_to_shape(mask: NDArray[np.bool_], grid: Grid) -> Any:
    """The (multi)polygon that a mask's cells cover."""
    padded = np.zeros((mask.shape[0], mask.shape[1] + 2), dtype=np.int8)
    padded[:, 1:-1] = mask
    turns = np.diff(padded, axis=1)
    rows, starts = np.nonzero(turns == 1)
    _, ends = np.nonzero(turns == -1)
    west, east = grid.west + starts * grid.cell_m, grid.west + ends * grid.cell_m
    north = grid.north - rows * grid.cell_m
    return shapely.union_all(shapely.box(west, north - grid.cell_m, east, north))


def _polygonal(shape: Any) -> Any:
    parts = shapely.get_parts(shape)
    return shapely.MultiPolygon([p for p in parts if p.geom_type == "Polygon" and not p.is_empty])


_FINDERS: Mapping[str, Callable[[str, Scene, Land, Rule], StopArea]] = {
    "permission": _permission, "no_go": _no_go, "dwelling": _setback, "public_road": _setback,
    "parcel_line": _parcel_line, "power_line": _power_line, "water": _setback, "steep": _steep, "flood": _flood,
}  # fmt: skip
