"""Figures of the drop brief in words: aviation's own units, and the plan's for what is on the ground."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from boscage.model.brief import DropResult, SlungLoad
from boscage.model.drop import Daylight
from boscage.values import Printer

FOOT, MILE, NAUTICAL, POUND = 0.3048, 1609.344, 1852.0, 0.45359237
HPA_PER_INHG = 33.8638866667
"""NIST SP 811, appendix B.8: inch of mercury at 32 °F."""
_TENS_FT = 10.0
_FAR_M = 16_000.0
NO_PASS = "not that day"


@dataclass(frozen=True)
class DropFigures:
    """Prints figures for a pilot and a crew.

    Attributes:
        units: `us` or `metric`, for what is on the ground; altitudes are in feet either way.
        zone: Time zone of printed times, or None for UTC.
    """

    units: str = "us"
    zone: str | None = None

    @property
    def printer(self) -> Printer:
        """Lengths and heights on the ground."""
        return Printer(self.units)

    @property
    def mass_unit(self) -> str:
        """Unit of `mass`."""
        return "lb" if self.units == "us" else "kg"

    def mass(self, kg: float) -> str:
        """Whole pounds or kilograms, without the unit."""
        return f"{kg / POUND if self.units == 'us' else kg:,.0f}"

    def massed(self, kg: float) -> str:
        """The same with its unit."""
        return f"{self.mass(kg)} {self.mass_unit}"

    def elevation(self, metres: float) -> str:
        """Whole feet, with metres beside them in a metric plan; number and unit stay together.

        >>> DropFigures("metric").elevation(312.2).split()
        ['1,024', 'ft', '(312', 'm)']
        """
        return _feet(metres / FOOT) + (f" ({metres:,.0f}\u00a0m)" if self.units == "metric" else "")

    def altitude(self, metres: float) -> str:
        """Pressure or density altitude to ten feet: the forecast does not bear more.

        >>> DropFigures().altitude(1595.6).split()
        ['5,230', 'ft']
        """
        feet = round(metres / FOOT / _TENS_FT) * _TENS_FT + 0.0
        return _feet(feet) + (f" ({metres:,.0f}\u00a0m)" if self.units == "metric" else "")

    def ground(self, metres: float) -> str:
        """Statute miles or kilometres, feet or metres when near; whole ones from ten miles on."""
        if metres < _FAR_M:
            return self.printer.length(metres)
        return f"{metres / MILE:,.0f} mi" if self.units == "us" else f"{metres / 1000.0:,.0f} km"

    def clock(self, when: dt.datetime | None) -> str:
        """Local time, 24 hours, to the minute."""
        if when is None:
            return NO_PASS
        return (when.astimezone(self._zone()) + dt.timedelta(seconds=30)).strftime("%H:%M")

    def zone_words(self, when: dt.datetime) -> str:
        """Name of the zone's time at a moment, such as `CST, UTC-6`."""
        local = when.astimezone(self._zone())
        hours = (local.utcoffset() or dt.timedelta()).total_seconds() / 3600.0
        if self.zone is None or hours == 0.0:
            return "UTC"
        name = local.tzname() or ""
        return f"{name}, UTC{hours:+g}" if name.isalpha() else f"UTC{hours:+g}"

    def _zone(self) -> dt.tzinfo:
        return dt.UTC if self.zone is None else ZoneInfo(self.zone)


def _feet(feet: float) -> str:
    return f"{feet:,.0f}\u00a0ft"


def nautical(metres: float) -> str:
    """Nautical miles, two decimals.

    >>> nautical(2703.6)
    '1.46 nm'
    """
    return f"{metres / NAUTICAL:,.2f} nm"


def bearing(degrees: float) -> str:
    """Three figures; north is 360.

    >>> bearing(0.2), bearing(44.6)
    ('360°', '045°')
    """
    return f"{(round(degrees) - 1) % 360 + 1:03d}°"


def both_norths(true_deg: float, declination_deg: float) -> str:
    """A bearing from true and from magnetic north.

    >>> both_norths(45.2, 2.1)
    '045° T / 043° M'
    """
    return f"{bearing(true_deg)} T / {bearing(true_deg - declination_deg)} M"


def east_west(degrees: float) -> str:
    """An angle with its side, to a tenth of a degree."""
    if abs(degrees) < 0.05:
        return "0.0°"
    return f"{abs(degrees):.1f}° {'east' if degrees > 0 else 'west'}"


def declination_words(result: DropResult, degrees: float) -> str:
    """Declination, where it is from and how good it is."""
    side = "magnetic is true north" if abs(degrees) < 0.05 else f"magnetic {east_west(degrees)} of true"
    if result.magnetic_error_deg > 0.0:
        return f"{side} (WMM2025, error {result.magnetic_error_deg:.1f}°)"
    return f"{side} (stated in the plan)"


def temperature_words(celsius: float) -> str:
    """Celsius and Fahrenheit, whole degrees.

    >>> temperature_words(24.0)
    '24 °C / 75 °F'
    """
    return f"{celsius:.0f} °C / {celsius * 1.8 + 32:.0f} °F"


def altimeter_words(hpa: float) -> str:
    """Hectopascals and inches of mercury.

    >>> altimeter_words(1013.0)
    '1013 hPa / 29.91 inHg'
    """
    return f"{hpa:.0f} hPa / {hpa / HPA_PER_INHG:.2f} inHg"


def sun_words(day: Daylight, figures: DropFigures) -> str:
    """Sunrise to sunset."""
    return _window(day.sunrise, day.sunset, figures)


def light_words(day: Daylight, figures: DropFigures) -> str:
    """Civil dawn to civil dusk."""
    return _window(day.civil_dawn, day.civil_dusk, figures)


def _window(start: dt.datetime | None, end: dt.datetime | None, figures: DropFigures) -> str:
    if start is None and end is None:
        return NO_PASS
    return f"{figures.clock(start)} to {figures.clock(end)}"


def scale_mark(load: SlungLoad) -> str:
    """Whether a load's items were on a scale."""
    if load.estimated_kg <= 0.0:
        return "weighed"
    return "est." if load.estimated_kg >= load.items_kg else "part est."


def count_words(count: int, one: str, many: str = "") -> str:
    """A number with its noun.

    >>> count_words(1, "load"), count_words(3, "load")
    ('1 load', '3 loads')
    """
    return f"{count} {one if count == 1 else many or one + 's'}"
