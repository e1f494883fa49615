"""`boscage report PLAN [PLAN ...]`."""

from __future__ import annotations

import datetime as dt
import gc
import math
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import click

from boscage.cli.screen import ProgressLine, default_out, wrapped
from boscage.values import Printer

if TYPE_CHECKING:
    from boscage.model.ledger_clock import ClockReport
    from boscage.model.report import ReportResult, SeasonResult

MOST_SHOWN = 12
_FORMS = ("%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M")


@click.command(name="report")
@click.argument("plans", type=click.Path(), nargs=-1, required=True, metavar="PLAN [PLAN]...")
@click.option("--out", type=click.Path(), help="Folder to write in. [default: out beside the (first) plan]")
@click.option("--owner", help="Print only this owner's land.")
@click.option("--exact", is_flag=True, help="Write exact places; without it every file is masked.")
@click.option("--now", help="Moment that checks are counted at, local time, such as '2026-11-21 08:30'.")
def command(plans: tuple[str, ...], out: str | None, owner: str | None, exact: bool, now: str | None) -> int:
    """Report what was done, caught and covered, from the log of a plan; several PLANs make one summary.

    Writes report.json, coverage.csv, report.gpkg and coverage_report.pdf, and check_sheet.pdf where a set is armed.
    They hold no exact place of a set unless --exact is given. A set that the log gives no place stands where sites.gpkg
    in the folder has it. Of several PLANs, a season or a ranch each: season.json, season.csv and season_summary.pdf.
    """
    folder = Path(out) if out else default_out(plans[0])
    with collector_paused():
        _run(plans, folder, (owner, exact, now))
    click.echo(f"Written to {folder}")
    return 0


def _run(plans: tuple[str, ...], folder: Path, asked: tuple[str | None, bool, str | None]) -> None:
    """The report of one plan, or the summary of several, written and shown."""
    owner, exact, now = asked
    if len(plans) > 1:
        given = [name for name, value in (("--owner", owner), ("--exact", exact), ("--now", now)) if value]
        if given:
            raise click.UsageError(f"{' and '.join(given)} goes with one plan; of several plans there is a summary.")
        from boscage.pipeline.report_season import season

        show_season(season(plans, out=folder, progress=ProgressLine()))
    else:
        from boscage.model.report import ReportAsk
        from boscage.pipeline.report import report

        ask = ReportAsk(owner=owner, exact=exact, now=moment_of_option(now))
        show(report(plans[0], out=folder, ask=ask, progress=ProgressLine()))


@contextmanager
def collector_paused() -> Iterator[None]:
    """No search for cycles meanwhile: a long log makes many small frozen values, and none of them is in a cycle."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def moment_of_option(text: str | None) -> dt.datetime | None:
    """The moment that `--now` states.

    Raises:
        UsageError: It is none.
    """
    for form in _FORMS:
        try:
            return None if text is None else dt.datetime.strptime(text.strip(), form)
        except ValueError:
            continue
    raise click.UsageError(f"--now is {text!r}; expected a day and a local time such as '2026-11-21 08:30'.")


def show(result: ReportResult) -> None:
    """The report in a few lines, then the clock, what is to be mended and what comes next."""
    from boscage.model.report import counted

    printer, effort, caught, land = (
        Printer(result.plan.ranch.units), result.effort, result.captures, result.covered
    )  # fmt: skip
    kind = "masked copy" if result.masked else "EXACT copy, shows where sets stand"
    click.echo(f"{result.plan.ranch.name}{f', land of {result.owner}' if result.owner else ''}: {kind}")
    hours = "hours not written down" if math.isnan(effort.hours) else f"{effort.hours:,.0f} person-hours"
    click.echo(wrapped(
        f"  {counted(effort.sites, 'set')}: {counted(effort.armed_nights, 'armed night')}, {effort.open_nights:,} "
        f"open, {effort.prebait_nights:,} with bait alone; {counted(effort.checks, 'check')}; {hours}", indent="    "
    ))  # fmt: skip
    catches = counted(len(caught.nights), "catch")
    click.echo(f"  {counted(caught.total, 'animal')} in {catches}; {left_line(result)}")
    radius = printer.length(land.radius_m)
    covered = printer.area(land.covered_ha) if land.covered_ha else "none"
    click.echo(f"  covered: {covered} of {printer.area(land.granted_ha)} with permission (within {radius})")
    show_clock(result.clock, result.plan.checks.words, result.zone)
    for problem in result.problems[:MOST_SHOWN]:
        click.echo(wrapped(f"  row {problem.row}: {problem.text}", indent="      "))
    more = len(result.problems) - MOST_SHOWN
    if more > 0:
        click.echo(f"  {counted(more, 'row')} more to mend: see report.json")
    for step in result.steps:
        when = step.by.isoformat() if step.by else "no day"
        late = "NOW: " if step.urgent else ""
        click.echo(wrapped(f"  {when:<10}  {step.who}: {late}{step.what}", indent="              "))


def left_line(result: ReportResult) -> str:
    """Who is left, as far as is known."""
    groups = result.groups
    if not groups.known:
        return "how many are left is not known"
    return f"at least {groups.minimum_alive} of known groups left; {groups.complete} of {groups.known} taken whole"


def show_clock(clock: ClockReport, rule: str, zone: str) -> None:
    """The clock of checks: the rule, each armed set with the moment its look is due, armed nights without a look."""
    from boscage.model.report import counted

    click.echo(wrapped(f"  checks at {clock.now:%Y-%m-%d %H:%M} ({zone}): {rule}", indent="      "))
    if not clock.due:
        click.echo("      no set is armed, so no look is due")
    for due in clock.due[:MOST_SHOWN]:
        unsure = "" if due.time_is_known else " (no time written for the last look)"
        click.echo(f"      {due.state.upper() if due.state != 'upcoming' else 'upcoming':<16} {due.site:<12} "
                   f"look before {due.due:%Y-%m-%d %H:%M}{unsure}")  # fmt: skip
    more = len(clock.due) - MOST_SHOWN
    if more > 0:
        late = sum(d.state != "upcoming" for d in clock.due[MOST_SHOWN:])
        click.echo(f"      {counted(more, 'armed set')} more, {late} of them late or perhaps late")
    if clock.unchecked:
        names = ", ".join(f"{site} {night}" for site, night in clock.unchecked[:MOST_SHOWN])
        rest = len(clock.unchecked) - MOST_SHOWN
        names += f" and {rest:,} more" if rest > 0 else ""
        click.echo(wrapped(f"      armed nights without a look in the log: {names}", indent="        "))
    late = sum(g.kept is False for g in clock.gaps)
    if late:
        click.echo(f"      {counted(late, 'look')} came later than the rule allows")


def show_season(result: SeasonResult) -> None:
    """One line a ranch and season, then what all of it comes to."""
    from boscage.model.report import counted

    for line in result.lines:
        nights = f"{line.begin} to {line.end}" if line.begin else "no night in the log"
        click.echo(wrapped(
            f"{line.ranch}, {line.season}: {nights}; {counted(line.effort.armed_nights, 'armed night')}, "
            f"{counted(line.captures.total, 'animal')}; {line.quality.rows - line.quality.aside} of "
            f"{counted(line.quality.rows, 'row')} counted", indent="    "
        ))  # fmt: skip
    for total in result.of("all"):
        click.echo(f"all: {counted(total.armed_nights, 'armed night')}, {counted(total.animals, 'animal')}")
    for note in result.notes:
        click.echo(wrapped(f"  note: {note}", indent="        "))
