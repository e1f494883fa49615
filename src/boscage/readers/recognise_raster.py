"""What a raster is, by its numbers: cover, canopy heights, bare ground, or none of these.

The limits were set on open rasters: canopy heights and cover from lidar near Valladolid, elevations from Cameroon,
Panama, Brazil, Luxembourg and Tennessee, slopes, aspects, wetness and classes of several places. They are the project's
own; each answer says how firm it is.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from boscage.readers.crs import WGS84, utm_code
from boscage.readers.protocol import RawRaster
from boscage.readers.raster_layer import COVER_UNITS, HEIGHT_UNITS, OWN_WORDS, STEEPEST, TALLEST_M
from boscage.readers.recognise_answer import Candidate
from boscage.values import Grid

LOOK_CELLS = 250_000
PATCH_CELLS = 400
FEWEST_KINDS = 12
OPEN_SHARE = 0.02
SHORTEST_WOODS_M = 5.0
TALLEST_FT, TALLEST_DM, TALLEST_CM = 200.0, 600.0, 6000.0
LONE_DM = 150.0
MOST_COVER = 130.0
DERIVED = frozenset({"slope", "slopeangle", "grad", "aspect", "orientation", "hillshade", "twi", "curvature", "tpi"})
NAMES = {
    "canopy_cover": frozenset({"cover", "fcc", "tcc", "closure", "density"}),
    "canopy_height": frozenset({"chm", "height", "heights", "vhm", "ndsm"}),
    "terrain": frozenset({"dem", "dtm", "terrain", "elev", "elevation", "ned", "ground"}),
}


@dataclass(frozen=True, kw_only=True)
class Look:
    """Figures of a raster, in the file's own unit.

    Attributes:
        low, high: Least and greatest value.
        first, tallest: Quantiles 0.01 and 0.999.
        zero: Share of cells within half a unit of 0.
        whole: Share of whole numbers.
        kinds: How many different values were seen.
        rough: Root-mean-square difference of a cell from the mean of its four neighbours, over the standard deviation.
        steep: Median tangent of the slope, as if the unit were metres.
        cell_m: Side of a cell.
        unit: The file's own unit in our words, or ''.
    """

    low: float
    high: float
    first: float
    tallest: float
    zero: float
    whole: float
    kinds: int
    rough: float
    steep: float
    cell_m: float
    unit: str


def look_at(raw: RawRaster) -> tuple[Look | None, tuple[float, float, float, float]]:
    """Figures of a raster, None where it has no data, and its box in degrees: west, south, east, north."""
    from pyproj import Transformer

    own = raw.bounds(raw.crs)
    box = Transformer.from_crs(raw.crs, WGS84, always_xy=True).transform_bounds(
        own.west, own.south, own.east, own.north
    )
    crs = utm_code((box[0] + box[2]) / 2.0, (box[1] + box[3]) / 2.0)
    bounds, cell_m = raw.bounds(crs), raw.cell_m(crs)
    wide = Grid.covering(bounds, cell_m=max(cell_m, math.sqrt(bounds.width * bounds.height / LOOK_CELLS)), crs=crs)
    values = raw.read(wide)
    held = values[np.isfinite(values)].astype(np.float64)
    if held.size == 0:
        return None, box
    patch = _patch(raw, wide, values, cell_m)
    first, tallest = np.quantile(held, (0.01, 0.999))
    rough, steep = _roughness(patch if patch is not None else values, cell_m if patch is not None else wide.cell_m)
    look = Look(
        low=float(held.min()), high=float(held.max()), first=float(first), tallest=float(tallest),
        zero=float(np.mean(np.abs(held) < 0.5)), whole=float(np.mean(held == np.round(held))),
        kinds=len(np.unique(held)), rough=rough, steep=steep, cell_m=cell_m,
        unit=OWN_WORDS.get((raw.unit or "").strip().lower(), ""),
    )  # fmt: skip
    return look, box


def _patch(raw: RawRaster, wide: Grid, values: NDArray[np.float32], cell_m: float) -> NDArray[np.float32] | None:
    """A piece at the file's own cells, round a place with data near the middle of them."""
    rows, cols = np.nonzero(np.isfinite(values))
    near = int(np.argmin(np.hypot(rows - np.median(rows), cols - np.median(cols))))
    x, y = wide.centre(int(rows[near]), int(cols[near]))
    half = PATCH_CELLS / 2 * cell_m
    patch = raw.read(Grid(wide.crs, x - half, y + half, cell_m, PATCH_CELLS, PATCH_CELLS))
    return patch if np.isfinite(patch).sum() > PATCH_CELLS else None


