"""From what a report reads to its result: the ledger's figures of all land, or of one owner's."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import shapely

from boscage.errors import InputError
from boscage.evidence.groups import find_groups
from boscage.evidence.visits import find_visits
from boscage.ledger.clock import check_clock
from boscage.ledger.covered import cover_land
from boscage.ledger.damage import compare_damage
from boscage.ledger.effort import find_rates, poisson_rate, sum_captures, sum_effort
from boscage.ledger.groups import counts_from_cameras, counts_in_log, settle_groups
from boscage.ledger.lines import judge_quality, night_lines, part_of, set_lines
from boscage.ledger.removal import judge_removal, make_passes
from boscage.ledger.steps import next_steps
from boscage.model.groups import Group
from boscage.model.ledger import Book, GroupCount
from boscage.model.ledger_effort import GroupsTaken
from boscage.model.ledger_land import DamageChange, NoComparison, Parcel
from boscage.model.ledger_removal import FitTest, Removal
from boscage.model.report import DamageFound, ReportAsk, ReportResult, SignChange, listed
from boscage.pipeline.report_inputs import ReportInputs, moment, time_zone, zone_words
from boscage.pipeline.report_use import use_covered
from boscage.readers.transects import TransectRow

ONE_OWNER = "one owner's land is no closed piece of ground: animals cross its lines."
NO_PARCELS = "The table of transects names no parcel, so damage is not told apart by owner and is left out."


def make_result(inputs: ReportInputs, ask: ReportAsk) -> ReportResult:
    """The report with exact places.

    Of one owner: sets where they stood on the owner's land, and that land covered by any set, wherever it stood.

    Raises:
        InputError: There is no such owner.
    """
    plan, owner = inputs.plan, owner_of(inputs, ask.owner)
    land = [p for p in inputs.land if not owner or p.owner == owner]
    whole = inputs.book
    book, hidden = part_of(whole, inputs.log.rows, _holder(land)) if owner else (whole, 0)
    clock = check_clock(book, plan.checks, moment(plan, ask.now), time_zone(plan))
    cameras = _cameras(inputs, _holder(land) if owner else None)
    effort, captures = sum_effort(book, cameras.nights), sum_captures(book)
    groups = settle_groups(whole, (*counts_in_log(whole), *cameras.counts))
    groups = _own_groups(groups, book) if owner else groups
    covered = cover_land(whole, land, plan.report.radius.m)
    covered = replace(covered, sites=tuple(s for s in covered.sites if s in book.sites)) if owner else covered
    granted = [p for p in land if p.access == "granted"]
    result = ReportResult(
        plan=plan, crs=inputs.layers.crs, zone=zone_words(plan), owner=owner, masked=False,
        sets=set_lines(book, clock, _namer(land)), nights=night_lines(book), effort=effort, captures=captures,
        rates=find_rates(effort, captures, plan.removal.level), groups=groups, covered=covered,
        pieces=tuple(shapely.intersection(covered.shape, p.shape) for p in granted),
        damage=_damage(inputs, owner, land), removal=_removal(book, plan, owner),
        clock=replace(clock, gaps=tuple(g for g in clock.gaps if g.kept is False)),
        use=use_covered(inputs, book, granted, covered.shape), steps=(),
        quality=judge_quality(book, clock, _rows(inputs, book, owner), len(groups.groups) - groups.known),
        camera_groups=cameras.unlinked, problems=book.problems, hidden=hidden,
        notes=(*_notes(inputs, book, owner), *cameras.notes),
    )  # fmt: skip
    return replace(result, steps=next_steps(result))


def owner_of(inputs: ReportInputs, asked: str | None) -> str:
    """The owner's name as the parcels write it, '' for all.

    Raises:
        InputError: No parcel has such an owner.
    """
    if asked is None:
        return ""
    names = sorted({p.owner for p in inputs.land} - {""})
    found = {n.casefold(): n for n in names}.get(" ".join(asked.split()).casefold())
    if found is None:
        raise InputError(
            f"no parcel has the owner {asked!r}", expected=f"one of {', '.join(names)}" if names else "",
            mend="write the name as the parcels do" if names else "fill in the column owner of the parcels",
            file=inputs.plan.layers["parcels"].path, layer="parcels", field="owner",
        )  # fmt: skip
    return found


def _holder(land: Sequence[Parcel]) -> Callable[[float, float], bool]:
    """Whether a place lies on some land."""
    whole = shapely.union_all([p.shape for p in land])
    shapely.prepare(whole)
    return lambda x, y: bool(shapely.intersects_xy(whole, x, y))


def _namer(land: Sequence[Parcel]) -> Callable[[float, float], str]:
    """Name of the parcel at a place, '' for none."""
    tree = shapely.STRtree([p.shape for p in land])

    def name(x: float, y: float) -> str:
        found = tree.query(shapely.Point(x, y), predicate="intersects")
        return land[int(found.min())].parcel if len(found) else ""

    return name


def _rows(inputs: ReportInputs, book: Book, owner: str) -> int:
    return len(book.rows) + len({p.row for p in book.problems if not p.counted}) if owner else inputs.rows


@dataclass(frozen=True, kw_only=True)
class _Cameras:
    """What cameras add.

    Attributes:
        nights: Of all cameras, NaN without any layer.
        counts: Of groups that the log names too.
        unlinked: Other groups: name, most at one time, last night.
        notes: Sentences.
    """

    nights: float = math.nan
    counts: tuple[GroupCount, ...] = ()
    unlinked: tuple[tuple[str, int, dt.date], ...] = ()
    notes: tuple[str, ...] = ()


def _cameras(inputs: ReportInputs, holds: Callable[[float, float], bool] | None) -> _Cameras:
    """Camera nights, and groups with the log's name for them; only of cameras on some land where that is given."""
    data, plan = inputs.layers.cameras, inputs.plan
    if data is None:
        return _Cameras(notes=_unseen(plan.report.cameras, ()))
    places = inputs.layers.camera_places
    near = replace(data, deployments={k: d for k, d in data.deployments.items() if k in places})
    visits = [v for v in find_visits(near, plan.cameras) if v.night <= plan.date]
    groups = find_groups(near, visits, plan.cameras)
    named = {g.casefold(): g for g in dict.fromkeys(r.group for r in inputs.book.rows if r.group)}
    linked: list[Group] = []
    unlinked = []
    for group in groups:
        told = plan.report.cameras.get(group.name, group.name)
        if told.casefold() in named:
            linked.append(replace(group, name=named[told.casefold()]))
        elif holds is None or any(holds(*places[d]) for d in group.deployments):
            unlinked.append((group.name, group.most, group.nights[-1].night))
    kept = [d for k, d in near.deployments.items() if holds is None or holds(*places[k])]
    return _Cameras(
        nights=math.fsum(d.nights for d in kept), counts=counts_from_cameras(linked), unlinked=tuple(unlinked),
        notes=_unseen(plan.report.cameras, [g.name for g in groups]),
    )  # fmt: skip


