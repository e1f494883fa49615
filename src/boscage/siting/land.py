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
        parcels: The parcel layer.
    """

    ranch: Any
    granted: Any
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
        return str(first["parcel"]), "" if owner is None or owner != owner else str(owner)


def make_land(parcels: gpd.GeoDataFrame) -> Land:
    """Join the parcels by permission."""
    permitted = parcels["access"] == "granted"
    ranch = shapely.union_all(parcels.geometry.to_numpy())
    granted = shapely.union_all(parcels.geometry[permitted].to_numpy())
    denied = shapely.union_all(parcels.geometry[~permitted].to_numpy())
    closed = granted.buffer(SLIVER_M, join_style="mitre").buffer(-SLIVER_M, join_style="mitre")
    return Land(ranch=ranch, granted=shapely.union(granted, closed).difference(denied), parcels=parcels)
