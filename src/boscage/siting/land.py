"""Land by permission, made from the parcels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import geopandas as gpd
import shapely

SLIVER_M = 1.0


@dataclass(frozen=True, kw_only=True)
class Land:
    """The ranch's ground as shapes in metres.

    Attributes:
        ranch: All parcels.
        granted: Parcels with permission, gaps of up to 2 m between neighbours closed; where parcels overlap, the
            stricter access holds.
        holdings: The granted land of each owner; a parcel without a stated owner is a holding of its own.
        parcels: The parcel layer.
    """

    ranch: Any
    granted: Any
    holdings: tuple[Any, ...]
    parcels: gpd.GeoDataFrame

    @property
    def ranch_ha(self) -> float:
        """Area of all parcels, hectares."""
        return self.ranch.area / 1e4

    @property
    def granted_ha(self) -> float:
        """Area with permission, hectares."""
        return self.granted.area / 1e4

    def parcel_at(self, x_m: float, y_m: float) -> tuple[str, str]:
        """Parcel and owner at a place; ('', '') where the place is in none."""
        hits = self.parcels[self.parcels.intersects(shapely.Point(x_m, y_m))]
        if hits.empty:
            return "", ""
        first = hits.iloc[0]
        owner = first.get("owner", "")
        return str(first["parcel"]), owner if isinstance(owner, str) else ""


def make_land(parcels: gpd.GeoDataFrame) -> Land:
    """Join the parcels by permission and by owner."""
    permitted = parcels["access"] == "granted"
    ranch = shapely.union_all(parcels.geometry.to_numpy())
    denied = shapely.union_all(parcels.geometry[~permitted].to_numpy())
    names = parcels["owner"] if "owner" in parcels.columns else parcels["access"].map(lambda _: None)
    holders = [
        f"owner {name}" if isinstance(name, str) and name else f"row {row}" for row, name in enumerate(names[permitted])
    ]
    holdings = parcels.geometry[permitted].groupby(holders, sort=True).apply(lambda g: _joined(g.to_numpy(), denied))
    granted = _joined(parcels.geometry[permitted].to_numpy(), denied)
    return Land(ranch=ranch, granted=granted, holdings=tuple(holdings), parcels=parcels)


def _joined(shapes: Any, denied: Any) -> Any:
    """Union with slivers between neighbours closed, less what is denied."""
    whole = shapely.union_all(shapes)
    closed = whole.buffer(SLIVER_M, join_style="mitre").buffer(-SLIVER_M, join_style="mitre")
    return shapely.union(whole, closed).difference(denied)
