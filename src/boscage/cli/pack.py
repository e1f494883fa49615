"""`boscage pack PLAN [SITE ...]`."""

from __future__ import annotations

from pathlib import Path

import click

from boscage.cli.screen import ProgressLine, default_out, wrapped
from boscage.model.results import PackResult
from boscage.values import Printer


@click.command(name="pack")
@click.argument("plan", type=click.Path())
@click.argument("sites", nargs=-1)
@click.option("--out", type=click.Path(), help="Folder to write in. [default: out beside the plan]")
def command(plan: str, sites: tuple[str, ...], out: str | None) -> int:
    """List what goes in, with masses, and put it on the carriers in the fewest trips.

    For the SITEs named, else for those that the last ranking chose together. Run `boscage scout` and `boscage rig`
    first. Writes pack.json, pack.csv and pack_sheet.pdf.
    """
    from boscage.pipeline.pack import pack

    folder = Path(out) if out else default_out(plan)
    show(pack(plan, sites, out=folder, progress=ProgressLine()))
    click.echo(f"Written to {folder}")
    return 0


def show(result: PackResult) -> None:
    """Trips, loads and what stays."""
    made, printer = result.pack, Printer(result.plan.ranch.units)
    fewest = "the fewest" if made.is_fewest else f"at least {made.lower_bound_trips} are needed"
    click.echo(f"{', '.join(made.sites)}: {printer.mass(made.mass_kg)} in {made.trips} trips ({fewest})")
    for load in made.loads:
        click.echo(f"  trip {load.trip}  {load.part}: {printer.mass(load.mass_kg)} of {printer.mass(load.limit_kg)}")
    for behind in made.left_behind:
        click.echo(wrapped(f"  left behind: {behind.count} x {behind.item.label}: {behind.reason}.", indent="    "))
    for note in made.notes:
        click.echo(wrapped(f"  note: {note}", indent="        "))
