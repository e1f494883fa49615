"""Vector formats: GeoPackage, Shapefile, GeoJSON, FlatGeobuf, KML, GPX and what else the installed driver opens."""

from __future__ import annotations

import warnings
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boscage.readers.protocol import RawVector, Request, plain_reason

if TYPE_CHECKING:
    import geopandas

SUFFIXES = frozenset(
    {".gpkg", ".shp", ".geojson", ".json", ".geojsonl", ".fgb", ".kml", ".kmz", ".gpx", ".zip", ".gml", ".gdb", ".tab",
     ".mif", ".sqlite"}
)  # fmt: skip
POINT_LAYERS = ("sign", "dwellings", "gates", "probes")


class VectorReader:
    """Opens vector files through GDAL."""

    name = "vector"
    kinds = ("vector",)

    def claims(self, path: Path) -> bool:
        """Whether the file's ending is one of a vector format."""
        return path.suffix.lower() in SUFFIXES

    def read(self, request: Request) -> RawVector:
        """Read the layer, or the layers, that the plan asks for.

        Raises:
            LayerError: The file is broken, has no such layer, or has several and the plan does not say which.
        """
        import geopandas
        import pandas as pd

        chosen, notes = _choose(_list_layers(request), request)
        frames, doubts = [], []
        for layer in chosen:
            frame, said = _read_layer(request, layer)
            frame["row"] = np.arange(1, len(frame) + 1)
            frames.append(frame)
            doubts += said
        if len(frames) == 1:
            return RawVector(frame=frames[0], notes=notes, doubts=tuple(doubts))
        first = next((f.crs for f in frames if f.crs is not None), None)
        alike = [f if f.crs is None or f.crs == first else f.to_crs(first) for f in frames]
        held = [f for f in alike if len(f)] or alike[:1]
        joined = geopandas.GeoDataFrame(pd.concat(held, ignore_index=True), geometry="geometry", crs=first)
        return RawVector(frame=joined, notes=notes, doubts=tuple(doubts))


def _open_error(request: Request, error: Exception) -> Exception:
    reason = plain_reason(error, request)
    mend = "open it in a GIS program and save it again as GeoPackage"
    if request.path.suffix.lower() == ".shp":
        mend = "a Shapefile is several files: bring its .shx and .dbf along"
    return request.error(f"the file cannot be opened ({reason})", mend=mend)


def _list_layers(request: Request) -> list[str]:
    """Names of the layers that hold geometry, and by the plan's wish those that do not exist for us are left out."""
    import pyogrio

    try:
        rows = pyogrio.list_layers(request.path)
    except Exception as error:
        raise _open_error(request, error) from error
    return [str(name) for name, geometry in rows if geometry is not None]


def _choose(names: list[str], request: Request) -> tuple[list[str], tuple[str, ...]]:
    """The layers to read, and a phrase that says which where the plan did not."""
    if not names:
        raise request.error("the file holds no layer with geometry", expected="points, lines or polygons with places")
    wanted = request.spec.layer
    if wanted is not None:
        parts = [wanted] if wanted in names else [p.strip() for p in wanted.split(",")]
        for part in parts:
            if part not in names:
                raise request.error(
                    f"there is no layer {part} in the file", mend=f"name one of its layers: {', '.join(names)}",
                    field="layer",
                )  # fmt: skip
        return parts, (f"layer {', '.join(parts)}",) if len(names) > 1 else ()
    if len(names) == 1:
        return names, ()
    if request.path.suffix.lower() == ".gpx":
        parts = ["waypoints"] if request.layer in POINT_LAYERS else ["tracks", "routes"]
        return [n for n in names if n in parts], (f"GPX {' and '.join(parts)}",)
    if request.layer == "water":
        return names, (f"all layers of the file: {', '.join(names)}",)
    raise request.error(
        f"the file holds {len(names)} layers", mend=f'state which one: layer = "..." out of {", ".join(names)}',
        field="layer",
    )  # fmt: skip


def _read_layer(request: Request, layer: str) -> tuple[geopandas.GeoDataFrame, list[str]]:
    """One layer, and what the driver complained of."""
    import geopandas
    import pyogrio

    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        try:
            frame = pyogrio.read_dataframe(request.path, layer=layer)
        except Exception as error:
            raise _open_error(request, error) from error
    if not isinstance(frame, geopandas.GeoDataFrame):
        raise request.error(f"the layer {layer} holds no geometry")
    if frame.geometry.name != "geometry":
        frame = frame.rename_geometry("geometry")
    said = sorted({str(w.message).splitlines()[0] for w in caught if not _is_noise(str(w.message))})
    return frame, [f"the file's driver says: {text.rstrip('.')}; check the file." for text in said]


def _is_noise(message: str) -> bool:
    """Driver messages about how it works inside that say nothing of the data."""
    return "Measured (M) geometry types" in message or "organizePolygons" in message
