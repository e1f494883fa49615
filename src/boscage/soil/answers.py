"""Can the ground be posted, staked, dug? All that one place allows, each answer with its reason.

Ground that is not known is never 'yes'.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from boscage.model.soil import (
    APRON_STAKES,
    ApronKind,
    ApronStakes,
    GroundAnswer,
    Moisture,
    PostAnswer,
    SoilOptions,
    StakeAnswer,
)
from boscage.soil.burial import answer_burial
from boscage.soil.classes import EXCAVATION, excavation_class
from boscage.soil.components import flood_class, unit_limits, unit_strength
from boscage.soil.place import METRIC, Place
from boscage.soil.posts import answer_posts, assumption
from boscage.soil.stakes import answer_apron, answer_stakes
from boscage.soil.strength import MOST_MPA
from boscage.values import Printer


@dataclass(frozen=True, kw_only=True)
class Asking:
    """One place with all that its answers depend on.

    Attributes:
        place: Where.
        options: Limits.
        month: 1 to 12, for wet soil round stakes; None for the wettest.
        printer: Units of the sentences.
    """

    place: Place
    options: SoilOptions
    month: int | None = None
    printer: Printer = METRIC

    def pickets(self, pull_n: float) -> StakeAnswer:
        """What holds a pull in newtons, over 0."""
        return answer_stakes(self.place, pull_n, self.options, self.month, self.printer)

    def all(self, pull_n: float | None = None) -> GroundAnswer:
        """All that the ground allows, with pickets where a pull is given."""
        return answer(self.place, self.options, pull_n=pull_n, month=self.month, printer=self.printer)


def answer(
    place: Place, options: SoilOptions, *, pull_n: float | None = None, month: int | None = None,
    printer: Printer = METRIC,
) -> GroundAnswer:  # fmt: skip
    """All that the ground at one place allows.

    Args:
        place: Where, with what readings add there.
        options: Limits.
        pull_n: Level pull to be held by pickets, newtons; None leaves them out.
        month: 1 to 12, for wet soil round stakes; None for the wettest.
        printer: Units of the sentences.
    """
    mpa, error, known = _figures(place, options.moisture, options)
    posts, apron = answer_posts(place, options, printer), answer_apron(place, options, month, printer)
    stakes = None if pull_n is None else answer_stakes(place, pull_n, options, month, printer)
    limits = None if place.unit is None else unit_limits(place.made, options)
    return GroundAnswer(
        unit=place.unit, moisture=options.moisture, resistance_mpa=mpa, error_ln=error,
        shift_ln=place.shift_ln if place.basis in ("map and readings", "readings") else 0.0, basis=place.basis,
        named_share=known, stopped_cm=place.stopped_cm if math.isfinite(place.stopped_cm) else math.nan,
        posts=posts, stakes=stakes, apron=apron, burial=answer_burial(place, options, printer),
        assumption=assumption(options, printer), hard_cm=math.nan if limits is None else limits.depth_cm,
        rock_pct=math.nan if limits is None else limits.rock_pct,
        flood_class=None if place.unit is None else flood_class(place.unit, options.flood_share),
        bring=_bring(posts, apron, mpa, printer), notes=_notes(place, printer),
    )  # fmt: skip


def _bring(posts: PostAnswer, apron: ApronStakes, mpa: float, printer: Printer) -> tuple[str, ...]:
    """What to carry for this ground; common practice, no source."""
    depth = "" if math.isnan(posts.depth_cm) else f" to {printer.small(posts.depth_cm / 100.0)}"
    lines = [
        {
            "yes": f"Posts go{depth}: posts and a driver, where trees do not serve.",
            "doubtful": "A post and a driver to test with; do not count on posts.",
            "no": "No posts: trees, high ropes and guys to trees must hold.",
            "unknown": "A post and a driver to test with, and lines to hold the ring without posts.",
        }[posts.verdict]
    ]
    kinds = [_apron_words(k, printer) for k in (apron.kind, *apron.also)]
    times = "" if apron.times <= 1.0 else f", {apron.times:.2g} for each that firm ground takes"
    lines.append(f"For the apron: {' and '.join(kinds)}{times}.")
    if not math.isnan(mpa):
        lines.append(f"To dig: {EXCAVATION[excavation_class(mpa)]}.")
    return tuple(lines)


def _apron_words(kind: ApronKind, printer: Printer) -> str:
    made = APRON_STAKES[kind]
    plural = made.title.replace("bag", "bags") if kind == "weight" else f"{made.title}s"
    return plural if math.isnan(made.length_m) else f"{plural} of {printer.small(made.length_m)}"


def _figures(place: Place, moisture: Moisture, options: SoilOptions) -> tuple[float, float, float]:
    """Resistance from the surface to the depth of a post, its error, and the share of ground it speaks of."""
    if place.basis == "readings":
        return math.exp(place.shift_ln), place.error_ln, 0.0
    found = unit_strength(place.made, 0.0, options.post_depth.m * 100.0, moisture)
    if math.isnan(found.ln_mpa):
        return math.nan, math.nan, 0.0
    error = place.error_ln if place.basis == "map and readings" else found.error_ln
    return math.exp(found.ln_mpa + place.shift_ln), error, found.known_share


def _notes(place: Place, printer: Printer) -> tuple[str, ...]:
    """What was filled in or held to a bound, each once, with the soils that it concerns."""
    by_text: dict[str, list[str]] = {}
    for profile in place.made:
        for text in dict.fromkeys(text for strength in profile.strengths for text in strength.notes):
            by_text.setdefault(text, []).append(profile.component.name)
    notes = [f"{text} ({', '.join(names)})" for text, names in by_text.items()]
    return (*notes, f"estimates are held to {printer.pressure(MOST_MPA)} at most") if notes else ()
