"""`boscage drop PLAN [SITE ...]`."""

from __future__ import annotations

from pathlib import Path

import click

from boscage.cli.screen import ProgressLine, default_out, wrapped
from boscage.model.brief import DropResult
from boscage.values import Printer

PILOT_NOTE = "Allowable loads and go or no-go are the pilot's. Wires and other hazards in the data are not complete."


@click.command(name="drop")
@click.argument("plan", type=click.Path())
@click.argument("sites", nargs=-1)
@click.option("--out", type=click.Path(), help="Folder to write in. [default: out beside the plan]")
def command(plan: str, sites: tuple[str, ...], out: str | None) -> int:
    """Brief a helicopter drop: the open gap for each site, loads, flights, hazards, daylight.

    For the SITEs named, else for those that the last ranking chose together. Run `boscage scout` and `boscage rig`
    first. The drop point is the gap in the canopy, never the set. Writes drop.json, drop_brief.pdf, drop.gpx and
    drop.kml. Exit status 3 where no site has a gap that serves.
    """
    from boscage.pipeline.drop import drop

    folder = Path(out) if out else default_out(plan)
    result = drop(plan, sites, out=folder, progress=ProgressLine())
    show(result)
    click.echo(f"Written to {folder}")
    return 0 if result else 3


def show(result: DropResult) -> None:
    """Drop points, flights, and what no gap serves."""
    printer = Printer(result.plan.ranch.units)
    for d in result.drops:
        gap = d.point.gap
        click.echo(
            f"{d.site}: drop point {d.place.ddm} {d.place.datum}, gap {printer.length(gap.diameter_m)} wide, "
            f"{printer.length(gap.reach_m)} from the set"
        )
    for none in result.none:
        click.echo(wrapped(f"{none.site}: no drop point. {none.reason}", indent="  "))
    for flight in result.rounds:
        way = " - ".join([flight.legs[0].start, *(leg.end for leg in flight.legs)])
        minutes = "" if flight.minutes is None else f", {flight.minutes:.0f} min in the air"
        click.echo(f"  flight {flight.number}: {way}, {printer.mass(flight.mass_kg)}{minutes}")
    for load in result.over_limit:
        click.echo(wrapped(f"  over the limit, not flown: {load.items[0].item.label} for {load.site}", indent="    "))
    for note in (*result.notes, PILOT_NOTE):
        click.echo(wrapped(f"  note: {note}", indent="        "))