def _roughness(values: NDArray[np.float32], cell_m: float) -> tuple[float, float]:
    z = values.astype(np.float64)
    inner = z[1:-1, 1:-1]
    away = inner - (z[:-2, 1:-1] + z[2:, 1:-1] + z[1:-1, :-2] + z[1:-1, 2:]) / 4.0
    slope = np.hypot(z[1:-1, 2:] - z[1:-1, :-2], z[:-2, 1:-1] - z[2:, 1:-1]) / (2.0 * cell_m)
    away, slope, spread = away[np.isfinite(away)], slope[np.isfinite(slope)], z[np.isfinite(z)].std()
    if not away.size or not spread > 0.0:
        return 0.0, 0.0
    return float(np.sqrt(np.mean(away**2)) / spread), float(np.median(slope)) if slope.size else 0.0


def raster_candidates(raw: RawRaster, look: Look, name: str) -> list[Candidate]:
    """The layers that a raster may be, the likeliest first; none where nothing fits.

    Args:
        raw: The open raster.
        look: Its figures.
        name: Of the file, whose words count where the numbers leave a choice.
    """
    bands = [int(m.group(1)) for n in raw.notes if (m := re.match(r"band 1 of (\d+)", n))]
    if (bands and bands[0] >= 3) or (
        look.kinds <= FEWEST_KINDS and look.whole == 1.0 and look.high <= 2 * FEWEST_KINDS
    ):
        return []
    found = [c for c in (_cover(look), _height(look), _terrain(look)) if c is not None]
    words = frozenset(re.split(r"[^a-z0-9]+|(?<=[a-z])(?=\d)", name.lower()))
    if words & DERIVED:
        said = f"the name says {', '.join(sorted(words & DERIVED))}, which is none of the layers"
        found = [replace(c, points=c.points - 1.0, doubts=(*c.doubts, f"{said}; check.")) for c in found]
    for layer, own in NAMES.items():
        if words & own:
            told = f"its name says {', '.join(sorted(words & own))}"
            found = [replace(c, points=c.points + 1.0, why=(*c.why, told)) if c.layer == layer else c for c in found]
    return sorted((c for c in found if c.points > 0.0), key=lambda c: -c.points)


def why_no_raster(raw: RawRaster, look: Look) -> str:
    """Why a raster is none of the layers, a sentence without its full stop."""
    if any(re.match(r"band 1 of ([3-9]|\d\d)", n) for n in raw.notes):
        return "it has several bands, as a picture has; a layer is one number a cell"
    if look.kinds <= FEWEST_KINDS and look.whole == 1.0:
        return f"it holds {look.kinds} whole numbers only, as a map of classes does"
    return (
        f"its numbers, {look.low:.4g} to {look.high:.4g}, are neither cover (0 to 100, or 0 to 1), nor canopy heights, "
        "nor elevations"
    )


def _cover(look: Look) -> Candidate | None:
    if look.unit in COVER_UNITS:
        return Candidate(layer="canopy_cover", points=3.0, why=(f"the file states its unit, {look.unit}",))
    if look.unit in HEIGHT_UNITS or look.low < -0.5 or look.high > 100.5:
        return None
    if look.high <= 1.0005:
        points = 2.0 if look.high > 0.5 and look.rough > 0.1 else 1.0
        why = f"numbers from {look.low:.2g} to {look.high:.2g}, as shares have"
        return Candidate(
            layer="canopy_cover", points=points, why=(why,), unit="fraction",
            unit_why=f"The greatest number is {look.high:.3g}: shares of 1, not per cent.",
        )  # fmt: skip
    whole = look.whole > 0.99
    why = f"{'whole ' if whole else ''}numbers from {look.low:.3g} to {look.high:.4g}, as per cent has"
    if look.high > 99.5:
        points = 3.0 if whole else 2.0
    elif look.high > TALLEST_M:
        points = 2.0 if whole else 1.0 if look.cell_m >= 5.0 else 0.5
    else:
        points = 1.0 if whole and look.cell_m >= 5.0 else 0.5
    return Candidate(layer="canopy_cover", points=points, why=(why,))


