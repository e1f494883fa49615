"""`boscage report PLAN PLAN ...`: several seasons or ranches in one summary, by the same definitions."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from boscage.errors import InputError
from boscage.exports.report_season import season_table, write_season_csv
from boscage.exports.staging import staged
from boscage.exports.tables import write_json
from boscage.ledger.season import Season, sum_seasons
from boscage.model.report import ReportAsk, ReportResult, SeasonLine, SeasonResult, listed
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.report_compute import make_result
from boscage.pipeline.report_inputs import ReportInputs, read_inputs
from boscage.sheets.reportseason import print_season


def season(plans: Sequence[str | Path], *, out: Path, progress: Progress = silent) -> SeasonResult:
    """One summary of several plans; writes `season.json`, `season.csv` and `season_summary.pdf`, all or none.

    Each plan's sets that its log gives no place stand where `out/sites.gpkg` beside that plan has them. The summary
    holds no place at all.

    Raises:
        InputError: A plan or a log is wrong, a plan is named twice, or two plans read the same log.
    """
    _refuse_twice(plans)
    seasons: list[Season] = []
    results: list[ReportResult] = []
    logs: dict[Path, str] = {}
    for number, plan in enumerate(plans):
        progress("reading logs", number, len(plans))
        inputs = read_inputs(plan, Path(plan).parent / "out")
        _refuse_same_log(inputs, str(plan), logs)
        result = make_result(inputs, ReportAsk())
        results.append(result)
        seasons.append(Season(line=line_of(result), covered=result.covered.shape, crs=result.crs))
    lines = tuple(s.line for s in seasons)
    level = results[0].plan.removal.level
    made = SeasonResult(
        plan=results[0].plan, lines=lines, totals=sum_seasons(seasons, level), notes=_notes(lines, results)
    )
    with staged(out) as folder:
        write_json(folder / "season.json", season_table(made))
        write_season_csv(folder / "season.csv", made)
        progress("printing", 0, 1)
        print_season(made, folder / "season_summary.pdf")
    progress("done", 1, 1)
    return made


def line_of(result: ReportResult) -> SeasonLine:
    """A report as one line of a summary."""
    options = result.plan.report
    return SeasonLine(
        ranch=result.plan.ranch.name, season=options.season or _years(result), crew=options.crew or "",
        begin=result.begin, end=result.end, effort=result.effort, captures=result.captures, rates=result.rates,
        groups_known=result.groups.known, groups_complete=result.groups.complete, missing=result.groups.minimum_alive,
        covered_ha=result.covered.covered_ha, granted_ha=result.covered.granted_ha, radius_m=result.covered.radius_m,
        quality=result.quality,
    )  # fmt: skip


def _years(result: ReportResult) -> str:
    if result.begin is None or result.end is None:
        return str(result.plan.date.year)
    years = sorted({result.begin.year, result.end.year})
    return str(years[0]) if len(years) == 1 else f"{years[0]} to {years[-1]}"


def _refuse_twice(plans: Sequence[str | Path]) -> None:
    seen: set[Path] = set()
    for plan in plans:
        real = Path(plan).expanduser().resolve()
        if real in seen:
            raise InputError("the plan is named twice", mend="name each plan once", file=str(plan))
        seen.add(real)


def _refuse_same_log(inputs: ReportInputs, plan: str, logs: dict[Path, str]) -> None:
    path = (Path(inputs.plan.folder) / Path(inputs.plan.layers["log"].path).expanduser()).resolve()
    if path in logs:
        raise InputError(
            f"{logs[path]} and {plan} read the same log, so every night would be counted twice",
            mend="give each plan a log of its own", file=inputs.plan.layers["log"].path, layer="log",
        )  # fmt: skip
    logs[path] = plan


def _notes(lines: Sequence[SeasonLine], results: Sequence[ReportResult]) -> tuple[str, ...]:
    """Where lines do not stand on the same ground."""
    notes = []
    radii = sorted({line.radius_m for line in lines})
    if len(radii) > 1:
        said = " and ".join(f"{r:g} m" for r in radii)
        notes.append(f"Covered land is counted with different radii ({said}), so it is not to be compared.")
    rules = sorted({r.plan.checks.hours for r in results})
    if len(rules) > 1:
        said = " and ".join(f"{h:g} h" for h in rules)
        notes.append(f"Looks are held against different rules ({said}).")
    nameless = [f"{line.ranch} {line.season}" for line in lines if not line.crew]
    if nameless:
        notes.append(f"No crew is stated for {listed(nameless)}: write [report] crew in the plan.")
    for k, first in enumerate(lines):
        for second in lines[k + 1 :]:
            if first.ranch == second.ranch and _overlap(first, second):
                notes.append(
                    f"Two logs of {first.ranch} share nights ({first.season}, {second.season}); make sure that no row "
                    "stands in both."
                )
    return tuple(notes)


def _overlap(first: SeasonLine, second: SeasonLine) -> bool:
    if first.begin is None or first.end is None or second.begin is None or second.end is None:
        return False
    return first.begin <= second.end and second.begin <= first.end
