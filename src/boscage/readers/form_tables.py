"""Tables of filled-in forms, each row under the names of the form's questions, whatever server they come from.

Two layouts are read, by content and whatever the files are called. In one, groups and fields are joined by a hyphen, a
repeat has a table of its own, and PARENT_KEY there names the KEY of a submission; in the other they are joined by a
slash, and _parent_index names the _index of a row.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boscage.model.form_questions import FORMS, make_form
from boscage.model.forms import SITES
from boscage.model.ledger import ANIMAL_CLASSES
from boscage.readers.columns import plain
from boscage.readers.form_files import BOOKS, Grid, book_heads, fault, first_line, holds_tables, read_grids, split_line
from boscage.readers.log_columns import COLUMNS, NEEDED
from boscage.readers.protocol import Request
from boscage.readers.table import SUFFIXES

IDS = ("KEY", "instanceID", "_uuid", "_id", "_index")
PARENTS = {"PARENT_KEY": "KEY", "_submission__uuid": "_uuid", "_submission__id": "_id", "_parent_index": "_index"}
"""Column of a repeat's table that names its submission, and the column there that it names."""
META = (*IDS, *PARENTS, "SubmissionDate", "_submission_time", "ReviewState", "_validation_status", "Status")
KINDS: Mapping[str, tuple[str, ...]] = {
    "animals": ("class", "injury", "fate"), "nontargets": ("species", "other_fate"), "capture": ("night",),
    "check": ("arrived",), "visit": ("date", "state"),
}  # fmt: skip
"""Questions that tell a table by; those of the three forms need a site too."""
REPEATS = ("animals", "nontargets")
_JOINT = re.compile(r"[-/.:]")
_PLACE = re.compile(r"(?:^|[-/.:])_?place[-/.:_](latitude|longitude)$", re.IGNORECASE)
_OTHER_MARKS = re.compile(r"[|^~]|\s{2,}")


@dataclass(frozen=True, kw_only=True)
class FormTable:
    """One table.

    Attributes:
        name: Of its file or sheet, as people see it.
        home: Of the export that it belongs to.
        kind: One of `KINDS`.
        rows: Number in the table, counted from 1, and answers by question; those without an answer are left out.
        columns: Ours that the table has.
    """

    name: str
    home: str
    kind: str
    rows: tuple[tuple[int, Mapping[str, str]], ...]
    columns: frozenset[str]


def is_form_export(request: Request) -> bool:
    """Whether a path holds filled-in forms, judged by its content: a table, a workbook, a zip or a folder.

    Every folder is taken for one, save a geodatabase, and so is every zip with a table or a workbook inside.

    Raises:
        LayerError: The file is named as a zip or a workbook and is none.
    """
    path, suffix = request.path, request.path.suffix.lower()
    if path.is_dir():
        return suffix != ".gdb"
    if suffix == ".zip":
        return holds_tables(request)
    if suffix in BOOKS:
        return any(_kind(head) for head in book_heads(request))
    if suffix not in SUFFIXES:
        return False
    line = first_line(request)
    return bool(_kind(split_line(line, _known)[0])) or _is_separated_otherwise(line)


def find_tables(request: Request) -> tuple[list[FormTable], list[str]]:
    """Every table of the forms at a path, and the names of other tables there.

    Raises:
        LayerError: Nothing at the path is a table of the forms, a table cannot be read or lacks a column without which
            its rows cannot be told apart, or a log lies beside the tables.
    """
    tables, others = [], []
    for grid in read_grids(request, _known):
        kind = _kind(grid.head)
        if kind is None:
            _refuse(request, grid)
            others.append(grid.name)
        else:
            tables.append(_table(request, grid, kind))
    if not tables:
        seen = f" (there are {', '.join(others)})" if others else ""
        raise request.error(
            f"there is no table of the forms{seen}", expected="an export of site visits, checks or captures",
            mend="export the forms again, with the names of the questions as column names",
        )  # fmt: skip
    return tables, others


