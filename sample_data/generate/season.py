"""The season's log: four sets from September to the plan's date, and what came of them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd

from generate.frame import lonlat

YEAR = 2026


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One row. `take` is boar, sow, yearling, piglet, and counts only on a capture."""

    day: date
    event: str
    hours: float
    note: str
    group: str = ""
    take: tuple[int, int, int, int] = (0, 0, 0, 0)


def _day(month_day: str) -> date:
    return date.fromisoformat(f"{YEAR}-{month_day}")


def _row(when: str, event: str, hours: float, note: str, group: str = "", take: tuple = (0, 0, 0, 0)) -> Entry:
    """One entry; `when` is month and day."""
    return Entry(day=_day(when), event=event, hours=hours, note=note, group=group, take=take)


def _every(first: str, last: str, step: int, hours: float, note: str) -> list[Entry]:
    """Checks from one day to another, `step` days apart."""
    days = range(0, (_day(last) - _day(first)).days + 1, step)
    return [Entry(day=_day(first) + timedelta(days=n), event="check", hours=hours, note=note) for n in days]


LONG_HOLLOW = [
    _row("09-03", "prebait", 3.5, "50 lb corn, one camera"),
    *_every("09-05", "09-13", 2, 1.0, "bait refilled"),
    _row("09-14", "open", 6.5, "net hung, left up", "LH group of 7"),
    _row("09-15", "check", 0.8, "5 of 7 inside", "LH group of 7"),
    _row("09-16", "check", 0.8, "7 of 7 inside", "LH group of 7"),
    _row("09-17", "armed", 1.5, "held, 6 of 7 inside", "LH group of 7"),
    _row("09-18", "check", 1.0, "first light, net up"),
    _row("09-19", "capture", 7.0, "whole group, closed 22:40", "LH group of 7", (0, 2, 0, 5)),
    _row("09-20", "prebait", 1.0, "light bait and camera kept"),
    *_every("09-22", "10-02", 5, 0.7, "no pigs on camera"),
    _row("10-04", "pulled", 4.0, "gear out, ground raked"),
]
SOUTH_HOLLOW = [
    _row("09-22", "prebait", 4.0, "50 lb corn, two cameras"),
    *_every("09-24", "10-02", 2, 1.2, "bait refilled"),
    _row("10-03", "open", 7.5, "net hung, left up", "SH group of 11"),
    _row("10-04", "check", 1.0, "6 of 11 inside", "SH group of 11"),
    _row("10-05", "check", 1.0, "9 of 11 inside", "SH group of 11"),
    _row("10-06", "check", 1.0, "11 of 11 inside", "SH group of 11"),
    _row("10-07", "armed", 1.5, "held, 9 of 11 inside", "SH group of 11"),
    _row("10-08", "nontarget", 0.5, "raccoon under the net, let out at first light"),
    _row("10-09", "check", 1.0, "first light, held, 10 of 11 inside", "SH group of 11"),
    _row("10-10", "capture", 8.5, "one yearling outside, closed 03:15", "SH group of 11", (0, 3, 3, 4)),
    _row("10-11", "open", 1.5, "net up again for the missed yearling", "SH group of 11"),
    *_every("10-13", "10-15", 2, 1.0, "boar alone on camera"),
    _row("10-16", "armed", 1.2, "for the yearling", "SH group of 11"),
    _row("10-17", "capture", 3.5, "yearling and a boar", "SH group of 11", (1, 0, 1, 0)),
    _row("10-18", "prebait", 1.0, "light bait and camera kept"),
    *_every("10-21", "10-30", 3, 0.8, "deer and raccoon only"),
    _row("11-01", "pulled", 4.5, "gear out"),
]
CEDAR_DRAWS = [
    _row("10-12", "prebait", 3.5, "50 lb corn, one camera"),
    *_every("10-14", "10-18", 2, 1.0, "bait untouched"),
    _row("10-20", "pulled", 1.5, "no visit in seven nights, moved"),
    _row("10-24", "prebait", 3.0, "new place 300 m down the draw"),
    *_every("10-26", "11-05", 2, 1.0, "bait refilled"),
    _row("11-06", "open", 7.0, "net hung, left up", "CD group of 14"),
    *_every("11-08", "11-18", 2, 1.2, "10 to 13 of 14 inside"),
    _row("11-19", "check", 1.2, "14 of 14 on camera, 12 inside", "CD group of 14"),
]
UPPER_CREEK = [
    _row("11-03", "prebait", 5.5, "gear carried in from the track end"),
    *_every("11-05", "11-11", 2, 1.5, "bait refilled"),
    _row("11-12", "open", 8.0, "net hung, left up", "UC group of 9"),
    _row("11-14", "check", 1.5, "9 of 9 on camera, 6 inside", "UC group of 9"),
    _row("11-16", "check", 1.5, "9 of 9 inside", "UC group of 9"),
    _row("11-17", "check", 1.5, "9 of 9 inside", "UC group of 9"),
    _row("11-18", "armed", 2.0, "held, deer inside until 23:00", "UC group of 9"),
    _row("11-19", "check", 1.0, "first light, held, 8 of 9 inside", "UC group of 9"),
    _row("11-20", "check", 1.0, "first light, held, boar at the edge", "UC group of 9"),
]


def build(places: dict[str, tuple[float, float]]) -> pd.DataFrame:
    """The log in order of date. `places` holds east and north of LH-1, SH-1, CD-1 and UC-1.

    Longitude and latitude are written on the first row of each set only.
    """
    story = {"LH-1": LONG_HOLLOW, "SH-1": SOUTH_HOLLOW, "CD-1": CEDAR_DRAWS, "UC-1": UPPER_CREEK}
    rows = []
    for site, entries in story.items():
        lon, lat = lonlat(*places[site])
        for number, entry in enumerate(entries):
            counts = entry.take if entry.event == "capture" else ("", "", "", "")
            rows.append(
                {
                    "date": entry.day.isoformat(),
                    "site": site,
                    "event": entry.event,
                    **dict(zip(("boar", "sow", "yearling", "piglet"), counts, strict=True)),
                    "group": entry.group,
                    "hours": entry.hours,
                    "note": entry.note,
                    "lon": f"{lon:.6f}" if number == 0 else "",
                    "lat": f"{lat:.6f}" if number == 0 else "",
                }
            )
    return pd.DataFrame(rows).sort_values(["date", "site"], kind="stable", ignore_index=True)
