"""Plain soil polygons with columns turned into map units of one soil each."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

from boscage.model.soil import ORGANIC_FROM_PCT, Component, Horizon, Restriction, SoilUnit
from boscage.readers.columns import cell, objects
from boscage.soil.strength import LEAST_MPA
from boscage.soil.texture import class_middle, plain_texture

if TYPE_CHECKING:
    import geopandas

NUMBERS = (
    "sand_pct", "clay_pct", "organic_pct", "bulk_density", "rock_pct", "depth_cm", "resistance_mpa", "water_cm",
)  # fmt: skip
_NO_HORIZON = ("depth_cm", "water_cm")
DESCRIBED_CM = 30.0
"""Depth that the columns are taken to speak of where none to a hard layer is given: the project's own assumption."""


def units_of_columns(
    frame: geopandas.GeoDataFrame, source: str = ""
) -> tuple[geopandas.GeoDataFrame, dict[str, SoilUnit]]:
    """One map unit for every set of polygons with the same symbol and the same columns.

    A polygon's columns speak of one soil all over it, from the surface to `depth_cm`, where a hard layer begins, or of
    the uppermost `DESCRIBED_CM` alone where no depth is given. A texture class without sand and clay stands for the
    middle of its class. `water_cm` is the depth that wet soil rises to at the wettest time of the year, taken for every
    month. What is not given stays unknown.

    Args:
        frame: Checked soil polygons under our column names.
        source: Who made them.

    Returns:
        The frame with a column `unit`, and the units by key.
    """
    keys: list[str] = []
    units: dict[str, SoilUnit] = {}
    kinds: dict[str, list[str]] = {}
    columns = {str(c): frame[c].tolist() for c in frame.columns if c != "geometry"}
    for place in range(len(frame)):
        row = {name: values[place] for name, values in columns.items()}
        symbol = cell(row.get("mapunit")) or f"row {cell(row.get('row', place + 1))}"
        component = _component(row, symbol)
        alike = kinds.setdefault(symbol, [])
        if _same(component) not in alike:
            alike.append(_same(component))
        which = alike.index(_same(component))
        key = symbol if which == 0 else f"{symbol} ({which + 1})"
        name = cell(row.get("name"))
        units.setdefault(key, SoilUnit(key=key, symbol=symbol, name=name, components=(component,), source=source))
        keys.append(key)
    return frame.assign(unit=objects(keys)), units


def _same(component: Component) -> str:
    """What two soils must share to be one; text, since NaN is not equal to itself."""
    return repr((component.horizons, component.restrictions, component.flood_class, component.wet_top_cm))


def _component(row: Mapping[str, object], symbol: str) -> Component:
    numbers = {name: _number(row.get(name)) for name in NUMBERS}
    estimated = []
    texture = plain_texture(cell(row.get("texture")))
    if texture and math.isnan(numbers["sand_pct"]) and math.isnan(numbers["clay_pct"]):
        numbers["sand_pct"], numbers["clay_pct"] = class_middle(texture)
        estimated.append(f"sand and clay taken from the middle of {texture}")
    if numbers["resistance_mpa"] == 0.0:
        numbers["resistance_mpa"] = LEAST_MPA
    depth = numbers["depth_cm"]
    bottom = DESCRIBED_CM if math.isnan(depth) else depth
    horizons: tuple[Horizon, ...] = ()
    if bottom > 0.0 and any(not math.isnan(v) for k, v in numbers.items() if k not in _NO_HORIZON):
        horizons = (
            Horizon(
                top_cm=0.0, bottom_cm=bottom, sand_pct=numbers["sand_pct"], clay_pct=numbers["clay_pct"],
                organic_pct=numbers["organic_pct"], bulk_density=numbers["bulk_density"], rock_pct=numbers["rock_pct"],
                resistance_mpa=numbers["resistance_mpa"], organic=numbers["organic_pct"] >= ORGANIC_FROM_PCT,
                estimated=tuple(estimated),
            ),
        )  # fmt: skip
    hard = () if math.isnan(depth) else (Restriction(top_cm=depth, kind="hard layer on the map"),)
    flood, water = cell(row.get("flood_class")) or None, numbers["water_cm"]
    return Component(
        name=cell(row.get("name")) or symbol, percent=100.0, horizons=horizons, restrictions=hard, flood_class=flood,
        wet_top_cm=() if math.isnan(water) else (water,) * 12,
    )  # fmt: skip


def _number(value: object) -> float:
    text = cell(value)
    return float(text) if text else math.nan
