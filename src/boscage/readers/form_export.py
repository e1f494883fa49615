"""Filled-in forms as the rows of a log.

A visit becomes a row with the state that the set was left in, dated by the visit; a check a row of its arrival; a
capture a row an animal, and one for each animal of another species. A night has the date of its evening: what happened
before noon belongs to the evening before. The rows come in the order of their nights, within one by the time that the
form was begun.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from boscage.model.forms import OTHER, site_codes
from boscage.model.ledger import ANIMAL_CLASSES, CHANGES, LogProblem, night_of
from boscage.readers.columns import listed, read_day
from boscage.readers.form_answers import (
    Answers,
    animal_note,
    check_note,
    coordinates,
    day_text,
    roles,
    visit_note,
)
from boscage.readers.form_entries import Entry, enter
from boscage.readers.form_tables import FormTable, find_tables
from boscage.readers.form_times import Clock
from boscage.readers.log_columns import COLUMNS, Cells
from boscage.readers.protocol import Request

DAY = dt.timedelta(days=1)
TIMES = ("closed", "approached", "finished")
SPENT: Mapping[str, str] = {"hours": "hours", "bait_out_lb": "lb of bait", "bait_out_kg": "kg of bait"}


def read_form_export(request: Request, *, clock: Clock, sites: Sequence[str] = ()) -> Cells:
    """The cells of a log from filled-in forms, with every row that could not become one among the problems.

    Args:
        request: A table, a workbook, a zip or a folder of them.
        clock: Turns times into the ranch's own.
        sites: Names of the plan's sites, in the order that the forms were written with; a site that is none of them is
            listed.

    Raises:
        LayerError: A table cannot be read, or one without which the others mean nothing is not there.
    """
    tables, unread = find_tables(request)
    codes = dict(zip(site_codes(sites), sites, strict=True)) | {" ".join(s.split()).casefold(): s for s in sites}
    work = _Work(clock=clock, sites=codes, entries=enter(request, tables))
    for entry in [e for e in work.entries if not e.said]:
        if entry.table.kind == "visit":
            work.visit(entry)
        elif entry.table.kind == "check":
            work.check(entry)
        elif entry.table.kind == "capture":
            work.capture(entry)
    work.compare()
    return _cells(work, tables, unread)


@dataclass(kw_only=True)
class _Work:
    """What has been found so far; `sites` gives the plan's sites by their codes and by their names in small letters."""

    clock: Clock
    sites: Mapping[str, str]
    entries: Sequence[Entry]
    caught: set[tuple[str, dt.date]] = field(default_factory=set)
    strange: set[str] = field(default_factory=set)
    coded: set[str] = field(default_factory=set)
    setless: list[str] = field(default_factory=list)

    def site(self, entry: Entry) -> str:
        """Name of the site; '' where it cannot be told, and the row is set aside then."""
        raw, name = entry.answers.get("site", ""), entry.answers.get("site_name", "")
        if name:
            self._compare_site(entry, name, raw)
        elif raw == OTHER:
            name = entry.answers.get("site_other", "")
            if not name:
                entry.put_aside("the place is on no list and has no name; write its name in site_other")
        elif self.sites:
            name = self.sites.get(raw) or self.sites.get(raw.casefold(), "")
            if not name:
                said = f"the site is {raw!r}, which is none of the sites of the plan"
                entry.put_aside(f"{said}; correct it, or write its name in site_name")
        else:
            name = raw
            self.coded.add(raw)
        return name

    def _compare_site(self, entry: Entry, name: str, raw: str) -> None:
        """List a site once that the plan does not know, unless it was entered as being on no list."""
        word = " ".join(name.split()).casefold()
        if not self.sites or raw == OTHER or word in self.sites or word in self.strange:
            return
        self.strange.add(word)
        entry.say(f"the site is {name}, which is none of the sites of the plan; correct it unless it was one before.")

    def visit(self, entry: Entry) -> None:
        """The state that the set was left in."""
        a = entry.answers
        site = self.site(entry)
        if not site:
            return
        day = day_text(a.get("date", ""))
        found = read_day(day)
        entry.night = found if isinstance(found, dt.date) else entry.night
        if a.get("state") not in CHANGES:
            self._without_state(entry)
            return
        lon, lat = coordinates(a)
        entry.cells = _filled(
            date=day, site=site, event=a["state"], hours=a.get("hours", ""), person=roles(a.get("who", "")),
            bait_lb=a.get("bait_out_lb", ""), bait_kg=a.get("bait_out_kg", ""), note=visit_note(a), lon=lon, lat=lat,
        )  # fmt: skip

    def _without_state(self, entry: Entry) -> None:
        a = entry.answers
        if a.get("state") != "none":
            entry.put_aside(f"the state is {a.get('state', '')!r}; expected one of {', '.join(CHANGES)}, none")
            return
        self.setless.append(entry.origin)
        spent = [f"{a[n]} {w}" for n, w in SPENT.items() if n in a]
        if spent:
            said = f"{', '.join(spent)} at a place without a set, which a log has no row for"
            entry.put_aside(f"{said}; add them to a row of a set if they belong to one")

    def check(self, entry: Entry) -> None:
        """A look at the set at the time of arrival."""
        a = entry.answers
        site = self.site(entry)
        if not site:
            return
        moment = self.clock.read(a.get("arrived", ""))
        if moment is None or moment.doubt:
            wrong = moment.doubt if moment else "expected a date and a time such as 2026-11-12T06:30"
            entry.put_aside(f"arrived is {a.get('arrived', '')!r}; {wrong}; correct it, or the device's time zone")
            return
        entry.night = night_of(moment.local)
        entry.cells = _filled(
            date=entry.night.isoformat(), time=f"{moment.local:%H:%M}", site=site, event="check",
            hours=a.get("hours", ""), note=check_note(a, self.clock),
        )  # fmt: skip

    def capture(self, entry: Entry) -> None:
        """A row an animal; the hours of the capture stand in one of them alone, with 0 in the others."""
        site = self.site(entry)
        if not site or not self._night(entry):
            return
        a = entry.answers
        self.caught.add((site.casefold(), entry.night))
        common = _filled(
            date=entry.night.isoformat(), site=site, group=a.get("group", ""), known=a.get("known", ""),
            person=roles(a.get("observers", "")), **self._times(entry),
        )  # fmt: skip
        for row in entry.animals:
            row.cells = {**common, "event": "capture", **_animal(row.answers)}
        for row in entry.others:
            more = _filled(species=row.answers.get("species", ""), fate=row.answers.get("other_fate", ""))
            row.cells = {**common, "event": "nontarget", **more}
        own = _own_cells(entry)
        entry.cells = {**common, **own} if own else None
        rows = [*entry.animals, *entry.others, *([entry] if own else [])]
        if rows:
            _spread(entry, rows)
        else:
            entry.put_aside("the capture holds no animal; add the animals, or make it a check if the net held none")

    def _night(self, entry: Entry) -> bool:
        """Set the night of a capture, from the time that the net came down where that is written."""
        text = entry.answers.get("night", "")
        given = read_day(day_text(text))
        closed = self.clock.read(entry.answers.get("closed", ""))
        if closed is not None and not closed.doubt:
            entry.night = night_of(closed.local)
            if isinstance(given, dt.date) and given != entry.night:
                entry.say(
                    f"the night is {given}, and the net came down on {closed.local:%Y-%m-%d at %H:%M}, in the night of "
                    f"{entry.night}, since a night runs from noon of its date to the next noon; taken as "
                    f"{entry.night}; correct one of the two."
                )
        elif isinstance(given, dt.date):
            entry.night = given
        else:
            entry.put_aside(f"the night is {text!r}; expected its evening date, such as 2026-11-11")
            return False
        return True

    def _times(self, entry: Entry) -> dict[str, str]:
        """Clock times of a capture; one that is none or out of order is listed and left out."""
        moments: dict[str, dt.datetime] = {}
        for name in TIMES:
            text = entry.answers.get(name, "")
            moment = self.clock.read(text)
            if moment is not None and not moment.doubt:
                moments[name] = moment.local
            elif text:
                wrong = moment.doubt if moment else "expected a date and a time such as 2026-11-11T22:40"
                entry.say(f"{name} is {text!r}; {wrong}; taken as not written down; correct it.")
        left_out = set()
        for before, after in pairwise(list(moments)):
            if not dt.timedelta(0) <= moments[after] - moments[before] < DAY:
                entry.say(
                    f"{after} is {moments[after]:%Y-%m-%d %H:%M} and {before} is {moments[before]:%Y-%m-%d %H:%M}; "
                    f"expected it later, and within a day; {after} is taken as not written down; correct it."
                )
                left_out.add(after)
                moments[after] = moments[before]
        return {n: f"{m:%H:%M}" for n, m in moments.items() if n not in left_out}

    def compare(self) -> None:
        """List checks that found animals where no capture of that set and night is told of."""
        for entry in self.entries:
            cells = entry.cells
            if entry.table.kind != "check" or cells is None or entry.answers.get("inside") != "yes":
                continue
            if (cells["site"].casefold(), entry.night) not in self.caught:
                where = f"{cells['site']} on the night of {entry.night}"
                entry.say(f"animals were in the set, and there is no capture at {where}; fill in the capture form.")


