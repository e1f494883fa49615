"""Points in JSON lines: one object a line with `lon`, `lat` and whatever else the layer needs."""

from __future__ import annotations

import json
from pathlib import Path

import geopandas
import shapely

from boscage.readers.protocol import RawVector, Request


class JsonLinesReader:
    """Opens `.jsonl` files whose lines are points in WGS 84 degrees."""

    name = "jsonlines"
    kinds = ("vector",)

    def claims(self, path: Path) -> bool:
        """Whether the file's ending is `.jsonl`."""
        return path.suffix.lower() == ".jsonl"

    def read(self, request: Request) -> RawVector:
        """Every line as a point with its row.

        Raises:
            LayerError: A line is no JSON object, or has no `lon` and `lat` that are numbers.
        """
        rows, shapes = [], []
        for number, line in enumerate(request.path.read_text(encoding="utf-8").splitlines(), start=1):
            try:
                item = dict(json.loads(line))
                shapes.append(shapely.Point(float(item.pop("lon")), float(item.pop("lat"))))
            except (ValueError, TypeError, KeyError) as error:
                raise request.error(
                    f"the line is {line!r}", expected='a point such as {"lon": -92.7, "lat": 36.2}', row=number
                ) from error
            rows.append({**item, "row": number})
        return RawVector(frame=geopandas.GeoDataFrame(rows, geometry=shapes, crs="EPSG:4326"))
