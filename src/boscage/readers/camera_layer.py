"""The camera layer: one package, or a folder of packages, with its places in the ranch's CRS."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from boscage.errors import LayerError
from boscage.model.camtrap import PACKAGE
from boscage.model.groups import CameraData
from boscage.model.layers import LayerReport
from boscage.readers.camtrap import read_camera_packages
from boscage.readers.crs import WGS84
from boscage.readers.digest import digest_of
from boscage.readers.geometry import FAR_M
from boscage.readers.protocol import Request

if TYPE_CHECKING:
    from boscage.readers.parcels import Ranch

MOST_LISTED = 3


@dataclass(frozen=True, kw_only=True)
class CameraLayer:
    """What cameras saw.

    Attributes:
        report: What is to be said of it; its state is `missing` where no camera stands at the ranch.
        data: All packages together, or None then.
        places: East and north of each deployment.
    """

    report: LayerReport
    data: CameraData | None
    places: Mapping[str, tuple[float, float]]


def make_cameras(request: Request, ranch: Ranch) -> CameraLayer:
    """Read the packages that the plan names: the folder itself, or every folder inside it that holds one.

    Raises:
        LayerError: There is no package, or one cannot be used; the message says why.
    """
    data = _read(request)
    places = _places(data, ranch)
    far = [key for key, (x, y) in places.items() if not _near(x, y, ranch)]
    doubts = list(data.doubts)
    if far:
        doubts.append(f"cameras more than 5 km from the ranch: {len(far)} ({', '.join(far[:MOST_LISTED])}); left out.")
    if data.bad:
        told = "; ".join(f"{b.table} row {b.row}, {b.field}: {b.text.rstrip('.')}" for b in data.bad[:MOST_LISTED])
        more = "" if len(data.bad) <= MOST_LISTED else f"; and {len(data.bad) - MOST_LISTED} more"
        doubts.append(f"rows that break the standard are left out: {len(data.bad)} ({told}{more}).")
    near = {key: place for key, place in places.items() if key not in far}
    state = "missing" if not near else "doubtful" if doubts else "usable"
    if not near:
        doubts.append("no camera stands at the ranch; check the latitude and longitude.")
    report = LayerReport(
        name=request.layer, state=state, read=_said(data), date=request.spec.date or _last_day(data, ranch),
        doubts=tuple(doubts), source=request.spec.source or "", crs="EPSG:4326", digest=digest_of(request.path),
    )  # fmt: skip
    return CameraLayer(report=report, data=data if near else None, places=near)


def _read(request: Request) -> CameraData:
    path = request.path
    folders = [path] if (path / PACKAGE).is_file() else sorted(p.parent for p in path.glob(f"*/{PACKAGE}"))
    if not folders:
        raise request.error(
            f"there is no {PACKAGE}", expected="a Camtrap DP package, or a folder of them",
            mend="name the folder that holds the package",
        )  # fmt: skip
    try:
        return read_camera_packages(folders)
    except LayerError as error:
        shown = Path(request.spec.path) / Path(str(error.file)).relative_to(path)
        raise LayerError(
            error.wrong, expected=error.expected, mend=error.mend, file=shown.as_posix(), layer=request.layer,
            field=error.field, row=error.row,
        ) from error  # fmt: skip


def _places(data: CameraData, ranch: Ranch) -> dict[str, tuple[float, float]]:
    from pyproj import Transformer

    held = list(data.deployments.values())
    if not held:
        return {}
    to = Transformer.from_crs(WGS84, ranch.crs, always_xy=True)
    x, y = to.transform([d.lon for d in held], [d.lat for d in held])
    return {d.deployment: (float(a), float(b)) for d, a, b in zip(held, x, y, strict=True) if np.isfinite([a, b]).all()}


def _near(x: float, y: float, ranch: Ranch) -> bool:
    box = ranch.bounds.padded(FAR_M)
    return box.west <= x <= box.east and box.south <= y <= box.north


def _last_day(data: CameraData, ranch: Ranch) -> object:
    days = [s.start.date() for s in data.sightings if s.start.date() <= ranch.date]
    return max(days, default=None)


def _said(data: CameraData) -> str:
    rows = "row of people or vehicles is" if data.people == 1 else "rows of people or vehicles are"
    people = f"; {data.people} {rows} left out of everything" if data.people else ""
    packages = "" if len(data.packages) == 1 else f" in {len(data.packages)} packages"
    return (
        f"{len(data.deployments)} cameras{packages}, {len(data.sightings)} rows of observations, Camtrap DP "
        f"{data.version}{people}"
    )
