"""The map units of a ranch as rows of a table, and what is to be said of the readings."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from boscage.model.ground import ReadPlace, UnitRow
from boscage.soil.burial import answer_burial
from boscage.soil.components import flood_class, unit_limits
from boscage.soil.correction import Correction
from boscage.soil.ground import Ground
from boscage.soil.place import Place
from boscage.soil.posts import answer_posts
from boscage.soil.readings import slice_mpa


def unit_rows(ground: Ground, hectares: Mapping[str, float]) -> tuple[UnitRow, ...]:
    """Rows for map units, widest first, of the map alone.

    Args:
        ground: All that is known.
        hectares: Of the ranch, by key; units without any are left out.
    """
    rows = []
    for key in sorted(hectares, key=lambda k: (-hectares[k], k)):
        unit = ground.units.get(key)
        if unit is None or hectares[key] <= 0.0:
            continue
        made, strength = ground.made[key], ground.strengths[key]
        place, limits = Place(unit=unit, made=made), unit_limits(made, ground.options)
        rows.append(
            UnitRow(
                symbol=unit.symbol, name=unit.name, hectares=hectares[key], named_share=strength.known_share,
                resistance_mpa=math.exp(strength.ln_mpa), error_ln=strength.error_ln, depth_cm=limits.depth_cm,
                rock_pct=limits.rock_pct, flood_class=flood_class(unit, ground.options.flood_share),
                posts=answer_posts(place, ground.options).verdict, burial=answer_burial(place, ground.options).verdict,
            )
        )  # fmt: skip
    return tuple(rows)


def read_places(correction: Correction | None, post_depth_cm: float) -> tuple[ReadPlace, ...]:
    """Places with readings, each with what was read down to the depth of a post."""
    if correction is None:
        return ()
    places = correction.places
    stops = np.where(np.isfinite(places.stopped_cm), places.stopped_cm, np.nan)
    return tuple(
        ReadPlace(
            x_m=float(x), y_m=float(y), resistance_mpa=slice_mpa(group, 0.0, post_depth_cm), stopped_cm=float(stop),
            readings=len(group),
        )
        for x, y, group, stop in zip(places.x_m, places.y_m, places.members, stops, strict=True)
    )  # fmt: skip


def left_out_words(correction: Correction | None) -> str:
    """What leaving each place out in turn gives, one sentence; '' where it cannot be worked out."""
    if correction is None or correction.left_out is None:
        return ""
    found = correction.left_out
    alone = math.exp(found.map_rmse)
    return (
        f"Each of the {found.count} places left out in turn: the map alone misses by a factor of {alone:.2f} (root "
        f"mean square), map and the other readings by {found.factor:.2f}; worse than the map at {found.worse} of them."
    )