def _own_cells(entry: Entry) -> dict[str, str]:
    """What a capture says itself beyond its animals: counts by class, or another species that nobody described."""
    a = entry.answers
    counts = {c: a[c] for c in ANIMAL_CLASSES if a.get(c, "0") != "0"}
    if counts and entry.animals:
        entry.say("animals are counted by class and one by one; those by class are not used; take one of the two out.")
        counts = {}
    if a.get("nontarget") == "yes" and not entry.others:
        entry.say("another species was in the set, and no table says which; add it.")
        return {"event": "capture", **counts} if counts else {"event": "nontarget"}
    return {"event": "capture", **counts} if counts else {}


def _spread(entry: Entry, rows: Sequence[Entry]) -> None:
    """Put hours and note of the whole capture in its first row that will count."""
    first = next((r for r in rows if r.answers.get("class", "") in ANIMAL_CLASSES), rows[0])
    for row in rows:
        row.night, row.begun = entry.night, entry.begun
        cells = row.cells or {}
        if "hours" in entry.answers:
            cells["hours"] = entry.answers["hours"] if row is first else "0"
        said = [cells.get("note", ""), entry.answers.get("note", "")] if row is first else [cells.get("note", "")]
        row.cells = {**cells, **_filled(note="; ".join(filter(None, said)))}


