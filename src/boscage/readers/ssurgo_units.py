"""The tables of a soil survey turned into map units, soils and horizons.

Column names and units are those of the SSURGO metadata: depths in cm, texture and organic matter in per cent by mass,
water in per cent by volume, density in g/cm3, stones over 3 in (75 mm) in per cent of the whole soil by mass.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from boscage.model.rules import FLOOD_CLASSES
from boscage.model.soil import (
    MOISTURES,
    ORGANIC_FROM_PCT,
    Component,
    Hardness,
    Horizon,
    Moisture,
    Restriction,
    SoilUnit,
)
from boscage.readers.columns import cell, listed, read_word
from boscage.readers.protocol import Request
from boscage.soil.water import PARTICLE_DENSITY

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "mapunit": ("mukey", "musym", "muname"),
    "component": ("cokey", "mukey", "compname", "comppct_r"),
    "chorizon": ("cokey", "hzdept_r", "hzdepb_r"),
    "corestrictions": ("cokey", "reskind", "resdept_r"),
    "comonth": ("comonthkey", "cokey", "month"),
    "cosoilmoist": ("comonthkey", "soimoistdept_r", "soimoiststat"),
    "chfrags": ("chkey", "fragvol_r"),
}  # fmt: skip
"""Columns that a table cannot do without."""
NEEDED = ("mapunit", "component", "chorizon")
MONTHS = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
HARDNESS: Mapping[str, Hardness] = {
    "abrupt textural change": "passes", "strongly contrasting textural stratification": "passes", "natric": "passes",
    "salic": "passes", "sulfuric": "passes", "human-manufactured materials": "slows", "fragipan": "slows",
    "densic material": "slows", "densic bedrock": "slows", "paralithic bedrock": "slows", "plinthite": "slows",
    "dense material": "slows",
}  # fmt: skip
"""What a restriction does to a post: the project's own assumption; any kind not listed stops it."""
BARE_ROCK = ("rock outcrop", "rubble land", "rock land")
NO_GROUND = ("water", "water >40 acres", "water greater than 40 acres", "miscellaneous water")


@dataclass(frozen=True, kw_only=True)
class Table:
    """Cells of one table.

    Attributes:
        name: Ours; file: its file or layer, for messages.
        header: Lower-case column names.
        rows: Cells in file order.
    """

    name: str
    file: str
    header: Sequence[str]
    rows: Sequence[Sequence[object]]


@dataclass(frozen=True)
class Row:
    """One row that knows where it stands."""

    table: Table
    number: int
    index: Mapping[str, int]
    request: Request

    def text(self, name: str) -> str:
        """A cell's text, '' where the column is not there."""
        return cell(self.table.rows[self.number - 1][self.index[name]]) if name in self.index else ""

    def value(self, name: str, high: float) -> float:
        """A cell as a number from 0, NaN where it is empty or the column is not there.

        Raises:
            LayerError: It is no number, or out of range.
        """
        text = self.text(name)
        if not text:
            return math.nan
        try:
            number = float(text)
        except ValueError:
            number = math.inf
        if not 0.0 <= number <= high:
            raise self.request.error(
                f"{self.table.file} holds {text!r}", expected=f"a number from 0 to {high:g}, or an empty cell",
                mend="correct the cell, or fetch the survey again", field=name, row=self.number,
            )  # fmt: skip
        return number


def rows_of(tables: Mapping[str, Table], name: str, request: Request) -> list[Row]:
    """Rows of a table, none where it is not there.

    Raises:
        LayerError: A column that it cannot do without is missing.
    """
    table = tables.get(name)
    if table is None:
        return []
    index = {column: i for i, column in enumerate(table.header)}
    for column in COLUMNS[name]:
        if column not in index:
            raise request.error(
                f"the table {table.file} has no column {column}", expected=", ".join(COLUMNS[name]),
                mend="take the whole table from the download", field=column,
            )  # fmt: skip
    return [Row(table, number, index, request) for number in range(1, len(table.rows) + 1)]


