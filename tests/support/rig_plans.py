"""Rig plans from closed forms: trees on a regular polygon, built supports on its circle, other stems on a spiral."""

from __future__ import annotations

import datetime as dt
import itertools
import math
from dataclasses import dataclass, replace

from boscage.model.rig import Contact, NoRing, Ring, RingOptions, Span, Stem, Tried
from boscage.model.rig_plan import (
    ApronBand,
    BuiltSupport,
    GearItem,
    Loads,
    NetProfile,
    RiggedContact,
    RiggingOptions,
    RigPlan,
    RigResult,
    Stake,
    Steadiness,
    Tie,
)

DATE = dt.date(2026, 11, 21)
NOTE = "Invented data for examples. No real place, owner or animal."
KINDS = ("sapling", "high_rope", "guy_line", "stake", "post")
PLANNING = "planning mass, common practice without a source: weigh it"


@dataclass(frozen=True, kw_only=True)
class RigWish:
    """What a made-up rig plan should be like."""

    contacts: int = 6
    built: int = 3
    radius_m: float = 2.8
    stems: int = 20
    long_ids: bool = False
    posts: int = 0
    units: str = "us"
    paper: str = "letter"
    name: str = "DH-01"
    declination_deg: float = -0.6
    stated: bool = True
    convergence_deg: float = 0.0
    crs: str | None = None
    pivot_stem: bool = False
    date: dt.date | None = DATE
    note: str | None = NOTE
    notes: int = 2
    guy_m: float = 3.0
    steady: float | None = 0.93
    odd: bool = False


def stem_id(wish: RigWish, number: int) -> str:
    """A tag; twenty letters if so wished."""
    return f"creek-plot-W-stem{number:03d}" if wish.long_ids else str(number)


def polar(radius_m: float, turn: float) -> tuple[float, float]:
    """A place on a circle round the origin, `turn` in whole turns counter-clockwise from 30 degrees."""
    angle = math.radians(30.0) + 2 * math.pi * turn
    return radius_m * math.cos(angle), radius_m * math.sin(angle)


def azimuth(start: tuple[float, float], end: tuple[float, float]) -> float:
    """Grid azimuth, degrees."""
    return math.degrees(math.atan2(end[0] - start[0], end[1] - start[1])) % 360.0


def made_result(**wishes: object) -> RigResult:
    """A result with a ring."""
    wish = RigWish(**wishes)  # type: ignore[arg-type]
    return RigResult(
        name=wish.name, plan=made_plan(wish), units=wish.units, paper=wish.paper, note=wish.note,
        ranch="Dunnock Hollow Ranch",
    )  # fmt: skip


def made_miss(name: str = "DH-02", *, units: str = "us", paper: str = "letter") -> RigResult:
    """A result without a ring."""
    none = NoRing(
        reason="Only 3 trees are thick enough and stand close enough together; 5 are needed.",
        nearest_miss="The nearest is a ring of 3 trees (stems 4, 9 and 12), 2 short of 5, 52.1 ft round.",
        options=RingOptions(perimeter_m=18.288), tried=Tried(stems=41, usable=17, chains=880, rings=3, placed=2),
    )  # fmt: skip
    return RigResult(name=name, plan=None, none=none, units=units, paper=paper, note=NOTE, ranch="Dunnock Hollow Ranch")


def made_plan(wish: RigWish) -> RigPlan:
    """The plan of a wish. Bearings are grid azimuth + convergence - declination."""
    n, pivot = wish.contacts, (0.0, 0.0)
    stems = [_contact_stem(wish, k) for k in range(n)]
    ring = _ring(wish, stems)
    others = _others(wish)
    supports = _supports(wish, ring)
    named = [_sapling(wish, s) for s in supports if s.kind == "sapling"]
    named += [_anchor(s) for s in supports if s.tie is not None and s.tie.stem is not None]
    if wish.pivot_stem:
        others.append(Stem(stem="pivot-tree", x_m=0.0, y_m=0.0, dbh_m=0.22))
    outline = ring.outline
    inner = [(0.62 * x, 0.62 * y) for x, y in outline]
    return RigPlan(
        name=wish.name, date=wish.date, ring=ring, net=NetProfile(height_m=1.524, netting_m=2.7432, mass_kg=22.68),
        options=RiggingOptions(), pivot=pivot, pivot_stem="pivot-tree" if wish.pivot_stem else None,
        declination_deg=wish.declination_deg, declination_stated=wish.stated,
        contacts=tuple(_contact(wish, ring, k) for k in range(n)), supports=supports,
        stakes=tuple(
            Stake(x_m=x, y_m=y, offset_m=0.38 * wish.radius_m, bearing_deg=_magnetic(wish, azimuth(pivot, (x, y))),
                  distance_m=math.hypot(x, y)) for x, y in inner
        ),
        apron=ApronBand(near_m=1.22, best_m=1.52, far_m=2.28, room_m=0.8 * wish.radius_m, profile=_profile()),
        loads=Loads(
            pretension_n=220.0, push_n=450.0, longest_span_m=1.9, dip_m=0.31, push_tension_n=890.0, own_sag_m=0.025,
            widest_span_m=4.6, capstan_ratio=math.exp(0.2 * 4 * math.pi), largest_pull_n=215.0,
        ),
        gear=_gear(wish),
        steadiness=None if wish.steady is None else Steadiness(
            holds_share=wish.steady, draws=500, weakest=stems[0].stem if stems[0] else None,
            error="standard errors of 1 degree of bearing and 1 % of distance from the pivot",
        ),
        inside=tuple(s for s in others if math.hypot(s.x_m, s.y_m) < 0.9 * wish.radius_m),
        near_wall=tuple(s for s in others if s.kind == "tree" and abs(math.hypot(s.x_m, s.y_m) - wish.radius_m) < 0.4),
        closure=outline[0],
        closure_text=f"At contact 1 (stem {_id(stems[0])}). Both ends of the net are caught in the same tie there, and "
        "the slack is gathered at it.",
        nearby=(*[s for s in stems if s], *others, *named), notes=tuple(
            f"Note {k}: a thing that has to be said about this plan, in a sentence of middling length."
            for k in range(wish.notes)
        ),
        crs=wish.crs, stems_source="stem list creek.csv",
    )  # fmt: skip


