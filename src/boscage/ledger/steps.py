"""What is to be done next, by whom and until when, as far as the log itself says."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from boscage.model.ledger_effort import GroupTaken
from boscage.model.ledger_land import DamageChange, NoComparison
from boscage.model.report import NextStep, ReportResult, counted

WEEK = dt.timedelta(days=7)
FEW_DAYS = dt.timedelta(days=3)
YEAR = dt.timedelta(days=365)
MOST_NAMED = 4
"""Sets or groups that have a step each; the others share one."""


def next_steps(result: ReportResult) -> tuple[NextStep, ...]:
    """Steps, the late ones first, then by day; those without a day last."""
    found = [*_checks(result), *_groups(result), *_sets(result), *_records(result), *_rules(result), *_damage(result)]
    return tuple(sorted(found, key=lambda s: (not s.urgent, s.by or dt.date.max)))


def _checks(result: ReportResult) -> Iterator[NextStep]:
    """Looks at armed sets."""
    due = result.clock.due
    for held in due[:MOST_NAMED]:
        at = f"{held.due:%Y-%m-%d %H:%M}"
        if held.state == "upcoming":
            yield NextStep(what=f"Look at {held.site}, which is armed, before {at}.", who="crew", by=held.due.date())
        else:
            said = "is overdue" if held.state == "overdue" else "may be overdue"
            yield NextStep(
                what=f"Look at {held.site}: the look was due {at} and {said}.", who="operator",
                by=result.clock.now.date(), urgent=True,
            )  # fmt: skip
    if len(due) > MOST_NAMED:
        rest = due[MOST_NAMED:]
        late = sum(d.state != "upcoming" for d in rest)
        said = f", {late} of them late or perhaps late" if late else ""
        what = f"Look at {counted(len(rest), 'further armed set')}{said}: the check sheet has the times."
        by = result.clock.now if late else min(d.due for d in rest)
        yield NextStep(what=what, who="operator" if late else "crew", by=by.date(), urgent=late > 0)


def _groups(result: ReportResult) -> Iterator[NextStep]:
    """Who of the known groups is still out, and what was never counted."""
    day, watch = result.plan.date, dt.timedelta(days=result.plan.report.watch_days)
    last = {g: n.night for n in result.captures.nights for g in n.groups}
    out = [g for g in result.groups.groups if g.state in ("missing", "unsettled")]
    for group in sorted(out, key=lambda g: -(g.missing or 0))[:MOST_NAMED]:
        yield _group(group, last.get(group.group), day, watch)
    if len(out) > MOST_NAMED:
        what = f"Go on with {counted(len(out) - MOST_NAMED, 'further group')} not taken whole: see the list of groups."
        yield NextStep(what=what, who="operator", by=day + WEEK)
    if result.quality.groups_unknown:
        what = (
            f"Count {counted(result.quality.groups_unknown, 'group')} that nobody has counted, on two nights running."
        )
        yield NextStep(what=what, who="operator", by=day + WEEK)
    seen = result.camera_groups
    if seen:
        names = ", ".join(name for name, _, _ in seen[:MOST_NAMED])
        what = f"Say which group of the log cameras saw at {names}, so that nobody is counted twice or left out."
        yield NextStep(what=what, who="operator", by=day + WEEK)
    whole = [g for g in result.groups.groups if g.state == "complete" and g.group in last]
    watched = max((last[g.group] + watch for g in whole), default=day)
    if whole and watched > day:
        what = f"Keep a camera and light bait until {watched} where groups were taken whole: strangers and stragglers."
        yield NextStep(what=what, who="operator", by=watched)


def _group(group: GroupTaken, last: dt.date | None, day: dt.date, watch: dt.timedelta) -> NextStep:
    if group.state == "unsettled":
        what = f"Settle {group.group} from the photographs: count and catch disagree, so others may be left."
        return NextStep(what=what, who="operator", by=day + WEEK)
    if last is not None:
        until = max(last + watch, day + WEEK)
        who = ", ".join(f"{n} {c}" for c, n in group.missing_by_class.items())
        what = f"Keep camera and light bait for the {group.missing} still out of {group.group}"
        return NextStep(what=f"{what} ({who})." if who else f"{what}.", who="operator", by=until)
    what = f"{group.group}: hold until all {group.known} feed inside on two nights running; move the set after a week"
    return NextStep(what=f"{what} without a visit.", who="operator", by=day + WEEK)


def _sets(result: ReportResult) -> Iterator[NextStep]:
    """Sets that stand open or baited, and those without a place."""
    day = result.plan.date
    for state, words in (("open", "arm or take down"), ("prebait", "go on baiting, hang the net or give up")):
        standing = [s.site for s in result.sets if s.state.startswith(f"{state} since")]
        if standing:
            names = ", ".join(standing[:MOST_NAMED]) + (" and others" if len(standing) > MOST_NAMED else "")
            one = len(standing) == 1
            kind = ("stands open" if one else "stand open") if state == "open" else "is baited" if one else "are baited"
            yield NextStep(what=f"{names} {kind}: decide to {words}.", who="operator", by=day + WEEK)
    if result.quality.unplaced:
        what = (
            f"Write the place of {counted(result.quality.unplaced, 'armed set')} in the log: that land is missing here."
        )
        yield NextStep(what=what, who="crew", by=day + FEW_DAYS)
    if not result.sets:
        what = "Write the first row of the log (date, site, event) on the evening that bait goes out."
        yield NextStep(what=what, who="crew", by=day + WEEK)


def _records(result: ReportResult) -> Iterator[NextStep]:
    """Rows to be mended, looks that nobody wrote down, other animals and injuries."""
    day, held = result.plan.date, result.quality
    if held.listed:
        aside = f"; {held.aside} of them not counted until then" if held.aside else ""
        what = f"Mend what is listed of {counted(held.listed, 'row')} of the log{aside}."
        yield NextStep(what=what, who="crew", by=day + FEW_DAYS)
    if held.unchecked:
        what = f"Say what happened on {counted(held.unchecked, 'armed night')} without a look in the log."
        yield NextStep(what=what, who="operator", by=day + FEW_DAYS)
    if result.captures.nontargets:
        what = "Report other animals that were caught where the law or the permit asks for it."
        yield NextStep(what=what, who="operator", by=day + FEW_DAYS)


def _rules(result: ReportResult) -> Iterator[NextStep]:
    """What the supervisor must say."""
    rule, day = result.plan.checks, result.plan.date
    if result.clock.armed_nights and rule.method is None:
        what = "Say whether the sets count as operator-fired or self-acting, and which rule for checks holds."
        yield NextStep(what=what, who="supervisor", by=day + WEEK)
    if rule.is_stale(day):
        what = f"Look up the rule for checks again: it was last looked up on {rule.checked}."
        yield NextStep(what=what, who="supervisor", by=day + WEEK)


def _damage(result: ReportResult) -> Iterator[NextStep]:
    """The next survey of damage."""
    change, last = result.damage.change, result.damage.days[1]
    if isinstance(change, DamageChange):
        by = last[1] + YEAR if last else None
        what = "Walk the same transects again in the same season, with the same observer."
        yield NextStep(what=what, who="operator", by=by)
    elif isinstance(change, NoComparison):
        what = "Walk the very transects of the first survey, so that damage before and after can be compared."
        yield NextStep(what=what, who="operator", by=result.plan.date + WEEK)
    else:
        what = "Choose transects across the damage and walk them, so that there is a before and an after."
        yield NextStep(what=what, who="landowner", by=result.plan.date + WEEK)