def make_units(tables: Mapping[str, Table], request: Request, source: str) -> tuple[dict[str, SoilUnit], list[str]]:
    """Map units by key, and doubts.

    Raises:
        LayerError: A cell holds what it cannot, or a map unit stands twice.
    """
    doubts: list[str] = []
    horizons = _horizons(tables, request, doubts)
    restrictions: dict[str, list[Restriction]] = {}
    for row in rows_of(tables, "corestrictions", request):
        top, kind = row.value("resdept_r", 100000.0), row.text("reskind")
        hardness = HARDNESS.get(kind.lower(), "stops")
        if math.isnan(top):
            doubts.append(f"a restriction ({kind or 'no kind'}) of soil {row.text('cokey')} has no depth; left out.")
            continue
        restrictions.setdefault(row.text("cokey"), []).append(
            Restriction(top_cm=top, kind=kind or "not stated", hardness=hardness)
        )
    floods, wet = _months(tables, request)
    by_unit: dict[str, list[Component]] = {}
    for row in rows_of(tables, "component", request):
        key = row.text("cokey")
        percent = row.value("comppct_r", 100.0)
        if math.isnan(percent):
            doubts.append(f"the soil {row.text('compname')} ({key}) has no percentage; its ground counts as unknown.")
            continue
        by_unit.setdefault(row.text("mukey"), []).append(
            _component(row, percent, horizons.get(key, ()), restrictions.get(key, []), floods.get(key), wet.get(key))
        )
    units: dict[str, SoilUnit] = {}
    for row in rows_of(tables, "mapunit", request):
        key = row.text("mukey")
        if key in units:
            raise request.error(
                f"the map unit {key} stands twice in {row.table.file}", mend="name one copy of the survey only",
                row=row.number, field="mukey",
            )  # fmt: skip
        soils = _scaled(by_unit.get(key, []), row.text("musym"), doubts)
        units[key] = SoilUnit(
            key=key, symbol=row.text("musym"), name=row.text("muname"), components=soils, source=source
        )
    return units, doubts


def _scaled(soils: Sequence[Component], symbol: str, doubts: list[str]) -> tuple[Component, ...]:
    """Soils in order of share; brought down to 100 % where they come to more."""
    total = sum(c.percent for c in soils)
    if total > 100.0 + 1e-6:
        doubts.append(f"the soils of map unit {symbol} sum to {total:g} %; brought down to 100 %.")
        soils = [replace(c, percent=c.percent * 100.0 / total) for c in soils]
    return tuple(sorted(soils, key=lambda c: (-c.percent, c.name)))


def _component(
    row: Row, percent: float, horizons: Sequence[Horizon], restrictions: Sequence[Restriction], flood: str | None,
    wet: tuple[float, ...] | None,
) -> Component:  # fmt: skip
    name = row.text("compname")
    bare = name.lower() in BARE_ROCK and not horizons
    made = [*restrictions, Restriction(top_cm=0.0, kind="bare rock")] if bare else list(restrictions)
    return Component(
        name=name or "not named", percent=percent, horizons=tuple(horizons),
        restrictions=tuple(sorted(made, key=lambda r: (r.top_cm, r.kind))), flood_class=flood, wet_top_cm=wet or (),
        ground=name.lower() not in NO_GROUND,
    )  # fmt: skip


def _horizons(tables: Mapping[str, Table], request: Request, doubts: list[str]) -> dict[str, tuple[Horizon, ...]]:
    """Horizons of each soil from the surface down; one that lies in another's depth is cut or left out."""
    rocks: dict[str, float] = {}
    for row in rows_of(tables, "chfrags", request):
        volume = row.value("fragvol_r", 100.0)
        if not math.isnan(volume):
            rocks[row.text("chkey")] = min(100.0, rocks.get(row.text("chkey"), 0.0) + volume)
    found: dict[str, list[tuple[float, float, Row]]] = {}
    for row in rows_of(tables, "chorizon", request):
        top, bottom = row.value("hzdept_r", 100000.0), row.value("hzdepb_r", 100000.0)
        found.setdefault(row.text("cokey"), []).append((top, bottom, row))
    made: dict[str, tuple[Horizon, ...]] = {}
    odd: list[int] = []
    for key, group in found.items():
        below, kept = 0.0, []
        for top, bottom, row in sorted(group, key=lambda g: (math.inf if math.isnan(g[0]) else g[0], g[2].number)):
            if math.isnan(top) or math.isnan(bottom) or max(top, below) >= bottom:
                odd.append(row.number)
                continue
            kept.append(_horizon(row, max(top, below), bottom, rocks.get(row.text("chkey"))))
            below = bottom
        made[key] = tuple(kept)
    if odd:
        doubts.append(f"horizons without usable depths: {len(odd)} (rows {listed(odd)} of chorizon); left out.")
    return made


