"""A plan held open by one window: every step is on the disk before it shows, and any step can be taken back."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from boscage.errors import InputError
from boscage.exports.desk_lock import PlanLock
from boscage.exports.journal import Journal
from boscage.model.choices import Choice
from boscage.model.journal import OpenElsewhere, Replay
from boscage.model.plan import Plan
from boscage.model.plan_edits import AddChoice, Edit, PlanText, SetKey, TakeOut, TakeOutChoice, edit_row
from boscage.pipeline.desk_edits import change_plan, lock_plan, open_journal, open_plan, plan_of, play_back, save_plan


@dataclass(kw_only=True)
class HeldPlan:
    """A plan as it is held open.

    Attributes:
        text: As it would be saved now.
        saved: As it is on the disk.
        plan: What the text says.
        replay: Edits of a former window that were not saved.
        note: A sentence where a lock left behind was taken over, or ''.
    """

    text: PlanText
    saved: PlanText
    plan: Plan
    replay: Replay
    note: str
    _lock: PlanLock = field(repr=False)
    _journal: Journal = field(repr=False)

    @property
    def is_saved(self) -> bool:
        """Whether the disk holds what was edited."""
        return self.text.text == self.saved.text

    def changed(self, edits: Sequence[Edit]) -> PlanText:
        """The text after some edits; nothing moves yet.

        Raises:
            PlanError: An edit is wrong.
        """
        return change_plan(self.text, edits, factors=False)

    def move_to(self, text: PlanText) -> None:
        """Hold another text, with the step there in the journal first.

        Raises:
            PlanError: The text is no plan.
            InputError: The journal cannot be written; what is held stays as it was.
        """
        plan = plan_of(text, factors=False)
        for edit in steps_between(tomllib.loads(self.text.text), tomllib.loads(text.text)):
            self._journal.append(edit_row(edit))
        self.text, self.plan = text, plan

    def replayed(self) -> tuple[PlanText, tuple[str, ...]]:
        """The text with what a former window did not save, and a sentence on each edit that no longer fits."""
        return play_back(self.saved, self.replay.edits)

    def take_up(self, text: PlanText) -> None:
        """Make the edits of a former window this one's; the journal then holds them and nothing else.

        Raises:
            InputError: The journal cannot be written.
        """
        plan = plan_of(text, factors=False)
        step = steps_between(tomllib.loads(self.saved.text), tomllib.loads(text.text))
        if step:
            self._journal.keep_only([edit_row(e) for e in step], self.saved.on_disk)
        else:
            self._journal.clear(self.saved.on_disk)
        self.plan, self.text, self.replay = plan, text, Replay()

    def forget(self) -> None:
        """Let the edits of a former window go.

        Raises:
            InputError: The journal cannot be taken away.
        """
        self._journal.clear(self.saved.on_disk)
        self.replay = Replay()

    def save(self) -> None:
        """Write the plan with its comments and order, and take the journal away.

        Raises:
            InputError: Somebody else changed the file, or it cannot be written; the edits stay unsaved and kept.
        """
        plan_of(self.text)
        self.text = self.saved = save_plan(self.text, self._journal)

    def close(self, *, keep: bool = False) -> None:
        """Give the plan free.

        Args:
            keep: Whether unsaved edits, or those of a former window, stay in the journal for the next time.

        Raises:
            InputError: The journal cannot be taken away.
        """
        try:
            if not keep:
                self._journal.clear(self.saved.on_disk)
        finally:
            self._lock.release()


def hold_plan(path: Path) -> HeldPlan | OpenElsewhere:
    """Take a plan for this window, and read it and the journal of a former one.

    Raises:
        InputError: It cannot be read, it is no plan, or its lock or journal cannot be written or read.
    """
    text = open_plan(path)
    lock = lock_plan(path)
    if isinstance(lock, OpenElsewhere):
        return lock
    try:
        journal = open_journal(text)
    except InputError:
        lock.release()
        raise
    degrees_at(500_000.0, 4_000_000.0, "EPSG:32615")  # so that the first place that is pointed at holds up nobody
    return HeldPlan(
        text=text, saved=text, plan=plan_of(text, factors=False), replay=journal.replay, note=lock.note, _lock=lock,
        _journal=journal,
    )  # fmt: skip


def steps_between(before: Mapping[str, Any], after: Mapping[str, Any]) -> tuple[Edit, ...]:
    """Edits that make one plan's tables out of another's."""
    old, new = list(before.get("choices", [])), list(after.get("choices", []))
    same = next((n for n, (a, b) in enumerate(zip(old, new, strict=False)) if a != b), min(len(old), len(new)))
    out: list[Edit] = [TakeOutChoice(row=row) for row in range(len(old), same, -1)]
    out += [AddChoice(choice=Choice(**{**table, "at": tuple(table["at"])})) for table in new[same:]]
    plain = [{n: v for n, v in table.items() if n != "choices"} for table in (before, after)]
    return (*_steps(plain[0], plain[1], ()), *out)


def _steps(before: Mapping[str, Any], after: Mapping[str, Any], key: tuple[str, ...]) -> list[Edit]:
    out: list[Edit] = [TakeOut(key=(*key, name)) for name in before if name not in after]
    for name, value in after.items():
        was, here = before.get(name), (*key, name)
        if isinstance(value, dict) and isinstance(was, dict | None) and value:
            out += _steps(was or {}, value, here)
        elif name not in before or was != value or type(was) is not type(value):
            out.append(SetKey(key=here, value=value))
    return out


def degrees_at(x_m: float, y_m: float, crs: str) -> tuple[float, float]:
    """Longitude and latitude, WGS 84, of a place in the ranch's CRS."""
    from boscage.airlift.coordinates import place_at

    place = place_at(x_m, y_m, crs)
    return place.lon, place.lat
