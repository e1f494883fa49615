"""`boscage share PLAN [SITE ...]`."""

from __future__ import annotations

from pathlib import Path

import click

from boscage.cli.screen import ProgressLine, default_out, wrapped
from boscage.model.masked import LEFT_OUT, ShareResult


@click.command(name="share")
@click.argument("plan", type=click.Path())
@click.argument("sites", nargs=-1)
@click.option("--masked", is_flag=True, help="A copy for others: no exact places, gates, houses or people.")
@click.option("--revision", type=click.IntRange(0, 99), default=0, help="Of the forms, where they change in one date.")
@click.option("--out", type=click.Path(), help="Folder that scout wrote in. [default: out beside the plan]")
def command(plan: str, sites: tuple[str, ...], masked: bool, revision: int, out: str | None) -> int:
    """Write the ranch for phones and other programs: GeoPackage, GPX, KMZ and field forms.

    For the SITEs named, else for all that are ranked. Run `boscage scout` first. The crew's own copy goes to the folder
    share in --out and holds everything. With --masked the copy goes to the folder masked and may be passed on.
    """
    from boscage.pipeline.share import share

    folder = Path(out) if out else default_out(plan)
    show(share(plan, sites, out=folder, masked=masked, revision=revision, progress=ProgressLine()))
    return 0


def show(result: ShareResult) -> None:
    """The files, and what they are fit for."""
    click.echo(f"{len(result.sites)} sites in {', '.join(result.files)}")
    if result.masked is None:
        words = "  note: exact places, gates and houses are in it. For others: --masked."
        click.echo(wrapped(words, indent="        "))
    else:
        click.echo(wrapped(f"  {LEFT_OUT}", indent="  "))
    click.echo(f"Written to {result.folder}")
