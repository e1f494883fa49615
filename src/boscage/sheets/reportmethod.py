"""Definitions, method and limits that the report prints, the same for every ranch, crew and season."""

from __future__ import annotations

from boscage.model.report import ReportResult, square_side
from boscage.sheets.flow import Block, pair, paragraph
from boscage.sheets.reportwords import level_words
from boscage.values import Printer

DEFINITIONS = (
    ("night", "Has the date of its evening: what happens before noon belongs to the evening before."),
    ("set", "One trap placement, the net up or being put up."),
    ("set-night", "One set on one night."),
    ("bait night", "Bait out, no net that could hold an animal."),
    ("open night", "Net hung and left up, so that animals feed inside and go out again."),
    ("armed night", "Net ready to come down and hold animals. Rates count these nights and no others."),
    ("catch", "All captures of one set in one night."),
    ("known", "Largest number of a group that any count and the captures before it add up to; boars that come alone "
              "are left out."),
    ("still out", "Known and not taken: as far as anybody knows alive. A least number, no estimate."),
    ("covered", "Land with permission within the radius of a set on at least one armed night; each place once."),
    ("look", "A check, a catch, another animal in the net, and arming itself."),
    ("person-hours", "Hours of all people together, as written in the log."),
)  # fmt: skip


def definition_blocks(result: ReportResult, width: float) -> list[Block]:
    """Words and what they count."""
    return [pair(word, text, width, label_mm=24.0) for word, text in DEFINITIONS]


def method_blocks(result: ReportResult, width: float) -> list[Block]:
    """How each figure was reckoned, and what it cannot say."""
    plan, printer = result.plan, Printer(result.plan.ranch.units)
    radius = printer.length(result.covered.radius_m)
    circles = (
        f"Circles of {radius} [V: McRae et al., area of influence of a bait place 6.7 km²; the plan may state another] "
        "are joined, cut to land with permission, and measured on the map's plane. How far a set draws animals differs "
        "with bait, season and ground; a circle is a rule for counting and no proof that animals came."
    )
    texts = [
        f"Rates: number over armed nights with the exact Poisson interval (Garwood 1936), {level_words(result)}. "
        "Animals come in groups, so that of animals is too narrow; that of catches takes each group once.",
        circles,
        "Groups: counts come from the log (column known, or a number at the end of a group's name) and from cameras "
        "that the plan links to a group. Births, deaths and strangers are not counted.",
        f"Estimate of all animals: passes of {plan.removal.pass_days} days; maximum likelihood (Moran, Zippin) for "
        "even effort, Leslie else; offered only if passes, time, closure, catch, fall, rate and interval meet the "
        "limits of Davis et al. (2016). A ranch job that takes whole groups seldom does.",
        "Damage: length or area damaged over length or area surveyed, the transect as the unit (ratio estimate, "
        "Student's t), on the same transects only.",
        "Use: kernel density of sign weighted by kind and age; its share within the covered land.",
        "Checks: hours from look to look by the clock times written down; a look without a time may be anywhere from "
        "noon of its date to noon of the next day.",
    ]
    if result.masked:
        square = printer.length(square_side(plan))
        off = f", up to {printer.length(result.blur_m)} off" if result.blur_m else ""
        texts.append(
            f"This copy is masked: sets are told by squares of {square}, larger where less than half a square is land "
            f"with permission; circles are drawn round the middles of squares{off}; areas are from the true places, "
            "rounded to three figures. Somebody with the parcel map and patience could work places back from the areas "
            "of single parcels: to strangers pass on the first two pages alone."
        )
    return [b for text in texts for b in paragraph(text, width, bullet=True)]
