"""CPU time of a long log: read, held against itself, clock, effort, groups, covered land, removal.

    python tests/benchmarks/ledger_speed.py [ROWS] [SETS]

One line of JSON a log: `seasons`, sets in turn prebaited, opened, armed and pulled; `one set`, all rows at one; `all at
once`, every set armed in overlapping stretches. Rows are drawn with a fixed seed. Checked: that rows kept and rows set
aside make up all rows, and that the armed nights are those that were drawn.
"""

from __future__ import annotations

import argparse
import datetime as dt
import json
import tempfile
import time
from pathlib import Path

import numpy as np
import shapely

from boscage.ledger.book import make_book
from boscage.ledger.clock import check_clock
from boscage.ledger.covered import cover_land
from boscage.ledger.effort import find_rates, sum_captures, sum_effort
from boscage.ledger.groups import counts_in_log, settle_groups
from boscage.ledger.removal import judge_removal, make_passes
from boscage.model.layers import LayerSpec
from boscage.model.ledger_clock import CheckOptions
from boscage.model.ledger_land import Parcel
from boscage.model.ledger_removal import RemovalOptions
from boscage.readers.log import read_log
from boscage.readers.protocol import Request

HEAD = "date,site,event,boar,sow,yearling,piglet,group,hours,note,x,y,time"
BEGIN = dt.date(2010, 1, 4)


def write(path: Path, rows: int, sets: int, gap: int) -> tuple[int, dt.date]:
    """Stretches of ten rows from prebait to pulled; gives the armed nights and the last day."""
    rng = np.random.default_rng(3)
    places = rng.uniform(0, 8000, (sets, 2)) + (520_000, 4_000_000)
    lines, armed, last = [HEAD], 0, BEGIN
    for n in range(rows // 10):
        site = n % sets
        begin = BEGIN + dt.timedelta(days=14 * (n // sets) + gap * site)
        nights = int(rng.integers(2, 6))
        sow, piglet = (int(v) for v in rng.integers(0, 6, 2))
        x, y = places[site]
        armed += nights
        last = begin + dt.timedelta(days=7 + nights)
        for day, event, more in (
            (0, "prebait", f",,,,,2,,{x:.1f},{y:.1f},"), (2, "check", ",,,,,1,,,,07:10"),
            (4, "check", ",,,,,1,,,,07:15"),
            (6, "open", ",,,,,3,,,,"), (7, "armed", ",,,,,1,,,,17:30"), (7, "check", f",,,,G{n} of 12,1,,,,06:30"),
            (8, "check", f",,,,G{n} of 12,1,,,,06:30"), (8, "capture", f"0,{sow + 1},1,{piglet},G{n} of 12,4,,,,23:10"),
            (8, "nontarget", ",,,,,1,raccoon,,,05:00"), (7 + nights, "pulled", ",,,,,2,,,,"),
        ):  # fmt: skip
            lines.append(f"{begin + dt.timedelta(days=day)},S{site},{event},{more}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return armed, last


def run(rows: int, sets: int, gap: int) -> dict[str, object]:
    """CPU seconds of each part."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.csv"
        armed, last = write(path, rows, sets, gap)
        day = last + dt.timedelta(days=3650)
        marks = [time.process_time()]
        log = read_log(Request(layer="log", path=path, spec=LayerSpec(path="log.csv")), crs="EPSG:32615", day=day)
        marks.append(time.process_time())
    book = make_book(log, day)
    marks.append(time.process_time())
    clock = check_clock(book, CheckOptions(), dt.datetime.combine(day, dt.time(12)))
    marks.append(time.process_time())
    caught = sum_captures(book)
    effort = sum_effort(book)
    find_rates(effort, caught)
    groups = settle_groups(book, counts_in_log(book))
    marks.append(time.process_time())
    land = shapely.box(519_000, 3_999_000, 525_000, 4_009_000)
    covered = cover_land(book, [Parcel(parcel="P", owner="N", access="granted", shape=land)], 1500.0)
    marks.append(time.process_time())
    judge_removal(make_passes(book, 7), RemovalOptions())
    marks.append(time.process_time())
    assert len(book.rows) + sum(not p.counted for p in book.problems) == rows // 10 * 10
    assert effort.armed_nights == armed and clock.gaps and groups.groups and covered.covered_ha > 0
    names = ("read", "book", "clock", "effort and groups", "covered", "removal")
    parts = {n: round(b - a, 2) for n, a, b in zip(names, marks, marks[1:], strict=False)}
    return {"rows": rows, "sets": sets, **parts, "cpu_s": round(marks[-1] - marks[0], 2)}


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("rows", nargs="?", type=int, default=20_000)
    parser.add_argument("sets", nargs="?", type=int, default=40)
    asked = parser.parse_args()
    run(100, 2, 1)
    for name, sets, gap in (("seasons", asked.sets, 1), ("one set", 1, 0), ("all at once", 10 * asked.sets, 0)):
        print(json.dumps({"log": name, **run(asked.rows, sets, gap)}), flush=True)


if __name__ == "__main__":
    main()
