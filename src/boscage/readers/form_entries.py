"""Rows of the forms' tables brought together: animals under their capture, what is there twice or refused set aside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field

from boscage.model.ledger import ANIMAL_CLASSES
from boscage.readers.form_answers import Answers, number_of
from boscage.readers.form_tables import IDS, PARENTS, REPEATS, FormTable
from boscage.readers.form_times import read_iso
from boscage.readers.log_rows import ASIDE
from boscage.readers.protocol import Request

REFUSED = frozenset({"rejected", "not approved", "validation_status_not_approved"})
LAST = dt.date(9999, 12, 31)
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)


@dataclass(kw_only=True)
class Entry:
    """One row of a table on its way into the log.

    Attributes:
        table: Where it stands.
        number: Of the row there.
        answers: What it says.
        animals: Rows of its animals, for a capture.
        others: Rows of its animals of other species.
        cells: What it becomes in the log; None for nothing.
        said: Problems: the sentence, whether the row counts, animals set aside with it.
        night: What it is ordered by first.
        begun: What it is ordered by then.
    """

    table: FormTable
    number: int
    answers: Answers
    animals: list[Entry] = field(default_factory=list)
    others: list[Entry] = field(default_factory=list)
    cells: dict[str, str] | None = None
    said: list[tuple[str, bool, int]] = field(default_factory=list)
    night: dt.date = LAST
    begun: dt.datetime = _EPOCH

    @property
    def origin(self) -> str:
        """Table and row, as people see them."""
        return f"{self.table.name}, row {self.number}"

    @property
    def held(self) -> int:
        """Animals that it tells of, those of other species apart."""
        if self.table.kind == "animals":
            return max(1, number_of(self.answers, "count", default=1))
        return sum(a.held for a in self.animals) or number_of(self.answers, *ANIMAL_CLASSES)

    @property
    def identity(self) -> str:
        """What a submission is known by: everywhere, or within its export where it has nothing better."""
        for name in IDS:
            if name in self.answers:
                local = f"{self.table.home} " if name in ("_id", "_index") else ""
                return local + self.answers[name].removeprefix("uuid:")
        return self.origin

    def say(self, text: str) -> None:
        """Something is wrong, and the row counts."""
        self.said.append((text, True, 0))

    def put_aside(self, text: str) -> None:
        """Something is wrong, and the row does not count, nor do its animals."""
        of_it = [f"{self.held} animals"] if self.animals else []
        of_it += [f"{len(self.others)} of other species"] if self.others else []
        with_it = f"; {' and '.join(of_it)} go with it" if of_it else ""
        self.cells = None
        self.said.append((f"{text}{with_it}; {ASIDE}", False, self.held))


def enter(request: Request, tables: Sequence[FormTable]) -> list[Entry]:
    """Every row of every table; what cannot be used has said so.

    Set aside: a submission that is there twice, by its KEY, instanceID or uuid; one that was refused on the server; one
    without a site; an animal that hangs on no capture.

    Raises:
        LayerError: There is a table of animals and none of captures beside it, or the other way round, or two tables of
            animals that cannot be told apart.
    """
    entries = [Entry(table=t, number=n, answers=a, begun=_begun(a)) for t in tables for n, a in t.rows]
    for home in dict.fromkeys(t.home for t in tables):
        _join(request, [t for t in tables if t.home == home], [e for e in entries if e.table.home == home])
    seen: dict[tuple[str, str], Entry] = {}
    for entry in entries:
        if entry.table.kind in REPEATS:
            continue
        first = seen.setdefault((entry.table.kind, entry.identity), entry)
        if first is not entry:
            other = "" if dict(first.answers) == dict(entry.answers) else ", with other answers"
            entry.put_aside(f"the same submission as {first.origin}{other}; take the older export out")
        elif not {"site", "site_name"} & set(entry.answers):
            state = entry.answers.get("Status", "")
            entry.put_aside(f"the submission holds no site{f' ({state})' if state else ''}; export it in full")
        else:
            _refused(entry)
    return entries


def _refused(entry: Entry) -> None:
    for name in ("ReviewState", "_validation_status"):
        word = entry.answers.get(name, "")
        if word.lower() in REFUSED:
            entry.put_aside(f"the submission was refused on the server ({name} is {word}); approve it there if so")
            return


def _join(request: Request, tables: Sequence[FormTable], entries: Sequence[Entry]) -> None:
    """Hang the rows of one export's repeats on its captures; those that hang on none are set aside."""
    kinds = {t.kind for t in tables}
    captures = [e for e in entries if e.table.kind == "capture"]
    for kind in REPEATS:
        own = [t for t in tables if t.kind == kind]
        if own and "capture" not in kinds:
            raise request.error(
                f"{own[0].name} holds the animals of captures, and no table of captures is beside it",
                expected="all tables of the capture form", mend="name the folder or the zip that holds them",
            )  # fmt: skip
        if len(own) > 1 and not all("KEY" in t.columns for t in own):
            raise request.error(
                f"{own[0].name} and {own[1].name} lie in one place, and their rows cannot be told apart",
                expected="each export in a folder of its own", mend="take the older one out",
            )  # fmt: skip
        _hang([e for e in entries if e.table.kind == kind], captures)
    lacking = next((e for e in captures if not e.held and e.answers.get("nontarget") != "yes"), None)
    if lacking is not None and "animals" not in kinds:
        raise request.error(
            f"{lacking.table.name} holds captures, and no table of their animals is beside it",
            expected="the table of the repeat animals too", mend="name the folder, the zip or the workbook with all",
        )  # fmt: skip


def _hang(rows: Sequence[Entry], captures: Sequence[Entry]) -> None:
    by_key: dict[tuple[str, str], list[Entry]] = {}
    for entry in captures:
        for name in set(PARENTS.values()) & set(entry.answers):
            by_key.setdefault((name, entry.answers[name]), []).append(entry)
    seen: dict[str, Entry] = {}
    for row in rows:
        child = next((n for n in PARENTS if n in row.answers), "")
        parents = by_key.get((PARENTS.get(child, ""), row.answers.get(child, "")), [])
        key = row.answers.get("KEY", "")
        first = seen.setdefault(key, row) if key else row
        said = f"{child} is {row.answers[child]}" if child else f"none of {', '.join(PARENTS)} is filled in"
        if first is not row:
            row.put_aside(f"the same animal as {first.origin} (KEY {key}); take one of the two out")
        elif not parents:
            row.put_aside(f"{said}, and there is no such capture; export all tables together again")
        elif len({p.identity for p in parents}) > 1:
            row.put_aside(f"{said}, which several captures are; keep each export in a folder of its own")
        else:
            (parents[0].animals if row.table.kind == "animals" else parents[0].others).append(row)


def _begun(answers: Answers) -> dt.datetime:
    """When the form was begun, else when it was sent."""
    for name in ("start", "SubmissionDate", "_submission_time"):
        made = read_iso(answers.get(name, ""))
        if made is not None:
            return made if made.tzinfo is not None else made.replace(tzinfo=dt.UTC)
    return _EPOCH
