"""`boscage check`: every input read and judged, nothing changed."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from pathlib import Path

from boscage.exports import tables
from boscage.exports.staging import staged
from boscage.model.plan import Plan
from boscage.model.results import CheckResult
from boscage.pipeline.report_clock import with_clock
from boscage.plugins import load_factors, load_readers
from boscage.readers.layers import inspect_layers
from boscage.readers.plan_file import read_plan
from boscage.readers.rules import read_rules
from boscage.siting.land import make_land


def check(
    plan: Plan | str | Path, *, out: Path | None = None, now: dt.datetime | None = None
) -> CheckResult:  # fmt: skip
    """Read every input of a plan and say what is usable, doubtful or wrong; writes `check.json` where `out` is given.

    With a log it tells which checks of armed sets are due, at `now` or the plan's own moment.

    Raises:
        PlanError: The plan itself is wrong, so that no layer can be looked for.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    load_factors(plan)
    rules = read_rules(plan)
    layers, reports = inspect_layers(plan, load_readers())
    result = CheckResult(plan=plan, crs="", crs_reason="", reports=reports, rules=tuple(rules.values()))
    if layers is not None:
        frame = layers.vectors["parcels"].frame
        sizes = frame.assign(hectares=frame.geometry.area / 1e4, owner=frame["owner"].fillna(""))
        owners = sizes.groupby(["owner", "access"], sort=True)["hectares"].sum()
        result = replace(
            result, crs=layers.crs, crs_reason=layers.crs_reason, ranch_ha=make_land(frame).ranch_ha,
            owners=tuple((str(o), str(a), float(h)) for (o, a), h in owners.items()), notes=layers.problems,
        )  # fmt: skip
    result = with_clock(result, layers, now)
    if out is not None:
        with staged(out) as folder:
            tables.write_json(folder / "check.json", tables.check_table(result))
    return result
