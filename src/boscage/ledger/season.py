"""Several seasons or ranches together: what may be added is added, what may not is not."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely

from boscage.ledger.covered import HECTARE
from boscage.ledger.effort import find_rates
from boscage.model.ledger import ANIMAL_CLASSES
from boscage.model.ledger_effort import Captures, Effort
from boscage.model.report import SeasonLine, SeasonTotal, counted

NO_CREW = "crew not stated"


@dataclass(frozen=True, kw_only=True)
class Season:
    """A line of a summary with the ground that it covered, and the CRS of that."""

    line: SeasonLine
    covered: Any
    crs: str


def sum_seasons(seasons: Sequence[Season], level: float = 0.95) -> tuple[SeasonTotal, ...]:
    """Totals of all, by crew, and by land, each in order of first appearance."""
    by_crew: dict[str, list[Season]] = {}
    by_land: dict[str, list[Season]] = {}
    for season in seasons:
        by_crew.setdefault(season.line.crew or NO_CREW, []).append(season)
        by_land.setdefault(season.line.ranch, []).append(season)
    return (
        _total("all", "all", seasons, level),
        *(_total("crew", name, held, level) for name, held in by_crew.items()),
        *(_total("land", name, held, level) for name, held in by_land.items()),
    )


def _total(kind: str, name: str, seasons: Sequence[Season], level: float) -> SeasonTotal:
    lines = [s.line for s in seasons]
    effort, captures = _effort(lines), _captures(lines)
    rates = find_rates(effort, captures, level)
    timed = [line for line in lines if not math.isnan(line.effort.hours)]
    caught = sum(line.captures.total for line in timed)
    hours = math.fsum(line.effort.hours for line in timed)
    rates = replace(rates, hours_per_capture=hours / caught if caught else math.nan)
    notes = []
    if 0 < len(timed) < len(lines):
        notes.append(f"hours an animal are from the {counted(len(timed), 'line')} with hours.")
    return SeasonTotal(
        kind=kind, name=name, lines=len(lines), sites=effort.sites, armed_nights=effort.armed_nights,
        open_nights=effort.open_nights, prebait_nights=effort.prebait_nights, checks=effort.checks, hours=effort.hours,
        animals=captures.total, events=len(captures.nights),
        by_class=tuple(captures.by_class[c] for c in ANIMAL_CLASSES), rates=rates, missing=_missing(lines),
        covered_ha=_covered(seasons), notes=tuple(notes),
    )  # fmt: skip


def _effort(lines: Sequence[SeasonLine]) -> Effort:
    """Sums; hours, bait and camera nights of the lines that state them, NaN where none does."""

    def known(values: Sequence[float]) -> float:
        held = [v for v in values if not math.isnan(v)]
        return math.fsum(held) if held else math.nan

    held = [line.effort for line in lines]
    return Effort(
        sites=sum(e.sites for e in held), armed_nights=sum(e.armed_nights for e in held),
        open_nights=sum(e.open_nights for e in held), prebait_nights=sum(e.prebait_nights for e in held),
        camera_nights=known([e.camera_nights for e in held]), checks=sum(e.checks for e in held),
        hours=known([e.hours for e in held]), rows_without_hours=sum(e.rows_without_hours for e in held),
        hours_by_task=_added([e.hours_by_task for e in held]), bait_kg=known([e.bait_kg for e in held]),
        rows_with_bait=sum(e.rows_with_bait for e in held),
    )  # fmt: skip


def _captures(lines: Sequence[SeasonLine]) -> Captures:
    held = [line.captures for line in lines]
    return Captures(
        by_class=_added([c.by_class for c in held]), nights=tuple(n for c in held for n in c.nights),
        nontargets=_added([c.nontargets for c in held]), injuries=None, fates=_added([c.fates for c in held]),
        set_aside=sum(c.set_aside for c in held),
    )  # fmt: skip


def _added(tables: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for table in tables:
        for name, number in table.items():
            out[name] = out.get(name, 0) + number
    return out


def _missing(lines: Sequence[SeasonLine]) -> int:
    """Least number known to be alive: of each ranch the one of its last season, since a later count takes the place."""
    last: dict[str, SeasonLine] = {}
    for line in lines:
        held = last.get(line.ranch)
        if held is None or (line.end is not None and (held.end is None or line.end >= held.end)):
            last[line.ranch] = line
    return sum(line.missing for line in last.values())


def _covered(seasons: Sequence[Season]) -> float:
    """Covered hectares, ground of one ranch that several seasons covered once; NaN where CRSs of a ranch differ."""
    by_land: dict[str, list[Season]] = {}
    for season in seasons:
        by_land.setdefault(season.line.ranch, []).append(season)
    if any(len({s.crs for s in held}) > 1 for held in by_land.values()):
        return math.nan
    return math.fsum(
        held[0].line.covered_ha
        if len(held) == 1
        else float(shapely.union_all([s.covered for s in held]).area) / HECTARE
        for held in by_land.values()
    )