def _horizon(row: Row, top_cm: float, bottom_cm: float, rock_pct: float | None) -> Horizon:
    density = row.value("dbthirdbar_r", 3.0)
    sand, silt, clay = (row.value(f"{n}total_r", 100.0) for n in ("sand", "silt", "clay"))
    estimated = []
    if math.isnan(sand) and not math.isnan(silt + clay):
        sand = max(0.0, 100.0 - silt - clay)
        estimated.append("sand taken as the rest of silt and clay")
    organic = row.value("om_r", 100.0)
    water: dict[Moisture, float] = {
        "dry": row.value("wfifteenbar_r", 100.0) / 100.0, "moist": row.value("wthirdbar_r", 100.0) / 100.0,
        "wet": row.value("wsatiated_r", 100.0) / 100.0,
    }  # fmt: skip
    name = row.text("hzname").upper().lstrip("0123456789")
    return Horizon(
        top_cm=top_cm, bottom_cm=bottom_cm, sand_pct=sand, clay_pct=clay, organic_pct=organic, bulk_density=density,
        rock_pct=_rock(row, density) if rock_pct is None else rock_pct,
        water={m: v for m, v in water.items() if v > 0.0}, organic=organic >= ORGANIC_FROM_PCT or name.startswith("O"),
        estimated=tuple(estimated),
    )  # fmt: skip


def _rock(row: Row, density: float) -> float:
    """Rock fragments by volume from shares by mass: stones over 3 in, and what the no. 10 sieve (2 mm) holds back.

    Fragments weigh 2.65 g/cm3, the fine earth its bulk density; NaN where a share or the density is not given.
    """
    stones = row.value("fraggt10_r", 100.0) + row.value("frag3to10_r", 100.0)
    stones = 100.0 if stones > 100.0 else stones
    mass = (stones + (100.0 - stones) * (1.0 - row.value("sieveno10_r", 100.0) / 100.0)) / 100.0
    if mass <= 0.0:
        return 0.0
    return 100.0 * (mass / PARTICLE_DENSITY) / (mass / PARTICLE_DENSITY + (1.0 - mass) / density)


def _months(
    tables: Mapping[str, Table], request: Request
) -> tuple[dict[str, str | None], dict[str, tuple[float, ...]]]:
    """Worst flood class of each soil over the year, and depth to wet soil in each month.

    Wetness counts as stated only for a soil that has a record of moisture in every month; inf then stands for a month
    in which no layer is wet.
    """
    floods: dict[str, list[str]] = {}
    where: dict[str, tuple[str, int]] = {}
    for row in rows_of(tables, "comonth", request):
        key = row.text("cokey")
        word = read_word(row.text("flodfreqcl"), FLOOD_CLASSES)
        if word:
            floods.setdefault(key, []).append(word)
        if row.text("month").lower() in MONTHS:
            where[row.text("comonthkey")] = (key, MONTHS.index(row.text("month").lower()))
    seen: dict[str, dict[int, float]] = {}
    for row in rows_of(tables, "cosoilmoist", request):
        soil, month = where.get(row.text("comonthkey"), ("", 0))
        top, state = row.value("soimoistdept_r", 100000.0), row.text("soimoiststat").lower()
        if not soil or state not in MOISTURES or (state == "wet" and math.isnan(top)):
            continue
        months = seen.setdefault(soil, {})
        months[month] = min(months.get(month, math.inf), top if state == "wet" else math.inf)
    worst = {key: max(words, key=FLOOD_CLASSES.index) for key, words in floods.items()}
    wet = {key: tuple(held[m] for m in range(12)) for key, held in seen.items() if len(held) == 12}
    return dict(worst), wet