def _unseen(given: Mapping[str, str], names: Sequence[str]) -> tuple[str, ...]:
    """A sentence on names that the plan links to a group of the log and that cameras show no group of."""
    unseen = [name for name in given if name not in names]
    if not unseen:
        return ()
    shown = f"they are {', '.join(names)}" if names else "there are none"
    said = f"Cameras saw no group called {listed(unseen)} up to the plan's date, though [report] cameras names it"
    return (f"{said}; of the groups that they saw, {shown}.",)


def _own_groups(found: GroupsTaken, book: Book) -> GroupsTaken:
    """The groups that rows on an owner's land name, as they stand on the whole ranch."""
    names = {r.group for r in book.rows if r.group}
    kept = tuple(g for g in found.groups if g.group in names)
    counted = [g for g in kept if g.known is not None]
    caught = sum(r.animals for r in book.of("capture"))
    members = {g.group for g in counted}
    inside = sum(r.animals for r in book.of("capture") if r.group in members)
    unknown = [g.group for g in kept if g.known is None]
    notes = [f"{g.group}: {g.note}" for g in kept if g.note]
    notes += [f"groups without a count: {listed(unknown)}; who of them is left is not known."] if unknown else []
    return GroupsTaken(
        groups=kept, complete=sum(g.state == "complete" for g in kept), known=len(counted),
        minimum_alive=sum(g.missing or 0 for g in counted), as_of=found.as_of if counted else None,
        taken_apart=caught - inside,
        notes=(*notes, "groups that came to the owner's land are counted wherever on the ranch they were taken."),
    )  # fmt: skip


