"""`boscage scout PLAN`."""

from __future__ import annotations

from pathlib import Path

import click

from boscage.cli.screen import ProgressLine, default_out, wrapped
from boscage.model.findings import Move
from boscage.model.results import ScoutResult


@click.command(name="scout")
@click.argument("plan", type=click.Path())
@click.option("--out", type=click.Path(), help="Folder to write in. [default: out beside the plan]")
@click.option("--fresh", is_flag=True, help="Compute everything again; use nothing kept from an earlier run.")
@click.option("--no-sheets", is_flag=True, help="Leave out the PDF, and take an older one away.")
def command(plan: str, out: str | None, fresh: bool, no_sheets: bool) -> int:
    """Rule out, score and rank sites over a ranch, and print the field sheets.

    Writes scout.json, sites.gpkg (layers sites and stops), sites.csv, score.tif and field_sheets.pdf. Hard stops come
    first, whatever the score; only land with granted access is ranked.
    """
    from boscage.pipeline.scout import scout

    folder = Path(out) if out else default_out(plan)
    result = scout(plan, out=folder, fresh=fresh, sheets=not no_sheets, progress=ProgressLine())
    show(result, folder)
    return 0 if result else 3


def move_words(move: Move) -> str:
    """One move in a line.

    >>> from boscage.model.findings import Move
    >>> move_words(Move(site="S-02", rank=2, was_site="S-05", was_rank=5, points=3.0, why="Points: fresh sign +3."))
    'S-02 from rank 5 to rank 2. Points: fresh sign +3.'
    """
    if move.rank is None:
        return f"{move.was_site}, rank {move.was_rank} before. {move.why}"
    if move.was_rank is None:
        return f"{move.site}, rank {move.rank}. {move.why}"
    return f"{move.site} from rank {move.was_rank} to rank {move.rank}. {move.why}"


def show(result: ScoutResult, folder: Path) -> None:
    """Print the ranking as a short table and say where the files are."""
    if not result:
        click.echo(f"boscage: no site fits. {result.reason}", err=True)
    for site in result.sites:
        rank = site.standing.label if site.standing is not None else str(site.rank)
        lead = f"{rank:>4}  {site.site}  {site.score:>3}  {site.place.ddm}  {site.support:<6}  "
        click.echo(wrapped(lead + (site.why[0] if site.why else ""), indent=" " * 8))
    for move in result.moves or ():
        click.echo(wrapped(f"  moved: {move_words(move)}", indent="        "))
    for line in result.together.sentences[:2] if result.together is not None else ():
        click.echo(wrapped(f"  together: {line}", indent="        "))
    for note in result.notes:
        click.echo(wrapped(f"  note: {note}", indent="        "))
    for stop in result.stops:
        if not stop.applied:
            click.echo(wrapped(f"  {stop.title}: {stop.note}.", indent="        "))
    if result.missing_layers:
        click.echo(wrapped(f"  missing layers: {', '.join(result.missing_layers)}", indent="        "))
    click.echo(f"Written to {folder}")
