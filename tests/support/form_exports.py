"""Filled-in forms written as two widespread open servers export them, from answers by question.

What the two write was looked up in their sources: `lib/data/briefcase.js` of getodk/central-backend, and
`src/formpack/reporting/export.py` and `schema/fields.py` of kobotoolbox/formpack. Nothing of the program is used here.
"""

from __future__ import annotations

import csv
import io
import zipfile
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from openpyxl import Workbook

Submission = Mapping[str, Any]
Forms = Mapping[str, Sequence[Submission]]
QUESTIONS: Mapping[str, tuple[str, ...]] = {
    "visit": (
        "start", "end", "date", "site", "site_other", "site_name", "who", "place", "sign", "sign_age", "rain_days",
        "trees_sound", "stake_blows", "stake_depth_in", "state", "bait_out_lb", "bait_left_lb", "hours", "photo",
        "note",
    ),
    "check": (
        "start", "end", "site", "site_other", "site_name", "arrived", "found", "inside", "next_due", "staffed", "hours",
        "note",
    ),
    "capture": (
        "start", "end", "site", "site_other", "site_name", "night", "group", "known", "closed", "approached",
        "finished", "observers", "hours", "nontarget", "photo", "note",
    ),
    "animals": ("class", "count", "sex", "weight_lb", "weighed", "marks", "injury", "fate", "samples"),
    "nontargets": ("species", "other_fate"),
}  # fmt: skip
REPEATS = ("animals", "nontargets")
ROLES = ("operator", "crew", "pilot", "landowner", "supervisor", "other")
AFTER = (
    "SubmitterID", "SubmitterName", "AttachmentsPresent", "AttachmentsExpected", "Status", "ReviewState", "DeviceID",
    "Edits", "FormVersion",
)  # fmt: skip
PARTS = ("latitude", "longitude", "altitude", "precision")
Table = list[list[Any]]


def central_tables(forms: Forms, *, groups: bool = False) -> dict[str, Table]:
    """File name and rows of every table; the newest submission comes first, as that server has it."""
    out: dict[str, Table] = {}
    for form, sent in forms.items():
        newest = sorted(sent, key=lambda s: s.get("start", ""), reverse=True)
        out[f"boscage_{form}.csv"] = _central_main(form, newest, groups=groups)
        for repeat in REPEATS if form == "capture" else ():
            pre = f"{repeat}_facts-" if groups else ""
            table: Table = [[*(f"{pre}{q}" for q in QUESTIONS[repeat]), "PARENT_KEY", "KEY"]]
            for one in newest:
                for i, a in enumerate(one.get(repeat, ()), start=1):
                    key = f"{one['KEY']}/{repeat}[{i}]"
                    table.append([*(a.get(q, "") for q in QUESTIONS[repeat]), one["KEY"], key])
            out[f"boscage_{form}-{repeat}.csv"] = table
    return out


def _central_main(form: str, sent: Sequence[Submission], *, groups: bool) -> Table:
    pre = "event-" if groups else ""
    head = ["SubmissionDate"]
    for q in QUESTIONS[form]:
        parts = ("Latitude", "Longitude", "Altitude", "Accuracy") if q == "place" else ("",)
        head += [f"{'' if q in ('start', 'end') else pre}{q}{'-' if p else ''}{p}" for p in parts]
    table: Table = [[*head, "meta-instanceID", "meta-instanceName", "KEY", *AFTER]]
    for a in sent:
        row = ["2026-11-20T12:00:00.000Z"]
        for q in QUESTIONS[form]:
            row += [*a.get(q, "").split(), "", "", "", ""][:4] if q == "place" else [str(a.get(q, ""))]
        after = [str(a.get(n, "")) for n in AFTER]
        table.append([*row, a["KEY"], "some name", a["KEY"], *after])
    return table


def kobo_tables(forms: Forms, *, groups: bool = False, labels: Mapping[str, str] | None = None) -> dict[str, Table]:
    """Sheet name and rows of every table; a repeat has one only if something is in it."""
    out: dict[str, Table] = {}
    told = labels or {}
    for form, sent in forms.items():
        main: Table = [_kobo_head(form, groups=groups, labels=told)]
        index = dict.fromkeys(REPEATS, 0)
        for number, a in enumerate(sent, start=1):
            ident = [str(9000 + number), a["KEY"].removeprefix("uuid:"), "2026-11-20T12:00:00"]
            main.append([*_kobo_cells(form, a), *ident, a.get("_validation_status", ""), "", "submitted", number])
            for repeat in REPEATS:
                for each in a.get(repeat, ()):
                    index[repeat] += 1
                    pre = f"{repeat}/" if groups else ""
                    head = [told.get(q, f"{pre}{q}") for q in QUESTIONS[repeat]]
                    head += ["_index", "_parent_table_name", "_parent_index", "_submission__id", "_submission__uuid"]
                    cells = [each.get(q, "") for q in QUESTIONS[repeat]]
                    rows = out.setdefault(f"{form}/{repeat}", [head])
                    rows.append([*cells, index[repeat], f"boscage_{form}", number, *ident[:2]])
        out[form] = main
    return out


def _kobo_head(form: str, *, groups: bool, labels: Mapping[str, str]) -> list[str]:
    head = []
    for q in QUESTIONS[form]:
        pre = "event/" if groups and q not in ("start", "end") else ""
        head.append(labels.get(q, f"{pre}{q}"))
        if q == "place":
            head += [f"{pre}_{labels.get(q, q)}_{p}" for p in PARTS]
        if q in ("who", "observers"):
            head += [f"{labels.get(q, pre + q)}/{r}" for r in ROLES]
    return [*head, "_id", "_uuid", "_submission_time", "_validation_status", "_notes", "_status", "_index"]


def _kobo_cells(form: str, a: Submission) -> list[Any]:
    cells: list[Any] = []
    for q in QUESTIONS[form]:
        cells.append(a.get(q, ""))
        if q == "place":
            cells += [*a.get(q, "").split(), "", "", "", ""][:4]
        if q in ("who", "observers"):
            cells += ["1" if r in a.get(q, "").split() else "0" for r in ROLES]
    return cells


def csv_bytes(table: Table, *, delimiter: str = ",", mark: bool = False, quote: int = csv.QUOTE_MINIMAL) -> bytes:
    """A table as CSV in UTF-8, with a mark of byte order if asked."""
    held = io.StringIO()
    csv.writer(held, delimiter=delimiter, lineterminator="\r\n", quoting=quote).writerows(table)  # type: ignore[arg-type]
    return (b"\xef\xbb\xbf" if mark else b"") + held.getvalue().encode("utf-8")


def write_folder(folder: Path, tables: Mapping[str, bytes]) -> Path:
    """Files in a folder."""
    for name, data in tables.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def write_zip(path: Path, tables: Mapping[str, bytes]) -> Path:
    """Files in a zip."""
    with zipfile.ZipFile(path, "w") as pack:
        for name, data in tables.items():
            pack.writestr(name, data)
    return path


def write_book(path: Path, sheets: Mapping[str, Table]) -> Path:
    """Tables as the sheets of a workbook."""
    book = Workbook()
    book.remove(book.active)
    for name, table in sheets.items():
        sheet = book.create_sheet(name.replace("/", "_"))
        for row in table:
            sheet.append(row)
    book.save(path)
    return path