def _removal(book: Book, plan: Any, owner: str) -> Removal:
    if owner:
        return Removal(fit=False, tests=(FitTest(name="closure", passed=False, text=ONE_OWNER),), passes=())
    return judge_removal(make_passes(book, plan.removal.pass_days), plan.removal)


def _damage(inputs: ReportInputs, owner: str, land: Sequence[Parcel]) -> DamageFound:
    """Damage and sign before and after; of one owner on the transects of the owner's parcels."""
    rows = inputs.transects
    if rows is None:
        return DamageFound(notes=("No survey of damage is given: what the animals do to the land is not known.",))
    if owner:
        names = {p.parcel for p in land}
        if not any(r.parcel for r in rows):
            return DamageFound(notes=(NO_PARCELS,))
        rows = tuple(r for r in rows if r.parcel in names)
    first, second = ([r for r in rows if r.survey == when] for when in ("before", "after"))
    if not rows:
        return DamageFound(notes=("No transect was walked on this land.",))
    change = compare_damage([r.walked for r in first], [r.walked for r in second], inputs.plan.removal.level)
    return DamageFound(change=change, sign=_sign(first, second, change), days=(_days(first), _days(second)))


def _days(rows: Sequence[TransectRow]) -> tuple[dt.date, dt.date] | None:
    days = [r.walked.date for r in rows if r.walked.date is not None]
    return (min(days), max(days)) if days and len(days) == len(rows) else None


def _sign(
    first: Sequence[TransectRow], second: Sequence[TransectRow], change: DamageChange | NoComparison
) -> SignChange | None:  # fmt: skip
    """Fresh sign per kilometre, where it was counted on every transect both times and lengths were walked."""
    held = [*first, *second]
    if not isinstance(change, DamageChange) or change.unit != "m" or any(r.sign is None for r in held):
        return None
    before, after = (
        poisson_rate(sum(r.sign or 0 for r in rows), math.fsum(r.walked.surveyed for r in rows) / 1000.0, change.level)
        for rows in (first, second)
    )
    return SignChange(before=before, after=after)


def _notes(inputs: ReportInputs, book: Book, owner: str) -> tuple[str, ...]:
    """What was read, where places come from, sets off the land with permission."""
    notes = [] if owner else [f"Log: {'; '.join(inputs.log.notes)}."]
    borrowed = [s for s in inputs.borrowed if s in book.sites]
    if borrowed:
        notes.append(
            f"Places from the last ranking, not from the log: {listed(borrowed)}; a site's number belongs to one "
            "run, so write the places into the log."
        )
    granted = shapely.union_all([p.shape for p in inputs.land if p.access == "granted"])
    shapely.prepare(granted)
    placed = [s for s in book.stays if not math.isnan(s.x_m)]
    inside = shapely.intersects_xy(granted, [s.x_m for s in placed], [s.y_m for s in placed])
    off = [s.site for s, held in zip(placed, inside, strict=True) if not held]
    if off:
        names = listed(list(dict.fromkeys(off)))
        notes.append(f"Off land with granted permission, by their places: {names}; check the place and the permission.")
    return tuple(notes)