def _id(stem: Stem | None) -> str:
    return "post" if stem is None else stem.stem


def _magnetic(wish: RigWish, grid_deg: float) -> float:
    return (grid_deg + wish.convergence_deg - wish.declination_deg) % 360.0


def _stretch(wish: RigWish, k: int) -> float:
    """Radius of a corner: one, or alternately shorter and longer."""
    return wish.radius_m * (1.0 if not wish.odd else (1.0, 1.12, 0.93)[k % 3])


def _contact_stem(wish: RigWish, k: int) -> Stem | None:
    if k >= wish.contacts - wish.posts:
        return None
    dbh = 0.24 + 0.03 * (k % 5)
    x, y = polar(_stretch(wish, k) + 0.3 + dbh / 2, k / wish.contacts)
    return Stem(stem=stem_id(wish, k + 1), x_m=x, y_m=y, dbh_m=dbh)


def _ring(wish: RigWish, stems: list[Stem | None]) -> Ring:
    n = wish.contacts
    corners = [polar(_stretch(wish, k), k / n) for k in range(n)]
    shares = [wish.built // n + (k < wish.built % n) for k in range(n)]
    spans, finished = [], 0.0
    for k in range(n):
        places = tuple(polar(wish.radius_m, (k + (j + 1) / (shares[k] + 1)) / n) for j in range(shares[k]))
        chain = [corners[k], *places, corners[(k + 1) % n]]
        run = sum(math.dist(a, b) for a, b in itertools.pairwise(chain))
        finished += run
        length = math.dist(corners[k], corners[(k + 1) % n])
        spans.append(Span(first=k, second=(k + 1) % n, length_m=length, supports=places, finished_m=run))
    around = sum(s.length_m for s in spans)
    area = 0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(corners, [*corners[1:], corners[0]], strict=True))
    roundness = 4 * math.pi * area / around**2
    return Ring(
        support="hybrid" if wish.posts else "trees", score=100 * (roundness - 0.03 * (wish.built + wish.posts)),
        roundness=roundness, perimeter_m=around, area_m2=area, finished_roundness=min(1.0, roundness + 0.02),
        finished_m=finished, finished_m2=area * 1.02,
        contacts=tuple(
            Contact(x_m=x, y_m=y, stem=s, standoff_m=0.3 if s else 0.0)
            for (x, y), s in zip(corners, stems, strict=True)
        ),
        spans=tuple(spans), options=RingOptions(perimeter_m=finished * 1.01, contacts=3), tried=Tried(stems=60),
        best_at_bark=71.2,
    )  # fmt: skip


def _contact(wish: RigWish, ring: Ring, k: int) -> RiggedContact:
    own = ring.contacts[k]
    at = (own.stem.x_m, own.stem.y_m) if own.stem else (own.x_m, own.y_m)
    other = ring.contacts[(k + 2) % wish.contacts]
    far = (other.stem.x_m, other.stem.y_m) if other.stem else (other.x_m, other.y_m)
    rest = tuple(_id(c.stem) for j, c in enumerate(ring.contacts) if j != k and c.stem)
    rest += (stem_id(wish, 103),) if k % 2 else ()
    thick = own.stem.dbh_m if own.stem else 0.06
    strap = 2 * math.pi * thick + own.standoff_m + 0.3048
    return RiggedContact(
        number=k + 1, x_m=own.x_m, y_m=own.y_m, stem=own.stem, bearing_deg=_magnetic(wish, azimuth((0, 0), at)),
        distance_m=math.hypot(*at), check_from=(k + 2) % wish.contacts + 1, check_m=math.dist(at, far),
        turning_deg=360 / wish.contacts, pull_n=215.0, strap_m=strap,
        strap_stock_m=None if k == 3 else math.ceil(strap / 0.6096) * 0.6096, standoff_m=own.standoff_m,
        without_score=None if k == 1 else 60.0 + k, without_stems=() if k == 1 else rest, without_built=k + 2,
    )  # fmt: skip


