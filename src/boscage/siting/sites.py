"""From a peak of the score to a site that explains itself: readings, reasons, hazards, expected support."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from boscage.model.factor import Factor, FactorOptions, Measure
from boscage.model.layers import LayerReport
from boscage.model.results import FactorReading, Hazard
from boscage.model.scene import Scene
from boscage.model.soil import GroundAnswer
from boscage.siting.land import Land
from boscage.siting.ranking import Peak
from boscage.values import Printer

# Canopy cover round the ring from which trees alone, or trees with built supports, are expected: the project's own
# assumption until the trees are mapped.
TREES_FROM_PCT = 30.0
HYBRID_FROM_PCT = 10.0
POWER_LINE_FLAG_M = 91.44
LEAST_TOLD_LOSS = 3.0
LEAST_TOLD_GAIN = 0.5
FLOODS_OFTEN = ("occasional", "frequent", "very frequent")

_HAZARD_LAYERS: Mapping[str, tuple[str, str]] = {
    "dwelling": ("dwellings", "Dwelling"),
    "public_road": ("tracks", "Public road"),
    "power_line": ("power_lines", "Power line"),
    "no_go": ("no_go", "No-go area"),
    "water": ("water", "Water"),
}


@dataclass(frozen=True, kw_only=True)
class RatedFactor:
    """A factor that took part in a run: the plug-in, its options, what it measured."""

    factor: Factor
    options: FactorOptions
    measure: Measure


def read_factors(rated: Sequence[RatedFactor], peak: Peak, printer: Printer) -> tuple[FactorReading, ...]:
    """What each factor says of one place; the points add up to the place's score."""
    values = [float(r.measure.values[peak.row, peak.col]) for r in rated]
    known = sum(r.options.weight for r, v in zip(rated, values, strict=True) if not math.isnan(v))
    readings = []
    for r, value in zip(rated, values, strict=True):
        figures = {name: float(array[peak.row, peak.col]) for name, array in r.measure.figures.items()}
        figures["value"] = value
        has = not math.isnan(value)
        readings.append(
            FactorReading(
                name=r.factor.name, title=r.factor.title, value=value if has else None, weight=r.options.weight,
                points=100.0 * value * r.options.weight / known if has else 0.0,
                sentence=r.factor.sentence(figures, r.options, printer),
            )
        )  # fmt: skip
    return tuple(readings)


def data_share(readings: Sequence[FactorReading]) -> float:
    """Share of the weight that rests on data."""
    return sum(r.weight for r in readings if r.value is not None) / sum(r.weight for r in readings)


def explain(
    readings: Sequence[FactorReading], typical: Mapping[str, float], after: tuple[str, Sequence[FactorReading]] | None
) -> tuple[str, ...]:
    """Why a place ranks where it does.

    Args:
        readings: The place's readings.
        typical: Mean points of each factor over all ranked sites.
        after: The next site's name and readings, or None for the last.

    Returns:
        Sentences: what sets it apart from the other sites, what holds it back, what has no data, what sets it above
        the next.
    """
    rated = [r for r in readings if r.value is not None]
    lines = [_set_apart(rated, typical)] if rated else []
    if rated:
        worst = max(rated, key=_points_lost(rated))
        lost = _points_lost(rated)(worst)
        if lost >= LEAST_TOLD_LOSS:
            lines.append(f"Held back most by {worst.title.lower()} (-{lost:.0f}): {worst.sentence}")
    blind = [r.title.lower() for r in readings if r.value is None]
    if blind:
        lines.append(f"No data for {_joined(blind)}: the score rests on {data_share(readings):.0%} of the weight.")
    if after:
        lines.append(_against(readings, *after))
    return tuple(lines)


def typical_points(readings: Sequence[Sequence[FactorReading]]) -> dict[str, float]:
    """Mean points of each factor over several sites."""
    sums: dict[str, list[float]] = {}
    for reading in readings:
        for r in reading:
            sums.setdefault(r.name, []).append(r.points)
    return {name: sum(points) / len(points) for name, points in sums.items()}


