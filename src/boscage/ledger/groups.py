"""Groups: how many were known, who was taken, who is missing, and the least number known to be alive."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence

from boscage.model.groups import Group
from boscage.model.ledger import ANIMAL_CLASSES, Book, GroupCount, LogRow
from boscage.model.ledger_effort import GroupsTaken, GroupState, GroupTaken
from boscage.model.report import listed

FROM_CAMERA: Mapping[str, str] = {
    "adult male": "boar", "adult female": "sow", "subadult": "yearling", "juvenile": "piglet",
}  # fmt: skip
_OF = re.compile(r"\bof\s+(\d{1,3})$", re.IGNORECASE)


def counts_in_log(book: Book) -> tuple[GroupCount, ...]:
    """Counts that the log itself states: the column `known`, and a name such as 'creek group of 7'.

    A number in a name is taken as counted before every capture. A count in a capture row is of the evening before the
    capture, so those taken in it are among it.
    """
    found: dict[tuple[str, int, dt.date | None], GroupCount] = {}
    for row in book.rows:
        if not row.group:
            continue
        if row.known is not None:
            made = GroupCount(group=row.group, count=row.known, night=row.night, source=f"row {row.row} of the log")
            found.setdefault((row.group, row.known, row.night), made)
        match = _OF.search(row.group)
        if match is not None:
            count = int(match.group(1))
            found.setdefault((row.group, count, None), GroupCount(group=row.group, count=count, source="its name"))
    return tuple(found.values())


def counts_from_cameras(groups: Iterable[Group]) -> tuple[GroupCount, ...]:
    """Counts of groups that cameras told apart: each night's largest number, with members where all have a class."""
    out = []
    for group in groups:
        for seen in group.nights:
            members: dict[str, int] = {}
            for name, number in seen.members.items():
                if name in FROM_CAMERA:
                    members[FROM_CAMERA[name]] = members.get(FROM_CAMERA[name], 0) + number
            told = members if sum(members.values()) == seen.size else {}
            out.append(
                GroupCount(group=group.name, count=seen.size, members=told, night=seen.night, source="the cameras")
            )
    return tuple(out)


def settle_groups(book: Book, counts: Sequence[GroupCount]) -> GroupsTaken:
    """Hold the captures of each group against its counts.

    A count and the members taken on nights before it are a number that the group had at the least; the largest of these
    is what is known. What is known and not taken is missing, and as far as anybody knows alive: a least number, since
    nobody counts births, deaths and strangers.
    """
    captured = [r for r in book.of("capture") if r.group]
    names = dict.fromkeys([*(r.group for r in book.rows if r.group), *(c.group for c in counts)])
    by_group: dict[str, list[LogRow]] = {}
    for row in captured:
        by_group.setdefault(row.group, []).append(row)
    of_group: dict[str, list[GroupCount]] = {}
    for count in counts:
        of_group.setdefault(count.group, []).append(count)
    groups = tuple(_settle(n, by_group.get(n, []), of_group.get(n, [])) for n in names)
    counted = [g for g in groups if g.known is not None]
    nights = [c.night for c in counts if c.night] + [r.night for r in captured if r.group in of_group]
    notes = [f"{g.group}: {g.note}" for g in groups if g.note]
    unknown = [g.group for g in groups if g.known is None]
    if unknown:
        notes.append(f"groups without a count: {listed(unknown)}; who of them is left is not known.")
    undated = [g.group for g in counted if g.night is None and g.missing]
    if undated:
        notes.append(f"when these groups were counted is not written down: {listed(undated)}.")
    total = sum(r.animals for r in book.of("capture"))
    return GroupsTaken(
        groups=groups, complete=sum(g.state == "complete" for g in groups), known=len(counted),
        minimum_alive=sum(g.missing or 0 for g in counted), as_of=max(nights, default=None),
        taken_apart=total - sum(g.taken for g in counted), notes=tuple(notes),
    )  # fmt: skip


def _settle(name: str, rows: Sequence[LogRow], counts: Sequence[GroupCount]) -> GroupTaken:
    named = any(c.members.get("boar", 0) for c in counts)
    boars = 0 if named else sum(r.counts[0] for r in rows)
    taken = sum(r.animals for r in rows) - boars
    if not counts:
        return GroupTaken(group=name, known=None, taken=taken, boars_apart=boars, missing=None)
    best = max(counts, key=lambda c: (c.count + _before(rows, c, named=named), c.night or dt.date.min))
    known = best.count + _before(rows, best, named=named)
    missing = max(0, known - taken)
    lacking, over = _by_class(best, rows)
    state, note = _state(known, taken, lacking, over)
    return GroupTaken(
        group=name, known=known, taken=taken, boars_apart=boars, missing=missing,
        missing_by_class=lacking, state=state, night=best.night, source=best.source, note=note,
    )  # fmt: skip


def _before(rows: Sequence[LogRow], count: GroupCount, *, named: bool) -> int:
    """Members taken on nights before a count."""
    if count.night is None:
        return 0
    return sum(r.animals - (0 if named else r.counts[0]) for r in rows if r.night < count.night)


def _by_class(count: GroupCount, rows: Sequence[LogRow]) -> tuple[dict[str, int], dict[str, int]]:
    """Members missing by class, and taken beyond the count by class; both empty where classes are not told apart."""
    if not count.members:
        return {}, {}
    since = [r for r in rows if count.night is None or r.night >= count.night]
    lacking, over = {}, {}
    for i, name in enumerate(ANIMAL_CLASSES):
        left = count.members.get(name, 0) - sum(r.counts[i] for r in since)
        if left > 0:
            lacking[name] = left
        elif left < 0 and (name != "boar" or count.members.get("boar", 0)):
            over[name] = -left
    return lacking, over


def _state(known: int, taken: int, lacking: Mapping[str, int], over: Mapping[str, int]) -> tuple[GroupState, str]:
    if taken > known:
        return "unsettled", f"{taken} were taken and {known} known; the count was too low, so others may be left."
    if taken < known:
        return "missing", ""
    if lacking or over:
        words = ", ".join(f"{n} {c}" for c, n in lacking.items())
        return "unsettled", f"the number is taken, but by class {words} would be missing; look at the photographs."
    return "complete", ""
