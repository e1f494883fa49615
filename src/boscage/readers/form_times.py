"""Moments as forms write them, in the ranch's own time."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

MOST_APART_HOURS = 3.5
"""Farthest that a zone's time lies from the sun's, hours; past it a time is not the ranch's own. Common practice."""


@dataclass(frozen=True, kw_only=True)
class Moment:
    """A moment.

    Attributes:
        local: In the ranch's own time, without a zone.
        doubt: Why it may not be, or ''.
    """

    local: dt.datetime
    doubt: str = ""


@dataclass(frozen=True, kw_only=True)
class Clock:
    """How times that carry a zone become the ranch's own.

    Attributes:
        zone: Of the ranch, or None: then a time is taken as the device wrote it.
        lon: Longitude of the ranch in degrees east, or None; holds the device's zone against the sun.
    """

    zone: dt.tzinfo | None = None
    lon: float | None = None

    def read(self, text: str) -> Moment | None:
        """A moment from ISO text with a date and a time of day; None for any other text.

        >>> Clock().read("2026-11-12T03:10:00.000-06:00").local
        datetime.datetime(2026, 11, 12, 3, 10)
        >>> Clock(lon=-92.7).read("2026-11-12T09:10:00Z").doubt
        'it is written at +00:00, 6 hours off the time of the ranch'
        >>> Clock().read("2026-11-12") is None
        True
        """
        made = read_iso(text)
        if made is None:
            return None
        if made.tzinfo is not None and self.zone is not None:
            made = made.astimezone(self.zone)
        return Moment(local=made.replace(tzinfo=None), doubt=self._doubt(made))

    def _doubt(self, made: dt.datetime) -> str:
        offset = made.utcoffset()
        if offset is None or self.zone is not None or self.lon is None:
            return ""
        apart = offset.total_seconds() / 3600.0 - self.lon / 15.0
        if abs(apart) <= MOST_APART_HOURS:
            return ""
        zone = f"{made:%z}"
        return f"it is written at {zone[:3]}:{zone[3:5]}, {abs(apart):.0f} hours off the time of the ranch"


def read_iso(text: str) -> dt.datetime | None:
    """A moment from ISO text that has a time of day, with its zone where one is written; None for any other text."""
    text = text.strip()
    if len(text) < 16 or text[10] not in "T ":
        return None
    try:
        return dt.datetime.fromisoformat(text)
    except ValueError:
        return None
