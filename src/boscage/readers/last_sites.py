"""Where the sites of the last ranking stand, for a log that gives its sets no places of its own."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from boscage.errors import InputError

SITES = "sites.gpkg"


def read_site_places(out: Path, crs: str) -> dict[str, tuple[float, float]]:
    """East and north of each site of `sites.gpkg` in a folder, in a CRS; none where the file is not there.

    Raises:
        InputError: The file is there and cannot be read.
    """
    path = out / SITES
    if not path.exists():
        return {}
    import pyogrio
    from pyproj import CRS, Transformer

    try:
        frame = pyogrio.read_dataframe(path, layer="sites", columns=["site"])
        if frame.empty:
            return {}
        points = np.column_stack([frame.geometry.x, frame.geometry.y])
        own = CRS(frame.crs)
    except Exception as error:
        raise InputError(
            "the ranking cannot be read", expected="a layer sites as boscage scout writes it",
            mend="run boscage scout again, or take the file away", file=str(path),
        ) from error  # fmt: skip
    x, y = Transformer.from_crs(own, CRS(crs), always_xy=True).transform(points[:, 0], points[:, 1])
    held = zip(frame["site"].tolist(), x.tolist(), y.tolist(), strict=True)
    return {str(site): (float(east), float(north)) for site, east, north in held}
