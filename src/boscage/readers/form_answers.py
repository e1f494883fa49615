"""Single answers of forms, and what of them goes into the note of a log's row."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence

from boscage.readers.columns import read_day
from boscage.readers.form_times import Clock

Answers = Mapping[str, str]


def day_text(text: str) -> str:
    """A day as ISO text, whatever time of day stands behind it; other text as it is.

    >>> day_text("2026-11-12T00:00:00.000-06:00"), day_text("11/12/2026")
    ('2026-11-12', '11/12/2026')
    """
    found = read_day(text)
    return found.isoformat() if isinstance(found, dt.date) else text


def number_of(answers: Answers, *names: str, default: int = 0) -> int:
    """The sum of some answers that are whole numbers; the default where none is."""
    found = [int(answers[n]) for n in names if answers.get(n, "").isdigit()]
    return sum(found) if found else default


def coordinates(answers: Answers) -> tuple[str, str]:
    """Longitude and latitude as written, '' for none; a place is 'lat lon altitude accuracy'."""
    parts = re.split(r"[\s,]+", answers.get("place", ""))
    if len(parts) >= 2:
        return parts[1], parts[0]
    return answers.get("place_longitude", ""), answers.get("place_latitude", "")


def roles(text: str) -> str:
    """Several roles joined by commas; they come parted by blanks."""
    return ", ".join(text.split())


def visit_note(a: Answers) -> str:
    """What a visit says that the log has no column for."""
    said = []
    if a.get("sign", "none") != "none":
        said.append(" ".join(t for t in ("sign:", a["sign"], a.get("sign_age", "")) if t))
    said += [f"{a['rain_days']} days since rain"] if "rain_days" in a else []
    said += [{"yes": "trees sound", "no": "trees not sound"}.get(a.get("trees_sound", ""), "")]
    if "stake_blows" in a:
        said.append(f"test stake: {a['stake_blows']} blows{_with_unit(a, 'stake_depth', ' to', ('in', 'cm'))}")
    said.append(_with_unit(a, "bait_left", "bait left:", ("lb", "kg")))
    return _joined([*said, f"photo {a['photo']}" if "photo" in a else "", a.get("note", "")])


def check_note(a: Answers, clock: Clock) -> str:
    """What a check says that the log has no column for."""
    said = [f"found {a['found']}"] if "found" in a else []
    said.append({"yes": "animals in the set", "no": "no animal in the set"}.get(a.get("inside", ""), ""))
    if "next_due" in a:
        due = clock.read(a["next_due"])
        when = f"{due.local:%Y-%m-%d %H:%M}" if due and not due.doubt else a["next_due"]
        staffed = {"yes": ", taken on", "no": ", taken on by nobody"}.get(a.get("staffed", ""), "")
        said.append(f"next check due {when}{staffed}")
    return _joined([*said, a.get("note", "")])


def animal_note(a: Answers) -> str:
    """What is said of an animal that the log has no column for."""
    weight = _with_unit(a, "weight", "", ("lb", "kg"))
    how = {"scale": " (scale)", "tape": " (tape)", "estimated": " (estimated)"}.get(a.get("weighed", ""), "")
    return _joined([f"{weight}{how}" if weight else "", a.get("marks", "")])


def _with_unit(a: Answers, name: str, before: str, units: Sequence[str]) -> str:
    unit = next((u for u in units if f"{name}_{u}" in a), "")
    return f"{before} {a[f'{name}_{unit}']} {unit}" if unit else ""


def _joined(parts: Sequence[str]) -> str:
    return "; ".join(p.strip() for p in parts if p.strip())
