"""The report in sentences: what a landowner reads, and what a supervisor does."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping

from boscage.model.ledger import ANIMAL_CLASSES
from boscage.model.ledger_effort import GroupTaken, Rate
from boscage.model.ledger_land import DamageChange, NoComparison, Share
from boscage.model.report import ReportResult, UseShare, counted, listed, square_side
from boscage.values import Printer

NOT_KNOWN = "not known"
NOT_THE_REST = "Nothing is said of the other land."
CAUTIONS = (
    "Keep people, dogs and stock away from sets, and never walk up to animals under a net: they charge at whoever "
    "comes near, and net, ropes and stakes hold a load. Tell the operator what you saw and where.",
    "Wild pigs carry disease (brucellosis, pseudorabies): eye protection and rubber gloves near them and their blood, "
    "dogs and stock away, hands, boots, tools and wheels cleaned before other land.",
    "Dead or sick pigs without a cause: touch nothing, keep others off, call the state animal-health office.",
)


def percent(share: float) -> str:
    """A share in whole per cent; never 0 for a little, never 100 for not quite all.

    >>> percent(0.391), percent(0.002), percent(0.998), percent(float("nan"))
    ('39 %', 'under 1 %', 'over 99 %', 'not known')
    """
    if math.isnan(share):
        return NOT_KNOWN
    if 0.0 < share < 0.005:
        return "under 1 %"
    return "over 99 %" if 0.995 <= share < 1.0 else f"{100.0 * share:.0f} %"


def two(value: float) -> str:
    """A rate with two figures.

    >>> two(1.5833), two(0.0421), two(37.2), two(0.0), two(float("nan"))
    ('1.6', '0.042', '37', '0', 'not known')
    """
    if not math.isfinite(value):
        return NOT_KNOWN if math.isnan(value) else "no upper end"
    if value == 0.0:
        return "0"
    digits = 1 - math.floor(math.log10(abs(value)))
    return f"{round(value, digits):,.{max(0, digits)}f}"


def rate_words(rate: Rate) -> str:
    """A rate with its interval."""
    if math.isnan(rate.value):
        return NOT_KNOWN
    return f"{two(rate.value)} ({two(rate.low)} to {two(rate.high)})"


def area_words(hectares: float, printer: Printer) -> str:
    """Land; none of it is no number."""
    return printer.area(hectares) if hectares > 0.0 else "none"


def hours_words(hours: float) -> str:
    """Person-hours; nothing written down is not nought."""
    return NOT_KNOWN if math.isnan(hours) else f"{hours:,.0f} h" if hours >= 9.95 else f"{hours:.1f} h"


def bait_words(kg: float, printer: Printer) -> str:
    """Bait put out."""
    return "bait not written down" if math.isnan(kg) else f"{printer.mass(kg)} of bait"


def nights_words(result: ReportResult) -> str:
    """The nights that the report is of."""
    if result.begin is None or result.end is None:
        return "no night is in the log yet"
    if result.begin == result.end:
        return f"the night of {result.begin}"
    return f"nights of {result.begin} to {result.end}"


def animals_words(by_class: Mapping[str, int]) -> str:
    """Animals by class, those that were caught.

    >>> animals_words({"boar": 1, "sow": 5, "yearling": 0, "piglet": 9})
    '1 boar, 5 sows, 9 piglets'
    """
    return ", ".join(counted(by_class[c], c) for c in ANIMAL_CLASSES if by_class.get(c)) or "no animal"


def copy_words(result: ReportResult) -> str:
    """What kind of copy it is."""
    printer = Printer(result.plan.ranch.units)
    whose = f" Only land of {result.owner}." if result.owner else ""
    if not result.masked:
        others = " Sets on other owners' land are told by squares." if result.owner and result.blur_m else ""
        return f"EXACT COPY: it shows where sets stand. Give it only to people who may know that.{others}{whose}"
    side = printer.length(square_side(result.plan))
    return (
        f"MASKED COPY: a place is told by the square, {side} wide or wider, that it lies in. Exact places, houses, "
        f"gate codes and people are left out.{whose}"
    )


def done_words(result: ReportResult) -> str:
    """What was done, in nights and hours."""
    effort, printer = result.effort, Printer(result.plan.ranch.units)
    if not effort.sites:
        return (
            "The log holds no row that counts. What was done is not known; that is not the same as nothing done. "
            "A row is an evening date, a set and an event; the first is the evening on which bait goes out."
        )
    cameras = "camera nights not known"
    if not math.isnan(effort.camera_nights):
        cameras = counted(round(effort.camera_nights), "camera night")
    worked = "Hours of work are not written down"
    if not math.isnan(effort.hours):
        missing = effort.rows_without_hours
        least = f" at least ({counted(missing, 'row')} without hours)" if missing else ""
        worked = f"{hours_words(effort.hours).removesuffix(' h')} person-hours{least}"
    return (
        f"{counted(effort.sites, 'set')}, {counted(effort.checks, 'check')}. Nights, each set counted by itself: "
        f"{effort.prebait_nights:,} with bait alone, {effort.open_nights:,} with the net hung open, "
        f"{effort.armed_nights:,} armed and ready to catch. {worked}; {bait_words(effort.bait_kg, printer)}; {cameras}."
    )


def caught_words(result: ReportResult) -> str:
    """What was caught, at what rate."""
    caught, rates = result.captures, result.rates
    aside = ""
    if caught.set_aside:
        aside = (
            f" {counted(caught.set_aside, 'animal')} in rows that are set aside, see the rows to mend, are not in it."
        )
    if not caught.total:
        armed = result.effort.armed_nights
        if not armed:
            return f"Nothing: no set was armed.{aside}"
        high = two(rates.per_armed_night.high)
        return (
            f"Nothing on {counted(armed, 'armed night')}. That rules out only rates over {high} animals a night "
            f"({level_words(result)}); nothing caught is not the same as nothing there.{aside}"
        )
    catches = counted(len(caught.nights), "catch")
    per = (
        f"{two(rates.per_armed_night.value)} animals an armed night, {two(rates.hours_per_capture)} hours an animal"
        if not math.isnan(rates.hours_per_capture) else f"{two(rates.per_armed_night.value)} animals an armed night"
    )  # fmt: skip
    return f"{counted(caught.total, 'animal')} in {catches}: {animals_words(caught.by_class)}. {per}.{aside}"


def others_words(result: ReportResult) -> str:
    """Other animals and injuries."""
    caught = result.captures
    parts = []
    if caught.nontargets:
        said = listed([f"{n} {name or 'of no written kind'}" for name, n in caught.nontargets.items()], 5)
        parts.append(f"Other animals at armed sets: {said}")
    elif result.effort.sites:
        parts.append("No other animal is in the log")
    if caught.injuries is None:
        parts.append("nothing is written of injuries" if caught.total else "")
    else:
        hurt = {c: n for c, n in caught.injuries.items() if n}
        parts.append(f"injured: {animals_words(hurt)}" if hurt else "no injury is written down")
    text = "; ".join(p for p in parts if p)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def where_words(result: ReportResult) -> str:
    """What counts as covered, how much, and that nothing is said of the rest."""
    land, printer = result.covered, Printer(result.plan.ranch.units)
    radius = printer.length(land.radius_m)
    if not land.parcels:
        return "No land with permission is known here, so no land counts as covered."
    whole = printer.area(land.granted_ha)
    if not land.sites and not land.covered_ha:
        none = "no set had an armed night" if not result.effort.armed_nights else "no armed set has a place in the log"
        return f"None of the {whole} with permission counts as covered: {none}. {NOT_THE_REST}"
    share = percent(land.covered_ha / land.granted_ha) if land.granted_ha else NOT_KNOWN
    nights = land.hectare_nights / land.covered_ha if land.covered_ha else 0.0
    unit = "acre" if printer.units == "us" else "hectare"
    missing = f" The land of {listed(land.unplaced, 4)} is missing: no place known." if land.unplaced else ""
    return (
        f"Counted as covered: land with permission within {radius} of a set, on at least one armed night. That is "
        f"{printer.area(land.covered_ha)}, {share} of the {whole} with permission; a covered {unit} had "
        f"{two(nights)} armed nights on average. {NOT_THE_REST}{missing}"
    )


def left_words(result: ReportResult) -> str:
    """Known groups and the least number alive, and whether more can be said."""
    groups = result.groups
    if not groups.groups:
        known = "No group is named in the log, so who is left is not known."
    elif not groups.known:
        known = "No group was counted, so who is left is not known."
    else:
        as_of = f" as of {groups.as_of}" if groups.as_of else ""
        alive = (
            f"{counted(groups.minimum_alive, 'animal')} of known groups {'is' if groups.minimum_alive == 1 else 'are'}"
        )
        known = (
            f"At least {alive} still alive{as_of}; {groups.complete} of {counted(groups.known, 'known group')} taken "
            "whole. Strangers, births and deaths are not in it."
        )
        if groups.minimum_alive == 0:
            known = (
                f"No member of a known group is known to be left{as_of}; {groups.complete} of "
                f"{counted(groups.known, 'known group')} taken whole. That is not the same as no pigs."
            )
    return f"{known} {estimate_words(result)}"


def estimate_words(result: ReportResult, *, where: str = "; see the annex") -> str:
    """The estimate of all animals left, or that there is none and why in short, and where the tests stand."""
    removal = result.removal
    if removal.fit and removal.left is not None:
        left, low, high = removal.left
        top = f"{high:,.0f}" if math.isfinite(high) else "no upper end"
        return f"Estimated left of all: {left:,.0f} ({low:,.0f} to {top}, {level_words(result)}). {removal.caveat}"
    failed = [t.name for t in removal.tests if not t.passed]
    return f"How many are left in all cannot be estimated: the log is not fit for it ({', '.join(failed)}{where})."


def level_words(result: ReportResult) -> str:
    """The level of intervals."""
    return f"{100 * result.plan.removal.level:.0f} % interval"


def missing_words(group: GroupTaken) -> str:
    """Who of a group is missing, by class where that is told apart."""
    if group.missing is None:
        return NOT_KNOWN
    return ", ".join(counted(n, c) for c, n in group.missing_by_class.items())


def state_words(group: GroupTaken) -> str:
    """How a group stands."""
    words = {"complete": "taken whole", "missing": "some out", "unsettled": "not settled", "not known": NOT_KNOWN}
    return "none taken" if group.state == "missing" and not group.taken else words[group.state]


def damage_words(result: ReportResult) -> str:
    """Damage before and after in one or two sentences."""
    found = result.damage
    if isinstance(found.change, NoComparison):
        return f"Before and after are not compared: {found.change.reason}"
    if not isinstance(found.change, DamageChange):
        return " ".join(found.notes)
    change = found.change
    first, second = (f" ({d[0]})" if d and d[0] == d[1] else "" for d in found.days)
    what = "of the length walked" if change.unit == "m" else "of the ground looked at"
    fall = change.change
    verdict = "the interval of the change holds no change as well"
    if math.isnan(fall.low):
        verdict = "one transect gives no interval"
    elif fall.high < 0.0:
        verdict = "less than before"
    elif fall.low > 0.0:
        verdict = "MORE than before"
    return (
        f"On the same {counted(change.transects, 'transect')} {interval_words(change.before)} {what} was damaged before"
        f"{first} and {interval_words(change.after)} after{second}: {verdict}."
    )


def interval_words(share: Share) -> str:
    """A damaged share with its interval."""
    if math.isnan(share.low):
        return percent(share.value)
    return f"{percent(share.value)} ({100 * share.low:.0f} to {100 * share.high:.0f} %)"


def sign_words(result: ReportResult) -> str:
    """Fresh sign along the transects before and after, or ''."""
    sign = result.damage.sign
    if sign is None:
        return ""
    is_us = result.plan.ranch.units == "us"
    times, unit = (1.609344, "mile") if is_us else (1.0, "kilometre")
    said = [
        f"{two(times * r.value)} ({two(times * r.low)} to {two(times * r.high)})" for r in (sign.before, sign.after)
    ]
    return f"Fresh sign a {unit} walked: {said[0]} before, {said[1]} after."


def use_words(share: UseShare | None, when: str) -> str:
    """Use within the covered land at one time."""
    if share is None:
        return f"{when}: no dated sign."
    days = f"{share.begin} to {share.end}"
    if math.isnan(share.share):
        return f"{when} ({days}): {counted(share.signs, 'sign')}, too few for a share."
    return f"{when} ({days}): {percent(share.share)} of use, from {counted(share.signs, 'sign')}."


def moment_words(moment: dt.datetime) -> str:
    """A day and a clock time."""
    return f"{moment:%Y-%m-%d %H:%M}"
