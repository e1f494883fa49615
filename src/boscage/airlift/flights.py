"""Flights: which loads go together, in which order, over which legs, and how long they are in the air."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from boscage.airlift.legs import Flight, Stop, distances, fly
from boscage.airlift.sorties import SortieRules, plan_sorties
from boscage.model.brief import FlightRound, SlungLoad
from boscage.model.drop import Load, Sortie
from boscage.model.drop_plan import BriefOptions, DropOptions

Floats = NDArray[np.float64]


def flight_of(options: DropOptions, date: dt.date) -> Flight:
    """What the plan states of the day, as legs take it."""
    return Flight(
        date=date, declination_deg=options.declination, ground_speed_kt=options.ground_speed_kt,
        air_speed_kt=options.air_speed_kt, wind_deg=options.wind_deg, wind_kt=options.wind_kt,
    )  # fmt: skip


def plan_flights(
    loads: Sequence[SlungLoad], base: Stop, stops: Mapping[str, Stop], flight: Flight,
    options: tuple[DropOptions, BriefOptions],
) -> tuple[tuple[SlungLoad, ...], tuple[FlightRound, ...], bool]:  # fmt: skip
    """Loads on flights in the order that takes least: minutes where a speed makes them known, else metres.

    The limit holds for everything on the hook: line and swivel once a flight, a sling net with each load. What is not
    stated of these is not taken off.

    Args:
        loads: In any order; number, flight and order are filled in.
        stops: By site.

    Returns:
        The loads by number, those over the limit last; the flights; whether it is proven that none take less.
    """
    drop, brief = options
    names = list(dict.fromkeys(load.site for load in loads))
    table = _table([base, *(stops[n] for n in names)], flight)
    sling = 0.0 if brief.sling_mass is None else brief.sling_mass.kg
    slung = [Load(site=load.site, mass_kg=load.items_kg + sling) for load in loads]
    limit = None if drop.load_limit is None else drop.load_limit.kg - hanging_kg(brief)
    made = plan_sorties(slung, names, table, SortieRules(limit_kg=limit, most_loads=drop.hooks))
    numbered: list[SlungLoad] = []
    rounds = []
    for n, sortie in enumerate(made.sorties, start=1):
        first = len(numbered)
        numbered += [
            replace(loads[k], number=first + order, flight=n, order=order) for order, k in enumerate(sortie.loads, 1)
        ]
        rounds.append(_round(n, sortie, [base, *(stops[names[k]] for k in sortie.stops), base], flight, first))
    over = [replace(loads[k], number=len(numbered) + n, flight=0, order=0) for n, k in enumerate(made.over_limit, 1)]
    return (*numbered, *over), tuple(rounds), made.is_least


def hanging_kg(brief: BriefOptions) -> float:
    """Line and swivel as far as they are stated."""
    return sum(m.kg for m in (brief.line_mass, brief.swivel_mass) if m is not None)


def _round(number: int, sortie: Sortie, places: Sequence[Stop], flight: Flight, first: int) -> FlightRound:
    legs = fly(places, flight)
    known = [leg.minutes for leg in legs if leg.minutes is not None]
    return FlightRound(
        number=number, loads=tuple(range(first + 1, first + 1 + len(sortie.loads))), legs=legs, mass_kg=sortie.mass_kg,
        minutes=sum(known) if len(known) == len(legs) else None,
    )  # fmt: skip


def _table(places: Sequence[Stop], flight: Flight) -> Floats:
    """(D + 1, D + 1) minutes of each way, or metres where one of them has none."""
    count = len(places)
    minutes = np.zeros((count, count))
    for a in range(count):
        for b in range(count):
            if a != b:
                took = fly([places[a], places[b]], flight)[0].minutes
                if took is None:
                    return distances(places)
                minutes[a, b] = took
    return minutes