def _height(look: Look) -> Candidate | None:
    unit, unit_why, doubt = _height_unit(look)
    if not unit:
        return None
    factor = HEIGHT_UNITS[unit]
    if look.low * factor < -3.0 or not SHORTEST_WOODS_M <= look.tallest * factor <= 2 * TALLEST_M:
        return None
    rough = 2.0 if look.rough >= 0.2 else 1.0 if look.rough >= 0.1 else 0.0
    why = [f"heights from the ground up to {look.tallest * factor:.0f} m" if look.zero >= OPEN_SHARE else
           f"numbers up to {look.tallest:.4g}"]  # fmt: skip
    why += ["neighbouring cells that differ as tree tops do"] if rough else []
    doubts = [doubt] if doubt else []
    points = rough
    if look.zero < OPEN_SHARE:
        points -= 1.0
        doubts.append("no cell is open ground, which canopy heights seldom lack; check that it is no other map.")
    if look.whole > 0.99 and TALLEST_M < look.high <= MOST_COVER and not look.unit:
        points -= 1.0
        doubts += ["whole numbers, some over 100: if it is cover, mend those."] if look.high > 100.5 else []
    points += 1.0 if look.unit and rough else 0.0
    return Candidate(
        layer="canopy_height", points=points, why=tuple(why), unit=None if look.unit or unit == "m" else unit,
        unit_why=unit_why, doubts=tuple(doubts),
    )  # fmt: skip


def _height_unit(look: Look) -> tuple[str, str, str]:
    """The unit of canopy heights ('' for none that fits), why, and a doubt or ''."""
    if look.unit:
        return (look.unit, f"The file states {look.unit}.", "") if look.unit in HEIGHT_UNITS else ("", "", "")
    tallest, whole = look.tallest, look.whole > 0.99
    metres = f"in metres no tree is {tallest:.0f} high"
    if tallest <= TALLEST_M:
        in_feet = f"if the heights are in feet, the tallest is {tallest * 0.3048:.0f} m: check the unit."
        return "m", f"The tallest is {tallest:.0f}, as trees are in metres.", in_feet if tallest > 40.0 else ""
    if tallest <= TALLEST_FT and not (whole and tallest > LONE_DM):
        doubt = f"in decimetres the tallest would be {tallest / 10:.0f} m: check the unit." if whole else ""
        return "ft", f"The tallest is {tallest:.0f}: {metres}, in feet it is {tallest * 0.3048:.0f} m.", doubt
    if whole and tallest <= TALLEST_DM:
        doubt = f"in feet the tallest would be {tallest * 0.3048:.0f} m: check the unit." if tallest <= 350.0 else ""
        return "dm", f"Whole numbers up to {tallest:.0f}: {metres}, in decimetres it is {tallest / 10:.0f} m.", doubt
    if whole and tallest <= TALLEST_CM:
        return "cm", f"Whole numbers up to {tallest:.0f}: {metres}, in centimetres it is {tallest / 100:.0f} m.", ""
    return "", "", ""


def _terrain(look: Look) -> Candidate | None:
    if look.unit in COVER_UNITS or look.low < -500.0 or look.high > 29_500.0 or look.high - look.low < 2.0:
        return None
    if look.unit in ("dm", "cm"):
        return None
    smooth = 2.0 if look.rough < 0.05 else 1.0 if look.rough < 0.2 else 0.5 if look.rough < 0.3 else 0.0
    high = 1.5 if look.first >= TALLEST_M else 0.0
    why = [f"numbers from {look.low:.4g} to {look.high:.4g}", *(["none near 0"] if high else [])]
    why += ["neighbouring cells that run on smoothly, as ground does"] if smooth >= 1.0 else []
    doubts, unit, unit_why = [], None, ""
    if not look.unit and look.steep > STEEPEST and (look.steep * 0.3048 <= STEEPEST or look.high > 9000.0):
        unit = "ft"
        unit_why = f"In metres half of the ground would be steeper than {100 * look.steep:.0f} %: taken as feet."
        doubts.append("the unit of the elevations is guessed from their slopes; check it.")
    points = smooth + high + (0.5 if look.unit in HEIGHT_UNITS else 0.0)
    return Candidate(layer="terrain", points=points, why=tuple(why), unit=unit, unit_why=unit_why, doubts=tuple(doubts))


SURVEY = (
    Candidate(
        layer="canopy_height", points=4.0, why=("a lidar survey: heights of the canopy are made of its returns",)
    ),
    Candidate(layer="terrain", points=2.0, why=("the bare ground can be made of its returns too",)),
)
"""What a lidar survey is taken for; it is not read, since that takes minutes."""
