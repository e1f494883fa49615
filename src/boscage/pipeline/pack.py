"""`boscage pack`: what goes in for the sites of a plan, on which carrier, in how many trips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from boscage.exports.pack import pack_table, write_pack_csv
from boscage.exports.staging import staged
from boscage.exports.tables import write_json
from boscage.model.pack import PackItem, PackPlan
from boscage.model.plan import Plan
from boscage.model.results import PackResult
from boscage.model.rig_plan import GearItem
from boscage.packing.load import make_convoy, plan_loads
from boscage.packing.needs import list_needs
from boscage.pipeline.progress import Progress, silent
from boscage.pipeline.rig import chosen_sites, net_profile
from boscage.readers.gear_list import read_gear_lists
from boscage.readers.last_run import read_together
from boscage.readers.plan_file import read_plan
from boscage.rigging.standard import standard_gear
from boscage.sheets.packsheet import print_pack_sheet

STANDARD = "No ring is fitted at {names}: the gear of a standard ring is reckoned; bring longer straps and more stakes."


def pack(
    plan: Plan | str | Path, sites: Sequence[str] = (), *, out: Path, progress: Progress = silent
) -> PackResult:  # fmt: skip
    """The load plan for ranked sites; writes `pack.json`, `pack.csv` and `pack_sheet.pdf`, all or none.

    Where no site is named: those chosen together by the last ranking, else all of them.

    Raises:
        InputError: The plan is wrong, no ranking is there, a site is unknown, or a carrier has no limit.
    """
    plan = plan if isinstance(plan, Plan) else read_plan(plan)
    named = sites or read_together(out)
    rows = chosen_sites(out, named)
    gear, bare = _gear(plan, out, [str(r["site"]) for r in rows])
    limit = None if plan.drop.load_limit is None else plan.drop.load_limit.kg
    convoy = make_convoy(plan.pack.carriers, plan.carriers, load_limit_kg=limit, file=plan.file)
    progress("loading", 0, 1)
    made = _told(plan_loads(list_needs(gear, plan.pack, file=plan.file), convoy, plan.pack), bare, named, sites)
    result = PackResult(plan=plan, pack=made)
    with staged(out) as folder:
        write_json(folder / "pack.json", pack_table(result))
        write_pack_csv(folder / "pack.csv", result)
        print_pack_sheet(result, folder / "pack_sheet.pdf")
    progress("done", 1, 1)
    return result


def site_needs(plan: Plan, out: Path, names: Sequence[str]) -> tuple[PackItem, ...]:
    """Everything that goes in for some sites, and for the job (`site` is '')."""
    return list_needs(_gear(plan, out, names)[0], plan.pack, file=plan.file)


def _gear(plan: Plan, out: Path, names: Sequence[str]) -> tuple[dict[str, Sequence[GearItem]], list[str]]:
    """Each site's gear from the rigs that are there, else that of a standard ring; and the sites of the latter."""
    fitted = read_gear_lists(out)
    bare = [n for n in names if n not in fitted]
    standard = standard_gear(plan.ring_options(), net_profile(plan.net), plan.rigging) if bare else ()
    return {n: fitted.get(n, standard) for n in names}, bare


def _told(made: PackPlan, bare: Sequence[str], named: Sequence[str], asked: Sequence[str]) -> PackPlan:
    """The plan with what is to be said of where its gear and its sites come from."""
    notes = [STANDARD.format(names=", ".join(bare))] if bare else []
    if named and not asked:
        notes.append("Sites: those that the last ranking chose together.")
    return replace(made, notes=(*notes, *made.notes))
