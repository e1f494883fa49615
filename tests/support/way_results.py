"""Made-up ways in and sight lines for looking at pages: figures from closed forms, nothing computed by the program."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from boscage.model.exposure import Exposure, Sighting
from boscage.model.journey import ATV, FOOT, VEHICLE, Journey, Leg, NoWay

Heights = Callable[[np.ndarray, np.ndarray], np.ndarray]
CROSSINGS = (
    "gate Sorrel gate",
    "gate Mill gate (locked: get the key or the code)",
    "a fence line once by ATV: look for its gate",
    "mapped water once on foot",
)


def make_leg(kind: str, line: np.ndarray, heights: Heights | None, *, kmh: float, change_min: float = 0.0) -> Leg:
    """A leg over a line, at one speed, on closed-form ground; without it heights are NaN."""
    z = np.full(len(line), np.nan) if heights is None else heights(line[:, 0], line[:, 1])
    far = float(np.hypot(*np.diff(line, axis=0).T).sum())
    rises = np.diff(z)
    up, down = float(rises[rises > 0].sum()), float(-rises[rises < 0].sum())
    return Leg(
        kind=kind, line=line, elevation_m=z, minutes=far / 1000.0 / kmh * 60.0, change_min=change_min, distance_m=far,
        climb_m=np.nan if heights is None else up, descent_m=np.nan if heights is None else down,
    )  # fmt: skip


def turned(leg: Leg, *, slower: float, change_min: float) -> Leg:
    """The leg the other way round."""
    return Leg(
        kind=leg.kind, line=leg.line[::-1], elevation_m=leg.elevation_m[::-1], minutes=leg.minutes * slower,
        change_min=change_min, distance_m=leg.distance_m, climb_m=leg.descent_m, descent_m=leg.climb_m,
    )  # fmt: skip


def full_journey(x: float, y: float, heights: Heights | None, *, start: str = "the gate Sorrel gate") -> Journey:
    """Vehicle, ATV and foot to a place, from the north-west."""
    t = np.linspace(0.0, 1.0, 120)[:, None]
    carry = np.array([x, y]) + (1 - t) * (-180.0, 150.0) + np.c_[0 * t, 25 * np.sin(6 * t) * (1 - t)]
    hub = carry[0]
    ride = hub + (1 - t) * (-420.0, 260.0) + np.c_[60 * np.sin(3.1416 * t), 0 * t]
    drive = ride[0] + (1 - t) * (-350.0, 1300.0) + np.c_[140 * np.sin(3.1416 * 2 * t), 0 * t]
    inward = (
        make_leg(VEHICLE, drive, heights, kmh=15.0), make_leg(ATV, ride, heights, kmh=6.0, change_min=10.0),
        make_leg(FOOT, carry, heights, kmh=2.4, change_min=5.0),
    )  # fmt: skip
    outward = (
        turned(inward[2], slower=1.2, change_min=0.0), turned(inward[1], slower=1.1, change_min=5.0),
        turned(inward[0], slower=1.0, change_min=10.0),
    )  # fmt: skip
    return Journey(
        start=start, inward=inward, outward=outward, load_kg=22.68,
        load_note="net alone; no gear list of this place yet", trips=1, share_kg=11.34,
        carry_min=inward[2].minutes, kcal=123.0, crossings=CROSSINGS,
    )  # fmt: skip


def one_leg(x: float, y: float, heights: Heights | None) -> Journey:
    """A place beside the road."""
    t = np.linspace(0.0, 1.0, 60)[:, None]
    leg = make_leg(VEHICLE, np.array([x, y]) + (1 - t) * (900.0, -350.0), heights, kmh=15.0)
    return Journey(
        start="the public road", inward=(leg,), outward=(turned(leg, slower=1.0, change_min=0.0),), load_kg=22.68,
        load_note="gear list of this place", trips=1, share_kg=11.34, carry_min=0.0, kcal=0.0,
    )  # fmt: skip


NO_WAY = NoWay(
    reason="Not reachable: the nearest way is barred by land without permission (parcel Teasel inholding) and a pond.",
    barriers=("land without permission (parcel Teasel inholding)", "a pond"),
)


def make_exposure(x: float, y: float, *, seen: float = 1.0, names: tuple[str, ...] = ("County Road 12", "", "house 1"),
                  radius_m: float = 600.0) -> Exposure:  # fmt: skip
    """Watchers along a road, a track and at a house; `seen` scales every share of sight."""
    t = np.linspace(-1.0, 1.0, 56)
    road = np.c_[x - 380 + 40 * np.sin(4 * t), y + 560 * t]
    track = np.c_[x + 540 * t, y + 170 + 60 * np.sin(5 * t)]
    house = np.array([[x + 300.0, y - 330.0]])
    places = np.vstack([road, track, house])
    places = places[np.hypot(*(places - (x, y)).T) <= radius_m]
    off = places - (x, y)
    shares = np.maximum(0.0, np.sin(off[:, 0] / 130.0) * np.cos(off[:, 1] / 210.0)) ** 2 * seen
    shares[-1] = 0.62 * seen
    order = np.argsort(-shares, kind="stable")
    picked = [order[0], order[len(order) // 8], order[len(order) // 5]]
    kinds = ("public road", "track", "dwelling")
    worst = tuple(
        Sighting(
            kind=kind, name=name, x_m=float(places[k, 0]), y_m=float(places[k, 1]), distance_m=float(np.hypot(*off[k])),
            bearing_deg=float(np.degrees(np.arctan2(off[k, 0], off[k, 1])) % 360), share=float(shares[k]),
            looks=float(shares[k] * 2.0),
        )
        for k, kind, name in zip(picked, kinds, names, strict=True)
    )  # fmt: skip
    return Exposure(
        net_looks=3.44 * seen, activity_looks=0.03 * seen, worst=worst if seen else (), watchers=places, shares=shares,
        radius_m=radius_m,
    )  # fmt: skip
