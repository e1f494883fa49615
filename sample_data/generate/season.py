"""The season's log: four sets from September to the plan's date, and what came of them; damage on transects."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

import pandas as pd

from generate.frame import lonlat

YEAR = 2026
MORE = (
    "time", "person", "task", "known", "species", "fate", "injury", "closed", "approached", "finished", "bait_lb",
)  # fmt: skip
TASKS = {"prebait": "bait", "open": "rig", "armed": "arm", "capture": "catch", "pulled": "take down"}
TIMES = {"prebait": "16:30", "open": "15:10", "armed": "17:40", "pulled": "13:30"}


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One row. `take` is boar, sow, yearling, piglet, and counts only on a capture; `more` is columns of `MORE`."""

    day: date
    event: str
    hours: float
    note: str
    group: str = ""
    take: tuple[int, int, int, int] = (0, 0, 0, 0)
    more: dict[str, str] = field(default_factory=dict)


def _day(month_day: str) -> date:
    return date.fromisoformat(f"{YEAR}-{month_day}")


def _row(
    when: str, event: str, hours: float, note: str, group: str = "", take: tuple = (0, 0, 0, 0), **more: str
) -> Entry:
    """One entry; `when` is month and day."""
    return Entry(day=_day(when), event=event, hours=hours, note=note, group=group, take=take, more=more)


def _every(first: str, last: str, step: int, hours: float, note: str, **more: str) -> list[Entry]:
    """Checks from one day to another, `step` days apart, each some minutes from the one before."""
    days = range(0, (_day(last) - _day(first)).days + 1, step)
    return [
        Entry(day=_day(first) + timedelta(days=n), event="check", hours=hours, note=note,
              more={"time": f"09:{(17 * n + 5) % 60:02d}", **more})
        for n in days
    ]  # fmt: skip


LONG_HOLLOW = [
    _row("09-03", "prebait", 3.5, "50 lb corn, one camera", bait_lb="50"),
    *_every("09-05", "09-13", 2, 1.0, "bait refilled", bait_lb="15", task="bait"),
    _row("09-14", "open", 6.5, "net hung, left up", "LH group of 7"),
    _row("09-15", "check", 0.8, "5 of 7 inside", "LH group of 7", time="06:50", known="7"),
    _row("09-16", "check", 0.8, "7 of 7 inside", "LH group of 7", time="06:45", known="7"),
    _row("09-17", "armed", 1.5, "held, 6 of 7 inside", "LH group of 7"),
    _row("09-18", "check", 1.0, "first light, net up", time="06:35"),
    _row(
        "09-19",
        "capture",
        7.0,
        "whole group, closed 22:40",
        "LH group of 7",
        (0, 2, 0, 5),
        time="22:40",
        fate="dispatched",
        injury="none",
        closed="22:40",
        approached="23:20",
        finished="23:55",
    ),
    _row("09-20", "prebait", 1.0, "light bait and camera kept", bait_lb="10"),
    *_every("09-22", "10-02", 5, 0.7, "no pigs on camera", task="watch"),
    _row("10-04", "pulled", 4.0, "gear out, ground raked"),
]
SOUTH_HOLLOW = [
    _row("09-22", "prebait", 4.0, "50 lb corn, two cameras", bait_lb="50"),
    *_every("09-24", "10-02", 2, 1.2, "bait refilled", bait_lb="25", task="bait"),
    _row("10-03", "open", 7.5, "net hung, left up", "SH group of 11"),
    _row("10-04", "check", 1.0, "6 of 11 inside", "SH group of 11", time="06:55"),
    _row("10-05", "check", 1.0, "9 of 11 inside", "SH group of 11", time="06:50"),
    _row("10-06", "check", 1.0, "11 of 11 inside", "SH group of 11", time="06:50", known="11"),
    _row("10-07", "armed", 1.5, "held, 9 of 11 inside", "SH group of 11"),
    _row("10-07", "check", 0.8, "first light, net up", time="06:45"),
    _row("10-08", "nontarget", 0.5, "raccoon under the net, let out at first light", time="06:40", species="raccoon"),
    _row("10-09", "check", 1.0, "first light, held, 10 of 11 inside", "SH group of 11", time="06:35"),
    _row(
        "10-10",
        "capture",
        8.5,
        "one yearling outside, closed 03:15",
        "SH group of 11",
        (0, 3, 3, 4),
        time="03:15",
        fate="dispatched",
        injury="none",
        closed="03:15",
        approached="04:05",
        finished="04:50",
    ),
    _row("10-11", "open", 1.5, "net up again for the missed yearling", "SH group of 11", bait_lb="25"),
    *_every("10-13", "10-15", 2, 1.0, "boar alone on camera", task="watch"),
    _row("10-16", "armed", 1.2, "for the yearling", "SH group of 11"),
    _row("10-16", "check", 0.8, "first light, net up", time="06:50"),
    _row(
        "10-17",
        "capture",
        3.0,
        "the yearling",
        "SH group of 11",
        (0, 0, 1, 0),
        time="04:20",
        fate="dispatched",
        injury="none",
        closed="04:20",
        approached="05:00",
        finished="05:15",
    ),
    _row(
        "10-17",
        "capture",
        0.5,
        "a boar with it",
        "SH group of 11",
        (1, 0, 0, 0),
        time="04:20",
        fate="dispatched",
        injury="scraped snout",
        closed="04:20",
        approached="05:00",
        finished="05:15",
    ),
    _row("10-18", "prebait", 1.0, "light bait and camera kept", bait_lb="10"),
    *_every("10-21", "10-30", 3, 0.8, "deer and raccoon only", task="watch"),
    _row("11-01", "pulled", 4.5, "gear out"),
]
CEDAR_DRAWS = [
    _row("10-12", "prebait", 3.5, "50 lb corn, one camera", bait_lb="50"),
    *_every("10-14", "10-18", 2, 1.0, "bait untouched", task="watch"),
    _row("10-20", "pulled", 1.5, "no visit in seven nights, moved"),
    _row("10-24", "prebait", 3.0, "new place 300 m down the draw", bait_lb="50"),
    *_every("10-26", "11-05", 2, 1.0, "bait refilled", bait_lb="25", task="bait"),
    _row("11-06", "open", 7.0, "net hung, left up", "CD group of 14"),
    *_every("11-08", "11-18", 2, 1.2, "10 to 13 of 14 inside"),
    _row("11-19", "check", 1.2, "14 of 14 on camera, 12 inside", "CD group of 14", time="07:05", known="14"),
]
UPPER_CREEK = [
    _row("11-03", "prebait", 5.5, "gear carried in from the track end", bait_lb="50"),
    *_every("11-05", "11-11", 2, 1.5, "bait refilled", bait_lb="20", task="bait"),
    _row("11-12", "open", 8.0, "net hung, left up", "UC group of 9"),
    _row("11-14", "check", 1.5, "9 of 9 on camera, 6 inside", "UC group of 9", time="07:00", known="9"),
    _row("11-16", "check", 1.5, "9 of 9 inside", "UC group of 9", time="07:00", known="9"),
    _row("11-17", "check", 1.5, "9 of 9 inside", "UC group of 9", time="06:55", known="9"),
    _row("11-18", "armed", 2.0, "held, deer inside until 23:00", "UC group of 9"),
    _row("11-18", "check", 0.8, "first light, net up", time="06:50"),
    _row("11-19", "check", 1.0, "first light, held, 8 of 9 inside", "UC group of 9", time="06:45"),
    _row("11-20", "check", 1.0, "first light, held, boar at the edge", "UC group of 9", time="06:40"),
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
                    **_more(site, number, entry),
                    "lon": f"{lon:.6f}" if number == 0 else "",
                    "lat": f"{lat:.6f}" if number == 0 else "",
                }
            )
    return pd.DataFrame(rows).sort_values(["date", "site"], kind="stable", ignore_index=True)