def _supports(wish: RigWish, ring: Ring) -> tuple[BuiltSupport, ...]:
    places: list[tuple[tuple[float, float], str]] = []
    for corner, span in zip(ring.contacts, ring.spans, strict=True):
        if corner.stem is None:
            places.append(((corner.x_m, corner.y_m), "post"))
        places += [(p, KINDS[(len(places) + j) % len(KINDS)]) for j, p in enumerate(span.supports)]
    return tuple(_support(wish, k, place, kind) for k, (place, kind) in enumerate(places))


def _support(wish: RigWish, k: int, place: tuple[float, float], kind: str) -> BuiltSupport:
    out = math.hypot(*place)
    reach = wish.guy_m + 0.4 * (k % 3)
    end = (place[0] * (1 + reach / out), place[1] * (1 + reach / out))
    tree = None if kind in ("stake", "post") else stem_id(wish, 40 + k)
    up = 3.0 if kind == "high_rope" else 0.0
    tie = None if kind == "post" else Tie(
        stem=tree, x_m=end[0], y_m=end[1], length_m=math.hypot(reach, 1.5), angle_deg=34.0,
        bearing_deg=_magnetic(wish, azimuth(place, end)), off_line_deg=0.0, made_fast_m=up, tension_n=160.0,
        uplift_n=90.0,
    )  # fmt: skip
    return BuiltSupport(
        label=chr(ord("a") + k), x_m=place[0], y_m=place[1], kind="guy_line" if kind == "stake" else kind,
        stem=stem_id(wish, 70 + k) if kind == "sapling" else tree, tie=tie, pull_n=130.0,
        bearing_deg=_magnetic(wish, azimuth((0, 0), place)), distance_m=out,
    )  # fmt: skip


def _sapling(wish: RigWish, support: BuiltSupport) -> Stem:
    out = math.hypot(support.x_m, support.y_m)
    at = (support.x_m * (1 + 0.35 / out), support.y_m * (1 + 0.35 / out))
    return Stem(stem=str(support.stem), x_m=at[0], y_m=at[1], dbh_m=0.06, kind="sapling")


def _anchor(support: BuiltSupport) -> Stem:
    """The tree behind the end of a line."""
    tie = support.tie
    assert tie is not None
    x, y = tie.x_m - support.x_m, tie.y_m - support.y_m
    far = 0.14 / math.hypot(x, y)
    return Stem(stem=str(tie.stem), x_m=tie.x_m + far * x, y_m=tie.y_m + far * y, dbh_m=0.28)


def _others(wish: RigWish) -> list[Stem]:
    """Stems on a sunflower spiral, off the wall."""
    kinds = ("tree", "tree", "sapling", "dead", "tree", "leaning")
    made = []
    for k in range(wish.stems):
        r, turn = 0.9 + 1.05 * wish.radius_m * math.sqrt(k / 8), 0.381966 * k
        if abs(r - wish.radius_m - 0.3) < 0.55:
            continue
        x, y = polar(r, turn)
        kind = kinds[k % len(kinds)]
        dbh = 0.05 if kind == "sapling" else 0.08 + 0.05 * (k % 7)
        made.append(Stem(stem=stem_id(wish, 100 + k), x_m=x, y_m=y, dbh_m=dbh, kind=kind))  # type: ignore[arg-type]
    return made


def _profile() -> tuple[tuple[float, float], ...]:
    """A catenary of constant 0.4 m from 1.524 m down, then flat to the stake."""
    a, height = 0.4, 1.524
    reach = a * math.acosh(1 + height / a)
    hang = [(reach - reach * t, a * (math.cosh(reach * t / a) - 1)) for t in [1 - k / 24 for k in range(25)]]
    return (*hang, (1.52, 0.0)) if reach < 1.52 else tuple(hang)


def _gear(wish: RigWish) -> tuple[GearItem, ...]:
    gear = [
        GearItem(item="net with its top rope", count=1, length_m=18.288, mass_kg=22.68, note="dry, as stated; wet it "
                 "weighs more"),
        GearItem(item="strap", count=8, length_m=2.4384, mass_kg=0.11, note=PLANNING),
        GearItem(item="strap", count=6, length_m=3.048, mass_kg=0.14, note=f"2 spare; {PLANNING}"),
        GearItem(item="guy rope", count=1, length_m=14.2, mass_kg=0.71, note=f"in all, for 3 lines, knots included; "
                 f"{PLANNING}"),
        GearItem(item="stake", count=13, mass_kg=0.5, note=f"2 spare; {PLANNING}"),
        GearItem(item="mallet", count=1, mass_kg=1.4, note=PLANNING),
        GearItem(item="measuring tape", count=1, mass_kg=0.5, note=PLANNING),
        GearItem(item="ladder", count=1, note="own"),
    ]  # fmt: skip
    return tuple(gear)


def with_plan(result: RigResult, **changes: object) -> RigResult:
    """A result whose plan differs in some fields."""
    assert result.plan is not None
    return replace(result, plan=replace(result.plan, **changes))  # type: ignore[arg-type]