def _set_apart(rated: Sequence[FactorReading], typical: Mapping[str, float]) -> str:
    """The two factors by which a place rises most above the mean of the ranked sites, and the gist of the first."""
    gains = sorted(((r.points - typical[r.name], r) for r in rated), key=lambda g: (-g[0], -g[1].points, g[1].name))
    ahead = [g for g in gains[:2] if g[0] >= LEAST_TOLD_GAIN]
    if not ahead:
        best = max(rated, key=lambda r: (r.points, r.name))
        return f"Like the other sites in most respects; {best.title.lower()} carries most ({best.points:.0f} points)."
    told = _joined([f"{r.title.lower()} (+{gain:.0f} point{'s' if round(gain) != 1 else ''})" for gain, r in ahead])
    gist = ahead[0][1].sentence.split(";")[0].rstrip(".")
    return f"Above the average site in {told}. {gist}."


def _points_lost(rated: Sequence[FactorReading]) -> Callable[[FactorReading], float]:
    """Points of 100 that a factor would add if its value were 1, less those that it does add."""
    known = sum(r.weight for r in rated)
    return lambda r: 100.0 * r.weight / known - r.points


def _against(readings: Sequence[FactorReading], site: str, others: Sequence[FactorReading]) -> str:
    by_name = {r.name: r for r in others}
    gaps = [(r.points - by_name[r.name].points, r.title.lower()) for r in readings if r.name in by_name]
    total = sum(gap for gap, _ in gaps)
    told = sorted((g for g in gaps if abs(g[0]) >= 0.5), key=lambda g: -abs(g[0]))[:3]
    if not told:
        return f"As good as {site} in every factor; the order of the two is a matter of rounding."
    lead = f"Ahead of {site} by {total:.0f}" if total >= 0.5 else f"Level with {site}"
    return f"{lead}: " + ", ".join(f"{title} {gap:+.0f}" for gap, title in told) + "."