def _more(site: str, number: int, entry: Entry) -> dict[str, str]:
    """The columns of `MORE`; two people share the work."""
    given = {"time": TIMES.get(entry.event, ""), "task": TASKS.get(entry.event, "check"), **entry.more}
    given["person"] = "op 1" if (number + len(site) + ord(site[0])) % 3 else "op 2"
    return {name: given.get(name, "") for name in MORE}


# Damage of a pasture, by the length of a line that is rooted, and fresh sign along it: the same lines a year apart.
LINES_FT = {"P-1": 820, "P-2": 760, "P-3": 1040, "P-4": 990, "P-5": 640, "P-6": 880, "P-7": 720, "P-8": 930}
ROOTED_FT = {
    "before": {"P-1": 96, "P-2": 41, "P-3": 187, "P-4": 122, "P-5": 0, "P-6": 143, "P-7": 88, "P-8": 35},
    "after": {"P-1": 22, "P-2": 0, "P-3": 64, "P-4": 31, "P-5": 6, "P-6": 57, "P-7": 0, "P-8": 12},
}
SIGNS = {
    "before": {"P-1": 4, "P-2": 2, "P-3": 7, "P-4": 5, "P-5": 0, "P-6": 6, "P-7": 3, "P-8": 1},
    "after": {"P-1": 1, "P-2": 0, "P-3": 3, "P-4": 1, "P-5": 1, "P-6": 2, "P-7": 0, "P-8": 0},
}
WALKED = {"before": f"{YEAR - 1}-11-12", "after": f"{YEAR}-11-14"}


def transects() -> pd.DataFrame:
    """The survey before and the one after, one row a line."""
    return pd.DataFrame(
        [
            {"transect": name, "survey": survey, "date": day, "observer": "op 1", "parcel": "South Hollow",
             "surveyed_ft": long, "damaged_ft": ROOTED_FT[survey][name], "sign": SIGNS[survey][name]}
            for survey, day in WALKED.items()
            for name, long in LINES_FT.items()
        ]
    )  # fmt: skip
