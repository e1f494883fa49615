"""A plan while it is open in the window: its text, edits of it, the journal of those not saved, and who has it open."""

from __future__ import annotations

import datetime as dt
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from boscage.errors import InputError, PlanError
from boscage.exports.desk_lock import PlanLock, take_lock
from boscage.exports.journal import Journal
from boscage.exports.plan_text import edit_text, write_plan_text
from boscage.model.journal import OpenElsewhere
from boscage.model.plan import Plan, plan_from_table
from boscage.model.plan_edits import Edit, PlanText, digest, edit_of
from boscage.readers.plan_edit import read_plan_text


def open_plan(path: str | Path) -> PlanText:
    """The text of a plan file that is in order.

    Raises:
        PlanError: There is no such file, it cannot be read, its TOML is broken, or a key is wrong.
    """
    held = read_plan_text(path)
    plan_of(held, factors=False)
    return held


def plan_of(held: PlanText, *, factors: bool = True, today: dt.date | None = None) -> Plan:
    """The plan that a text stands for, checked as `read_plan` checks a file.

    Args:
        held: The text.
        factors: Whether the factors' own tables are checked too, for which every factor is loaded.
        today: The day that ages are counted from where the plan states none; by default the present day.

    Raises:
        PlanError: The TOML is broken, or a key is wrong.
    """
    try:
        table = tomllib.loads(held.text)
    except tomllib.TOMLDecodeError as error:
        raise PlanError(f"the text is not valid TOML ({str(error).rstrip('.')})", file=held.file) from None
    folder = str(Path(held.file).expanduser().parent)
    plan = plan_from_table(table, file=held.file, folder=folder, today=today or dt.date.today())
    if factors:
        from boscage.plugins import load_factors

        load_factors(plan)
    return plan


def change_plan(held: PlanText, edits: Sequence[Edit], *, factors: bool = True) -> PlanText:
    """The text after some edits; nothing is written yet.

    Args:
        held: The text before; it stays as it is.
        edits: One after the other, all or none.
        factors: As for `plan_of`.

    Raises:
        PlanError: An edit cannot be made, or the plan would be wrong after it.
    """
    made = replace(held, text=edit_text(held.text, edits, file=held.file))
    plan_of(made, factors=factors)
    return made


def save_plan(held: PlanText, journal: Journal | None = None) -> PlanText:
    """Write a plan whole or not at all, and clear its journal.

    Raises:
        InputError: The file was changed by somebody else since it was opened, or it cannot be written; the journal then
            holds every edit still.
    """
    if journal is not None:
        journal.about_to_save(digest(held.data))
    written = write_plan_text(held)
    if journal is not None:
        journal.clear(written.on_disk)
    return written


def open_journal(held: PlanText, out: Path | None = None) -> Journal:
    """The journal of a plan; its `replay` says what a stop left behind.

    Args:
        held: The plan as it is on disk.
        out: Where its outputs lie; by default the plan's own folder.

    Raises:
        InputError: There is one, and it cannot be read.
    """
    return Journal(out or Path(held.file).expanduser().parent, held.file, held.on_disk)


def play_back(held: PlanText, rows: Sequence[Mapping[str, Any]]) -> tuple[PlanText, tuple[str, ...]]:
    """The text after edits that came out of a journal, and a sentence on each that cannot be made any more.

    Args:
        held: The plan as it is on disk.
        rows: Edits as `model.plan_edits.edit_row` packs them; other rows are left alone.
    """
    said = []
    for number, row in enumerate(rows, start=1):
        try:
            held = change_plan(held, [edit_of(row)], factors=False)
        except (InputError, ValueError) as error:
            said.append(f"Edit {number} of the journal cannot be made again: {error}")
    return held, tuple(said)


def lock_plan(path: str | Path, out: Path | None = None) -> PlanLock | OpenElsewhere:
    """Take a plan for this window, or say who has it open.

    Args:
        path: The plan file.
        out: Where its outputs lie; by default the plan's own folder.

    Raises:
        InputError: The lock cannot be written.
    """
    return take_lock(out or Path(path).expanduser().parent, str(path))
