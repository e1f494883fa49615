"""`boscage rig --stems FILE --perimeter LEN` and `boscage rig PLAN [SITE ...]`."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from boscage.cli.screen import ProgressLine, default_out, wrapped
from boscage.model.rig_plan import RigResult
from boscage.values import Length, Printer


class LengthType(click.ParamType[Length]):
    """A length with its unit, such as 60ft."""

    name = "length"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Length:
        """Read the length; a bare number is refused."""
        return value if isinstance(value, Length) else Length.parse(value)


LENGTH = LengthType()


@click.command(name="rig")
@click.argument("plan", type=click.Path(), required=False)
@click.argument("sites", nargs=-1)
@click.option("--stems", type=click.Path(), help="Stem list (CSV) to fit a ring to, instead of a plan.")
@click.option("--perimeter", type=LENGTH, help="Length of the net's top rope, such as 60ft.")
@click.option("--gather", type=float, default=0.10, show_default=True, help="Share of the net taken up at the closure.")
@click.option("--spacing", type=LENGTH, help="Longest span without a built support. [default: perimeter/10]")
@click.option(
    "--reach", type=LENGTH, default="0.6m", show_default=True, help="How far a corner may stand off the bark."
)
@click.option("--contacts", type=int, default=5, show_default=True, help="Least number of trees that hold the ring.")
@click.option("--min-dbh", type=LENGTH, default="4in", show_default=True, help="Thinnest tree that holds the ring.")
@click.option("--posts/--no-posts", default=False, show_default=True, help="Whether the ground takes posts.")
@click.option("--declination", type=float, help="Declination in degrees, east positive. [default: 0]")
@click.option("--units", type=click.Choice(["us", "metric"]), default="us", show_default=True, help="Units to print.")
@click.option("--out", type=click.Path(), help="Folder to write in. [default: out beside the plan or stem list]")
def command(plan: str | None, sites: tuple[str, ...], stems: str | None, **options: Any) -> int:
    """Fit the best closed ring to the trees and list what it takes to rig it.

    With --stems and --perimeter: for one stem list. With PLAN: for its ranked sites, or the SITEs named. Writes
    rig.json, rig.gpkg and rig_sheet.pdf. Exit status 3 when no ring fits, with the nearest miss.
    """
    if stems is not None and plan is not None:
        raise click.UsageError("give a plan or --stems, not both")
    if stems is None and plan is None:
        raise click.UsageError("give a plan, or --stems FILE with --perimeter LEN")
    if stems is not None:
        results = [_rig_stems(stems, options)]
        folder = Path(options["out"]) if options["out"] else Path(stems).parent / "out"
    else:
        from boscage.pipeline.rig import rig_plan

        folder = Path(options["out"]) if options["out"] else default_out(str(plan))
        results = rig_plan(str(plan), sites, out=folder, progress=ProgressLine())
    show(results)
    click.echo(f"Written to {folder}")
    return 0 if any(results) else 3


def _rig_stems(stems: str, options: dict[str, Any]) -> RigResult:
    from boscage.model.plan import NetOptions
    from boscage.model.rig import RingOptions
    from boscage.pipeline.rig import RigRequest, rig_stems

    if options["perimeter"] is None:
        raise click.UsageError("--stems needs --perimeter, such as --perimeter 60ft")
    spacing = options["spacing"]
    ring = RingOptions(
        perimeter_m=options["perimeter"].m, gather=options["gather"], spacing_m=None if spacing is None else spacing.m,
        reach_m=options["reach"].m, contacts=options["contacts"], min_dbh_m=options["min_dbh"].m,
        posts=options["posts"],
    )  # fmt: skip
    request = RigRequest(
        stems=Path(stems), name=stems, ring=ring, declination_deg=options["declination"], units=options["units"],
        paper="letter" if options["units"] == "us" else "a4", net=NetOptions(perimeter=options["perimeter"]),
    )  # fmt: skip
    folder = Path(options["out"]) if options["out"] else Path(stems).parent / "out"
    return rig_stems(request, out=folder, progress=ProgressLine())


def show(results: list[RigResult]) -> None:
    """Print each ring in a few lines, or why there is none."""
    for result in results:
        if result.plan is None:
            told = "" if result.none is None else f" {result.none.reason} {result.none.nearest_miss}"
            click.echo(wrapped(f"boscage: {result.name}: no ring fits.{told}"), err=True)
            continue
        plan, ring, printer = result.plan, result.plan.ring, Printer(result.units)
        held = "" if plan.steadiness is None else f", holds in {plan.steadiness.holds_share:.0%} of the tries"
        lead = f"{result.name}: {ring.support}, score {ring.score:.0f}, roundness {ring.finished_roundness:.2f}"
        trees = sum(c.stem is not None for c in plan.contacts)
        click.echo(wrapped(f"{lead}, {trees} trees, {ring.built_supports} built supports{held}"))
        for contact in plan.contacts:
            name = "post" if contact.stem is None else contact.stem.stem
            click.echo(
                f"  {contact.number:>2}  {name:<8} {contact.bearing_deg:5.0f}°  {printer.length(contact.distance_m):>8}"
            )