def _animal(a: Answers) -> dict[str, str]:
    injury = a.get("injury", "")
    return _filled(
        **{"class": a.get("class", "")}, count=a.get("count", ""), sex=a.get("sex", ""), fate=a.get("fate", ""),
        injury="" if injury == "unseen" else injury, animal=a.get("samples", ""), note=animal_note(a),
    )  # fmt: skip


def _filled(**cells: str) -> dict[str, str]:
    return {n: t for n, t in cells.items() if t}


def _cells(work: _Work, tables: Sequence[FormTable], unread: Sequence[str]) -> Cells:
    """Rows numbered through in their order, each with the table and row that it comes from."""
    order = {id(t): i for i, t in enumerate(tables)}
    kept = [e for e in work.entries if e.cells is not None or e.said]
    kept.sort(key=lambda e: (e.night, e.begun, order[id(e.table)], e.number))
    numbered = list(enumerate(kept, start=1))
    rows = [(n, e.cells) for n, e in numbered if e.cells is not None]
    used = {"date", "site", "event", *(c for _, cells in rows for c in cells)}
    names = [n for n in COLUMNS if n in used]
    problems = tuple(
        LogProblem(row=n, text=f"{e.origin}: {text}", counted=counted, animals=animals)
        for n, e in numbered for text, counted, animals in e.said
    )  # fmt: skip
    return Cells(
        rows=[n for n, _ in rows], cells={c: [cells.get(c, "") for _, cells in rows] for c in names},
        theirs={c: c for c in names}, others={"submission": [e.origin for _, e in numbered if e.cells is not None]},
        notes=_notes(work, tables, unread), problems=problems, origins={n: e.origin for n, e in numbered},
    )  # fmt: skip


def _notes(work: _Work, tables: Sequence[FormTable], unread: Sequence[str]) -> tuple[str, ...]:
    notes = [f"{t.name} ({t.kind}): {len(t.rows)} rows" for t in tables]
    if unread:
        notes.append(f"tables of no form, not read: {listed(unread)}")
    if work.setless:
        notes.append(f"visits to places without a set, which are no rows of a log: {listed(work.setless)}")
    if work.coded:
        notes.append(f"sites by the codes of the form, since nothing gives their names: {listed(sorted(work.coded))}")
    return tuple(notes)
