"""`[report]`: what the landowner's report is to say, and how far its masked copy blurs places."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from boscage.model.options import option
from boscage.values import Length


@dataclass(frozen=True, kw_only=True)
class ReportOptions:
    """`[report]`: the landowner's report."""

    radius: Length = option(
        Length(1500.0), help="Radius of influence of an armed set.", low=10.0, high=20000.0, grade="V"
    )
    square: Length | None = option(
        None, help="Side of the squares that a masked copy gives places by; by default that of [share].", low=500.0,
        high=20000.0,
    )  # fmt: skip
    transects: str | None = option(
        None, help="Table of damage on transects before and after (CSV), relative to the plan file."
    )
    crew: str | None = option(
        None, help="Crew that did the work, a label such as 'crew 2' and no person's name; summaries count by it."
    )
    season: str | None = option(None, help="Name of the season in a summary; by default the years of its nights.")
    cameras: Mapping[str, str] = option(
        factory=dict,
        help="Which group of the log a group seen by cameras is, as cameras' name = log's name; others are listed "
        "beside the log's and not added to them.",
    )  # fmt: skip
    watch_days: int = option(
        21, help="Days that a camera and light bait stay after a capture.", unit="days", low=0, high=120, grade="C"
    )
