"""Field forms as XLSForm workbooks, the same bytes for the same form, sites and date."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from boscage.errors import InputError
from boscage.model.forms import MOST_REVISIONS, SITES, Form, Question, Repeat, site_choices

if TYPE_CHECKING:
    from openpyxl.worksheet.worksheet import Worksheet

SURVEY = (
    "type", "name", "label", "hint", "required", "relevant", "constraint", "constraint_message", "calculation",
    "default", "parameters", "appearance",
)  # fmt: skip
CHOICES = ("list_name", "name", "label")
LONG_LIST = 12
"""Lists of more sites than this are shown as a field to choose from, not as a page of buttons."""
_ZIP_DATE = (1980, 1, 1, 0, 0, 0)
_STAMP = re.compile(rb"(<dcterms:(created|modified)[^>]*>)[^<]*(</dcterms:\2>)")


def write_form(
    target: Path, form: Form, sites: Sequence[str], *, date: dt.date, ranch: str = "", revision: int = 0
) -> None:
    """Write a form with the sheets survey, choices and settings of XLSForm.

    Args:
        target: An .xlsx file.
        form: From `make_form`.
        sites: Names of the plan's sites, each once, in the order listed.
        date: The plan's date; the form's version is its eight digits and two of the revision.
        ranch: Name of the ranch for the form's title, or ''.
        revision: 0 to 99; a form that changes within one date needs the next, since a server takes a version once.

    Raises:
        InputError: A site's name cannot be shown or stands twice, or the revision is out of range.
    """
    from openpyxl import Workbook

    if not 0 <= revision <= MOST_REVISIONS:
        raise InputError(f"the revision is {revision}", expected=f"0 to {MOST_REVISIONS}", field="revision")
    choices = {**form.lists, SITES: site_choices(sites)}
    book = Workbook()
    _fill(book.active, "survey", SURVEY, _survey(form, many=len(sites) > LONG_LIST))
    rows = ((name, choice.name, choice.label) for name, listed in choices.items() for choice in listed)
    _fill(book.create_sheet(), "choices", CHOICES, rows)
    title = f"{form.title}, {' '.join(ranch.split())}" if ranch.strip() else form.title
    settings = {
        "form_title": title, "form_id": form.form_id, "version": f"{date:%Y%m%d}{revision:02d}",
        "instance_name": form.shown_as, "clean_text_values": "no",
    }  # fmt: skip
    _fill(book.create_sheet(), "settings", tuple(settings), [tuple(settings.values())])
    book.properties.creator = book.properties.title = title
    held = io.BytesIO()
    book.save(held)
    target.write_bytes(_steady(held.getvalue(), date))


def _fill(sheet: Worksheet, title: str, head: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Text in every cell, so that no spreadsheet program takes a name for a number or a formula."""
    sheet.title = title
    for number, row in enumerate((head, *rows), start=1):
        for column, text in enumerate(row, start=1):
            if text:
                cell = sheet.cell(number, column)
                cell.value, cell.data_type, cell.number_format = str(text), "s", "@"


def _survey(form: Form, *, many: bool) -> list[tuple[str, ...]]:
    rows: list[tuple[str, ...]] = []
    for item in form.items:
        if isinstance(item, Repeat):
            rows.append(_row(type="begin repeat", name=item.name, label=item.label, relevant=item.relevant))
            rows += [_asked(q, many=many) for q in item.questions]
            rows.append(_row(type="end repeat", name=item.name))
        else:
            rows.append(_asked(item, many=many))
    return rows


def _asked(question: Question, *, many: bool) -> tuple[str, ...]:
    q = question
    shown = "minimal" if q.choices == SITES and many else q.appearance
    return _row(
        type=f"{q.type} {q.choices}" if q.choices else q.type, name=q.name, label=q.label, hint=q.hint,
        required="yes" if q.required else "", relevant=q.relevant, constraint=q.constraint,
        constraint_message=q.message, calculation=q.calculation, default=q.default, parameters=q.parameters,
        appearance=shown,
    )  # fmt: skip


def _row(**cells: str) -> tuple[str, ...]:
    return tuple(cells.get(name, "") for name in SURVEY)


def _steady(data: bytes, date: dt.date) -> bytes:
    """The same workbook with the plan's date for the day it was made, and no clock time anywhere."""
    stamp = f"{date:%Y-%m-%d}T00:00:00Z".encode()
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(data)) as old, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as new:
        for name in old.namelist():
            content = old.read(name)
            if name == "docProps/core.xml":
                content = _STAMP.sub(rb"\g<1>" + stamp + rb"\g<3>", content)
            entry = zipfile.ZipInfo(name, _ZIP_DATE)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o600 << 16
            entry.create_system = 3
            new.writestr(entry, content)
    return out.getvalue()
