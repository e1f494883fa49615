"""Tables of the back: legs, slips of the pen with coordinates, daylight."""

from __future__ import annotations

from boscage.model.brief import FlightRound
from boscage.model.drop import Leg, Misread, TerrainLight
from boscage.sheets.dropfacts import minutes
from boscage.sheets.dropjob import DropGroup, Numbered
from boscage.sheets.dropwords import DropFigures, bearing, nautical
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, table
from boscage.sheets.style import BODY, BOLD, SMALL

NO_LEGS = "No base is stated: flights, legs and their order are not worked out."
NOT_KNOWN = "not known"
IN_THE_AIR = "Time is in the air between places alone: picking up and setting down are not in it."
SLIPS = "If this coordinate is taken for another form it lands elsewhere. Say the form and the datum; read it back."
TERRAIN = (
    "First and last sun are over the terrain in the data; trees are not reckoned. Horizon: on how many bearings the "
    "data reach as far as was looked. Beyond the data it is taken as level: the sun may come later and go earlier."
)


def leg_blocks(group: DropGroup, width_mm: float) -> list[Block]:
    """Every leg of the flights that serve these drops, with each flight's loads and time in the air."""
    title = heading("Legs", width_mm)
    if not group.rounds:
        words = NO_LEGS if group.result.base is None else "No flight serves these drops."
        return [title, *paragraph(words, width_mm, BODY)]
    ground = "miles" if group.figures.units == "us" else "km"
    fixed = (14.0, 20.0, 19.0, 15.0, 19.0, 17.0, 19.0, 17.0)
    half = (width_mm - sum(fixed)) / 2
    titles = ("nm", ground, "true", "magnetic", "heading T", "speed kt", "time")
    columns = [
        Column(title="flight", width_mm=fixed[0], style=BOLD), Column(title="from", width_mm=half),
        Column(title="to", width_mm=half),
        *[Column(title=t, width_mm=w) for t, w in zip(titles, fixed[1:], strict=True)],
    ]  # fmt: skip
    rows = [_leg(flight, leg, group) for flight in group.rounds for leg in flight.legs]
    sums = [_sum(flight) for flight in group.rounds]
    return [
        *table(columns, rows, title=title), gap(0.8), *paragraph("; ".join(sums) + ".", width_mm, BODY),
        *paragraph(IN_THE_AIR, width_mm, SMALL),
    ]  # fmt: skip


def _leg(flight: FlightRound, leg: Leg, group: DropGroup) -> tuple[str, ...]:
    names = {d.drop.site: d.name for d in group.every}
    return (
        f"F{flight.number}", names.get(leg.start, leg.start), names.get(leg.end, leg.end), nautical(leg.distance_m),
        group.figures.ground(leg.distance_m), f"{bearing(leg.true_bearing_deg)} T",
        "" if leg.magnetic_bearing_deg is None else f"{bearing(leg.magnetic_bearing_deg)} M",
        "" if leg.heading_deg is None else f"{bearing(leg.heading_deg)} T",
        "" if leg.ground_speed_kt is None else f"{leg.ground_speed_kt:.0f}",
        "" if leg.minutes is None else minutes(leg.minutes),
    )  # fmt: skip


def _sum(flight: FlightRound) -> str:
    loads = f"{'load' if len(flight.loads) == 1 else 'loads'} {', '.join(str(n) for n in flight.loads)}"
    took = "time not known, no speed stated" if flight.minutes is None else minutes(flight.minutes)
    return f"F{flight.number}: {loads}, {took}"


def misread_blocks(group: DropGroup, width_mm: float) -> list[Block]:
    """What each coordinate turns into in another form, and how far off that lands."""
    fixed = (52.0, 56.0, 24.0)
    columns = [
        Column(title="written", width_mm=fixed[0]), Column(title="read as", width_mm=fixed[1]),
        Column(title="lands at", width_mm=width_mm - sum(fixed)),
        Column(title="off by", width_mm=fixed[2], style=BOLD),
    ]  # fmt: skip
    blocks: list[Block] = []
    for numbered in group.drops:
        title = heading(f"Read wrong: drop {numbered.name}", width_mm)
        rows = [_slip(slip, group.figures) for slip in numbered.drop.misreads]
        blocks += [*table(columns, rows, title=title), gap(1.6)]
    return [*loud(SLIPS, width_mm), *blocks]


def _slip(slip: Misread, figures: DropFigures) -> tuple[str, ...]:
    if slip.lat is None or slip.lon is None or slip.off_m is None:
        return slip.written, slip.read_as, "cannot be read so: seen at once", ""
    shown = slip.text.rsplit(" is ", 1)[-1]
    return slip.written, slip.read_as, shown, figures.ground(slip.off_m)


def daylight_blocks(group: DropGroup, width_mm: float) -> list[Block]:
    """Dawn to dusk, and the sun over the terrain at each drop."""
    result, figures = group.result, group.figures
    day = result.daylight
    if day is None:
        return [heading("Daylight", width_mm), *paragraph("Not worked out.", width_mm, BODY)]
    zone = result.plan.ranch.zone
    named = f" ({zone})" if zone else ": the plan names no time zone"
    title = heading(f"Daylight on {result.plan.date.isoformat()}, {figures.zone_words(day.noon)}{named}", width_mm)
    wide = (36.0, 18.0, 17.0, 20.0, 20.0, 17.0, 18.0)
    titles = ("place", "civil dawn", "sunrise", "first sun", "last sun", "sunset", "civil dusk")
    columns = [Column(title=t, width_mm=w) for t, w in zip(titles, wide, strict=True)]
    columns.append(Column(title="horizon", width_mm=width_mm - sum(wide)))
    first = result.base.name if result.base is not None else group.every[0].name
    level = (day.civil_dawn, day.sunrise, None, None, day.sunset, day.civil_dusk)
    shown = [figures.clock(t) if k not in (2, 3) else "" for k, t in enumerate(level)]
    rows = [(first, *shown, "level")]
    has_terrain = any(r.name == "terrain" and r.state not in ("missing", "wrong") for r in result.reports)
    rows += [_light(d, figures, has_terrain=has_terrain) for d in group.drops]
    return [*table(columns, rows, title=title), gap(0.8), *paragraph(TERRAIN, width_mm, SMALL)]


def _light(numbered: Numbered, figures: DropFigures, *, has_terrain: bool) -> tuple[str, ...]:
    light = numbered.drop.light
    if not has_terrain:
        return numbered.name, "", "", NOT_KNOWN, NOT_KNOWN, "", "", "NOT KNOWN: no terrain"
    first, last = (figures.clock(t) for t in (light.first_sun, light.last_sun))
    return numbered.name, "", "", first, last, "", "", _horizon(light)


def _horizon(light: TerrainLight) -> str:
    if light.known_share >= 1.0:
        return "known all round"
    return f"known on {int(light.known_share * 100)} % of bearings"
