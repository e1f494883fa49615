"""`boscage check PLAN`."""

from __future__ import annotations

from pathlib import Path

import click

from boscage.cli.report import moment_of_option, show_clock
from boscage.cli.screen import default_out, wrapped
from boscage.model.layers import LAYER_TITLES, LayerReport
from boscage.model.results import CheckResult
from boscage.values import Printer

_MARKS = {"usable": "ok     ", "doubtful": "DOUBT  ", "wrong": "WRONG  ", "missing": "missing"}


@click.command(name="check")
@click.argument("plan", type=click.Path())
@click.option("--out", type=click.Path(), help="Folder to write check.json in. [default: out beside the plan]")
@click.option("--now", help="Moment that checks are counted at, local time, such as '2026-11-21 08:30'.")
def command(plan: str, out: str | None, now: str | None) -> int:
    """Read every input of a plan and say what is usable, doubtful or wrong. Changes nothing; writes check.json.

    With a log it shows which checks of armed sets are overdue and which are due next.
    """
    from boscage.pipeline.check import check

    folder = Path(out) if out else default_out(plan)
    result = check(plan, out=folder, now=moment_of_option(now))
    show(result)
    for report in result.errors:
        click.echo(f"boscage: {report.error}", err=True)
    return 2 if result.errors else 0


def show(result: CheckResult) -> None:
    """One screen that a person can act on."""
    plan, printer = result.plan, Printer(result.plan.ranch.units)
    click.echo(f"{plan.ranch.name}: {plan.file}, counted from {plan.date.isoformat()}")
    if result.crs:
        click.echo(wrapped(f"  {printer.area(result.ranch_ha)} of parcels; {result.crs} ({result.crs_reason})"))
    for owner, access, hectares in result.owners:
        click.echo(f"    {access:<8} {printer.area(hectares):>10}  {owner or 'owner not stated'}")
    for report in result.reports:
        _show_layer(report, plan.date)
    for rule in result.rules:
        if rule.is_stale(plan.date):
            text = f"  rule for {rule.stop} was checked on {rule.checked.isoformat()}, over a year ago: check it again"
            click.echo(wrapped(text, indent="      "))
    for note in result.notes:
        click.echo(wrapped(f"  note: {note}", indent="      "))
    if result.clock is not None:
        show_clock(result.clock, plan.checks.words, result.zone)
    states = [r.state for r in result.reports]
    click.echo(
        f"{states.count('usable')} usable, {states.count('doubtful')} doubtful, {states.count('wrong')} wrong, "
        f"{states.count('missing')} missing"
    )


def _show_layer(report: LayerReport, day: object) -> None:
    title = LAYER_TITLES.get(report.name, report.name)
    parts = [report.read]
    parts += [f"covers {report.coverage:.0%} of the ranch"] if report.coverage is not None else []
    if report.state in ("usable", "doubtful"):
        parts.append(f"dated {report.date.isoformat()}" if report.date else "date not stated")
    click.echo(wrapped(f"  {_MARKS[report.state]} {title}: " + "; ".join(p for p in parts if p), indent=" " * 12))
    for doubt in report.doubts:
        click.echo(wrapped(f"            ? {doubt}", indent=" " * 14))
    if report.error:
        click.echo(wrapped(f"            ! {report.error}", indent=" " * 14))
