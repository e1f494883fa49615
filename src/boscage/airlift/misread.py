"""Coordinate slips: what a printed place turns into when it is read in another form, and how far off that lands."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType

from boscage.airlift.coordinates import format_decimal
from boscage.airlift.legs import geodesic
from boscage.model.drop import Misread
from boscage.values import format_ddm

Reader = Callable[[str], float | None]
DECIMAL, DDM, DMS = "decimal degrees", "degrees decimal minutes", "degrees minutes seconds"


def format_dms(lat: float, lon: float, *, digits: int = 1) -> tuple[str, str]:
    """Latitude and longitude as degrees, minutes and seconds; seconds that round to 60 carry.

    >>> format_dms(31.234567, -98.765432, digits=2)
    ('31 14 04.44 N', '098 45 55.56 W')
    """
    return _dms(lat, 2, "NS", digits), _dms(lon, 3, "EW", digits)


def _dms(angle: float, width: int, letters: str, digits: int) -> str:
    units = round(abs(angle) * 3600 * 10**digits)
    degrees, rest = divmod(units, 3600 * 10**digits)
    minutes, rest = divmod(rest, 60 * 10**digits)
    letter = letters[1] if angle < 0 and units else letters[0]
    return f"{degrees:0{width}d} {minutes:02d} {rest / 10**digits:0{digits + 3}.{digits}f} {letter}"


def _decimal_as_ddm(text: str) -> float | None:
    """31.45670 N as 31 degrees 45.670 minutes."""
    degrees, fraction = text.split(maxsplit=1)[0].split(".")
    return _sexagesimal(degrees, f"{fraction[:2]}.{fraction[2:]}")


def _ddm_as_decimal(text: str) -> float | None:
    """31 27.402 N as 31.27402 degrees."""
    degrees, minutes, _ = text.split()
    return float(f"{degrees}.{minutes.replace('.', '')}")


def _ddm_as_dms(text: str) -> float | None:
    """31 27.402 N as 31 degrees 27 minutes 40.2 seconds."""
    degrees, minutes, _ = text.split()
    whole, fraction = minutes.split(".")
    return _sexagesimal(degrees, whole, f"{fraction[:2]}.{fraction[2:]}")


def _dms_as_ddm(text: str) -> float | None:
    """31 27 24.1 N as 31 degrees 27.241 minutes."""
    degrees, minutes, seconds, _ = text.split()
    return _sexagesimal(degrees, f"{minutes}.{seconds.replace('.', '')}")


def _dms_as_decimal(text: str) -> float | None:
    """31 27 24.1 N as 31.27241 degrees."""
    degrees, minutes, seconds, _ = text.split()
    return float(f"{degrees}.{minutes}{seconds.replace('.', '')}")


def _decimal_as_dms(text: str) -> float | None:
    """31.45670 N as 31 degrees 45 minutes 67.0 seconds, which nobody can read so; 31.45570 N as 31 45 57.0."""
    degrees, fraction = text.split(maxsplit=1)[0].split(".")
    return _sexagesimal(degrees, fraction[:2], f"{fraction[2:4]}.{fraction[4:]}")


def _sexagesimal(degrees: str, minutes: str, seconds: str = "0") -> float | None:
    """Degrees, or None where minutes or seconds are 60 or more and the slip would be seen."""
    if float(minutes) >= 60.0 or float(seconds) >= 60.0:
        return None
    return float(degrees) + float(minutes) / 60.0 + float(seconds) / 3600.0


SLIPS: Mapping[tuple[str, str], Reader] = MappingProxyType({
    (DECIMAL, DDM): _decimal_as_ddm, (DECIMAL, DMS): _decimal_as_dms, (DDM, DECIMAL): _ddm_as_decimal,
    (DDM, DMS): _ddm_as_dms, (DMS, DDM): _dms_as_ddm, (DMS, DECIMAL): _dms_as_decimal,
})  # fmt: skip
"""The form printed and the form that it is taken for."""


def misread_angle(text: str, written: str, read_as: str) -> float | None:
    """One printed latitude or longitude read in another form, sign kept; None where the slip would be seen at once.

    >>> round(misread_angle("31.45670 N", DECIMAL, DDM), 4)
    31.7612
    """
    angle = SLIPS[written, read_as](text)
    return None if angle is None else -angle if text[-1] in "SW" else angle


def misreads(lat: float, lon: float) -> tuple[Misread, ...]:
    """Every slip of a place, worst first within each kind: both coordinates in another form, exchanged, other side."""
    printed = {DECIMAL: format_decimal(lat, lon), DDM: format_ddm(lat, lon), DMS: format_dms(lat, lon)}
    rows = [_slip(lat, lon, printed[written], written, read_as) for written, read_as in SLIPS]
    rows.sort(key=lambda r: (r.off_m is None, -(r.off_m or 0.0)))
    pair = "  ".join(printed[DECIMAL])
    rows.append(_landed(lat, lon, pair, "longitude and latitude exchanged", (lon, lat) if abs(lon) <= 90.0 else None))
    rows.append(_landed(lat, lon, pair, "east and west exchanged", (lat, -lon)))
    return tuple(rows)


def _slip(lat: float, lon: float, texts: tuple[str, str], written: str, read_as: str) -> Misread:
    north, east = (misread_angle(t, written, read_as) for t in texts)
    landed = None if north is None or east is None else (north, east)
    return _landed(lat, lon, "  ".join(texts), read_as, landed)


def _landed(lat: float, lon: float, written: str, read_as: str, landed: tuple[float, float] | None) -> Misread:
    if landed is None:
        text = f"{written} cannot be read as {read_as}: a part of it is too large"
        return Misread(written=written, read_as=read_as, lat=None, lon=None, off_m=None, text=text)
    away, _, _ = geodesic(lat, lon, *landed)
    shown = "  ".join(format_decimal(*landed))
    return Misread(
        written=written, read_as=read_as, lat=landed[0], lon=landed[1], off_m=away,
        text=f"{written} read as {read_as} is {shown}",
    )  # fmt: skip


def explain_place(given: tuple[float, float], near: tuple[float, float], *, within_m: float) -> Misread | None:
    """The slip that would bring a place that lies too far off to where it is expected, or None.

    Args:
        given: Latitude and longitude as stated.
        near: Latitude and longitude of where it should be about.
        within_m: How far from there a place may lie.

    Returns:
        None too where the place as given lies within that distance.
    """
    if geodesic(*given, *near)[0] <= within_m:
        return None
    landed = [
        (geodesic(row.lat, row.lon, *near)[0], n, row)
        for n, row in enumerate(misreads(*given))
        if row.lat is not None and row.lon is not None
    ]
    away, _, best = min(landed)
    return best if away <= within_m else None