def _joined(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def find_hazards(
    scene: Scene, land: Land, at: tuple[float, float], reports: Mapping[str, LayerReport], convergence_deg: float
) -> tuple[Hazard, ...]:
    """The nearest of each kind of thing to keep away from, with distance, direction and source.

    Args:
        at: East and north of the place.
    """
    here = shapely.Point(at)
    found = []
    for kind, (layer, title) in _HAZARD_LAYERS.items():
        report = reports[layer]
        features = scene.vectors.get(layer)
        frame = None if features is None else features.frame
        if frame is not None and kind == "public_road":
            frame = frame[frame["public"].to_numpy(dtype=bool)]
        if frame is None or frame.empty:
            missing = "not mapped: look" if frame is None else "none on the map: look"
            found.append(_hazard(kind, title, None, None, missing, report))
            continue
        distances = frame.geometry.distance(here).to_numpy()
        nearest = int(np.argmin(distances))
        line = shapely.shortest_line(here, frame.geometry.iloc[nearest])
        detail = _detail(frame.iloc[nearest], kind)
        found.append(_hazard(kind, title, float(distances[nearest]), _bearing(line, convergence_deg), detail, report))
    edge = shapely.boundary(land.granted)
    line = shapely.shortest_line(here, edge)
    off = f"map may be {Printer(scene.plan.ranch.units).length(scene.plan.stops.parcel_uncertainty.m)} off"
    found.append(
        _hazard("parcel_line", "Land without permission", float(here.distance(edge)), _bearing(line, convergence_deg),
                off, reports["parcels"])
    )  # fmt: skip
    return tuple(found)


def _hazard(
    kind: str,
    title: str,
    distance_m: float | None,
    bearing_deg: float | None,
    detail: str,
    report: LayerReport,
) -> Hazard:
    day = f", {report.date.isoformat()}" if report.date else ", date not stated"
    source = "no data" if report.state == "missing" else f"{report.source or 'source not stated'}{day}"
    return Hazard(kind=kind, title=title, distance_m=distance_m, bearing_deg=bearing_deg, detail=detail, source=source)


def _bearing(line: shapely.LineString, convergence_deg: float) -> float | None:
    (x0, y0), (x1, y1) = shapely.get_coordinates(line)[[0, -1]]
    if math.hypot(x1 - x0, y1 - y0) < 0.01:
        return None
    return (math.degrees(math.atan2(x1 - x0, y1 - y0)) + convergence_deg) % 360.0


def _detail(row: object, kind: str) -> str:
    for column in ("reason", "name", "class"):
        value = getattr(row, column, None) if column != "class" else row.get("class")  # type: ignore[attr-defined]
        if isinstance(value, str) and value.strip() and not (column == "class" and kind == "dwelling"):
            return value.strip()
    return ""


def expected_support(scene: Scene, peak: Peak, ground: GroundAnswer | None = None) -> tuple[str, str]:
    """`trees`, `hybrid` or `posts`: from the mapped trees, else as canopy cover lets one expect; and a note.

    Posts are counted on only as the ground allows: where it takes none and trees are not mapped, trees alone can hold
    the ring; what is not known of the ground is said.
    """
    if peak.ring_score is not None:
        return "trees", f"Mapped trees hold a ring here, ring score {peak.ring_score:.0f} of 100: check each tree."
    posts = "unknown" if ground is None else ground.posts.verdict
    if scene.rings is not None and scene.rings.mapped[peak.row, peak.col]:
        said = "Trees are mapped and hold no ring within a short walk"
        return "hybrid", f"{said}: {_MAPPED[posts]}"
    near = _cover_near(scene, peak)
    if math.isnan(near):
        return "posts", f"Trees not mapped and canopy not known: {_ALONE[posts]}"
    kind = "trees" if near >= TREES_FROM_PCT else "hybrid" if near >= HYBRID_FROM_PCT else "posts"
    said = f"Trees not mapped: expected from {near:.0f} % canopy; count the contact trees on the spot."
    if kind == "trees":
        return kind, said
    if posts == "no" and kind == "hybrid":
        return "trees", f"{said} The ground takes no posts, so trees alone must hold it."
    return kind, f"{said} {_POSTS[posts]}"


_MAPPED: Mapping[str, str] = {
    "yes": "the ground takes posts, which stand in for missing trees.",
    "doubtful": "it is doubtful that posts go in; test one, look for trees unseen.",
    "no": "and the ground takes no posts; look for trees unseen, or leave this site.",
    "unknown": "nobody knows whether posts go in; test one, look for trees unseen.",
}
_ALONE: Mapping[str, str] = {
    "yes": "the ground takes posts; bring them until somebody has looked.",
    "doubtful": "bring posts to test until somebody has looked; it is doubtful that they go in.",
    "no": "and the ground takes no posts; somebody must look for trees first.",
    "unknown": "bring posts to test until somebody has looked; nobody knows whether they go in.",
}
_POSTS: Mapping[str, str] = {
    "yes": "The ground takes posts.", "doubtful": "It is doubtful that posts go in: test one.",
    "no": "The ground takes no posts.", "unknown": "Nobody knows whether posts go in: test one.",
}  # fmt: skip


def _cover_near(scene: Scene, peak: Peak) -> float:
    """Mean canopy cover round a place, per cent; NaN where it is not known."""
    cover = scene.surface("cover")
    if cover is None:
        return math.nan
    reach = max(1, round(15.0 / scene.grid.cell_m))
    part = cover[max(0, peak.row - reach) : peak.row + reach + 1, max(0, peak.col - reach) : peak.col + reach + 1]
    return float(np.nanmean(part)) if np.isfinite(part).any() else math.nan


def ground_flags(support: str, ringed: bool, ground: GroundAnswer | None) -> tuple[str, ...]:
    """Warnings on the ground that a person must not miss.

    Args:
        support: What is expected to hold the ring.
        ringed: Whether mapped trees hold one.
        ground: What the ground allows, or None where nothing is known.
    """
    if ground is None:
        return ()
    flags = []
    if not ringed and support != "trees" and ground.posts.verdict == "no":
        flags.append("Too few trees known and ground that takes no posts: walk it before anything is carried in.")
    if ground.burial.verdict == "no":
        flags.append("Carcasses cannot be buried here as the soil map has it: plan the way out with them.")
    return tuple(flags)


def find_flags(hazards: Sequence[Hazard], readings: Sequence[FactorReading], flood: str) -> tuple[str, ...]:
    """Short warnings that a person must not miss at a site."""
    flags = []
    for hazard in hazards:
        if hazard.kind == "power_line":
            if hazard.distance_m is None:
                flags.append("Power lines are not mapped here: look up before anything goes up.")
            elif hazard.distance_m < POWER_LINE_FLAG_M:
                flags.append("A power line is near: look up before anything goes up.")
    slow = [r for r in readings if r.name == "floor" and r.value is not None and r.value <= 0.5]
    flags += [f"{slow[0].sentence} Check that the apron lies."] if slow else []
    cut_off = [r for r in readings if r.name == "access" and r.value == 0]
    flags += [cut_off[0].sentence] if cut_off else []
    flags += [f"The soil map says this ground floods: {flood}."] if flood in FLOODS_OFTEN else []
    return tuple(flags)
