"""Block 6 of the front: the air at base and drops, and a box that only the pilot fills."""

from __future__ import annotations

from boscage.model.drop import AirDensity
from boscage.sheets.dropjob import LEAST_PT, DropGroup
from boscage.sheets.dropkit import NOTE, Cell, Field, Stripe, field_row, said, stripes_head, stripes_row, titled
from boscage.sheets.dropwords import DropFigures, altimeter_words, bearing, temperature_words
from boscage.sheets.flow import Block
from boscage.sheets.style import TextStyle
from boscage.sheets.typeset import fit

ALLOWABLE = "allowable load: PILOT"
DRY = "Dry air taken: with moist air the density altitude is higher."
_BOX_MM = 25.0
_ROW_MM = 5.3


def air_blocks(group: DropGroup, width_mm: float) -> list[Block]:
    """What is forecast, then a row for the base and for each drop."""
    result, figures = group.result, group.figures
    wide = 0.26 if figures.units == "metric" else 0.22
    figure = (width_mm - _BOX_MM) * wide
    columns = [
        Stripe(title="place", width_mm=width_mm - _BOX_MM - 3 * figure),
        Stripe(title="elevation", width_mm=figure, right=True),
        Stripe(title="pressure altitude", width_mm=figure, right=True),
        Stripe(title="DENSITY ALTITUDE", width_mm=figure, right=True),
        Stripe(title=ALLOWABLE, width_mm=_BOX_MM, right=False),
    ]
    base = result.base
    room, style = columns[0].width_mm - 1.6, TextStyle(size_pt=columns[0].size_pt, bold=True)
    rows = (
        [("base", None, None)] if base is None else [(_base_name(base.name, room, style), base.elevation_m, base.air)]
    )
    rows += [(d.name_in(room, style, lines=2), d.drop.point.elevation_m, d.drop.air) for d in group.drops]
    made = [stripes_row(columns, _row(*row, figures), _ROW_MM) for row in rows]
    some_dry = any(air is not None and air.dew_point_c is None for _, _, air in rows)
    return [
        titled(6, "Performance", width_mm, "forecast as the plan states it"), *_weather(group, width_mm),
        stripes_head(columns), *made, *([said(DRY, width_mm, NOTE, lines=1)] if some_dry else []),
    ]  # fmt: skip


def _base_name(name: str, room_mm: float, style: TextStyle) -> str:
    return "base" if fit(name, room_mm, style, lines=2, floor_pt=LEAST_PT).cut else name


def _weather(group: DropGroup, width_mm: float) -> list[Block]:
    """Temperature, dew point, altimeter setting and wind; what is not stated is a line to write on."""
    drop = group.result.plan.drop
    wind = None
    if drop.wind_deg is not None and drop.wind_kt is not None:
        wind = f"{bearing(drop.wind_deg)} T, {drop.wind_kt:.0f} kt"
    warm = None if drop.temperature_c is None else temperature_words(drop.temperature_c)
    dew = None if drop.dew_point_c is None else temperature_words(drop.dew_point_c)
    setting = None if drop.altimeter_hpa is None else altimeter_words(drop.altimeter_hpa)
    return [
        field_row([Field(label="temperature", value=warm, unit="°C"), Field(label="dew point", value=dew, unit="°C")],
                  width_mm),
        field_row([Field(label="altimeter", value=setting, share=1.15), Field(label="wind", value=wind, unit="kt")],
                  width_mm),
    ]  # fmt: skip


def _row(name: str, elevation_m: float | None, air: AirDensity | None, figures: DropFigures) -> list[Cell]:
    return [
        Cell(text=name, bold=True, lines=2),
        Cell(text=None if elevation_m is None else figures.elevation(elevation_m), lines=2),
        Cell(text=None if air is None else figures.altitude(air.pressure_altitude_m), lines=2),
        Cell(text=None if air is None else figures.altitude(air.density_altitude_m), bold=True, lines=2),
        Cell(box=True),
    ]