def _table(request: Request, grid: Grid, kind: str) -> FormTable:
    columns, rows = _names(grid.head), []
    for number, cells in grid.rows:
        if any(cells[len(grid.head) :]):
            raise fault(
                request, grid.name,
                f"the row has {len(cells)} cells and the first line names {len(grid.head)} columns",
                mend="export the table again", row=number,
            )  # fmt: skip
        answers = {n: _word(n, cells[i]) for n, i in columns.items() if i < len(cells) and cells[i]}
        rows.append((number, answers))
    return FormTable(name=grid.name, home=grid.home, kind=kind, rows=tuple(rows), columns=frozenset(columns))


def _refuse(request: Request, grid: Grid) -> None:
    """Let a table be that is none of the forms, unless it looks like one that is damaged, or is a log.

    Raises:
        LayerError: It is one of these.
    """
    if len(grid.head) == 1 and _is_separated_otherwise(grid.head[0]):
        raise fault(
            request, grid.name, "the first line is a single column",
            expected="columns separated by commas, semicolons or tabs", mend="export the table again",
        )  # fmt: skip
    if _is_log(grid.head):
        raise fault(
            request, grid.name, "this is a log, and none of the forms",
            mend="keep it apart from them, and name one of the two as the log of the plan",
        )  # fmt: skip
    kind = _kind(grid.head, keyed=False)
    if kind is not None:
        raise fault(
            request, grid.name, f"the rows of this table ({kind}) cannot be told apart",
            expected=f"a column {' or '.join(PARENTS if kind in REPEATS else IDS)}",
            mend="export it again with all columns",
        )  # fmt: skip


def _is_log(head: Sequence[str]) -> bool:
    return set(NEEDED) <= {_LOG_WORDS.get(plain(c)) for c in head}


def _kind(head: Sequence[str], *, keyed: bool = True) -> str | None:
    """Which table has these columns, or None; `keyed` asks for one that tells its rows apart."""
    has = set(_names(head))
    if _is_log(head):
        return None
    for kind, needed in KINDS.items():
        keys = PARENTS if kind in REPEATS else IDS
        if not set(needed) <= has or (keyed and not has & set(keys)):
            continue
        if kind in REPEATS or has & {"site", "site_name"}:
            return kind
    return None


def _known(head: Sequence[str]) -> int:
    return len(_names(head))


def _names(head: Sequence[str]) -> dict[str, int]:
    """Our names of columns, each with its position: the first column that bears it."""
    out: dict[str, int] = {}
    for i, column in enumerate(head):
        name = _name(column)
        if name is not None:
            out.setdefault(name, i)
    return out


def _name(column: str) -> str | None:
    """The question or key that a column holds, by its whole name or by what follows its groups."""
    place = _PLACE.search(column)
    if place is not None:
        return f"place_{place.group(1).lower()}"
    starts = [0, *(m.end() for m in _JOINT.finditer(column))]
    for text in (column[s:].strip() for s in starts):
        name = _WORDS.get(text.lower()) or _LABELS.get(plain(text))
        if name is not None:
            return name
    return None


def _word(name: str, text: str) -> str:
    """An answer; a choice's label becomes its name."""
    return _CHOICES.get(name, {}).get(plain(text), text)


def _vocabulary() -> tuple[dict[str, str], dict[str, str], dict[str, dict[str, str]]]:
    """Names of columns in small letters, labels of questions, and the words of choices, each with our name."""
    words = {w.lower(): w for w in (*META, *ANIMAL_CLASSES)}
    labels: dict[str, str] = {}
    choices: dict[str, dict[str, str]] = {}
    for form in (make_form(name, units) for units in ("us", "metric") for name in FORMS):
        for question in form.questions:
            words[question.name] = question.name
            if question.label and question.type != "note":
                labels.setdefault(plain(question.label), question.name)
            if question.choices and question.type == "select_one" and question.choices != SITES:
                known = choices.setdefault(question.name, {})
                for choice in form.lists[question.choices]:
                    known |= {plain(choice.label): choice.name, plain(choice.name): choice.name}
    return words, labels, choices


_WORDS, _LABELS, _CHOICES = _vocabulary()
_LOG_WORDS = {plain(w): n for n, also in COLUMNS.items() for w in (n, *also)}


def _is_separated_otherwise(line: str) -> bool:
    """Whether a first line that is one column would be a table of the forms with another mark between the columns."""
    cells = [c.strip() for c in _OTHER_MARKS.split(line)]
    return len(split_line(line, _known)[0]) == 1 and _kind(cells) is not None
