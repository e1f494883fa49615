"""Words on evidence, firmness and sets that the overview, the evidence sheet and a site's page share."""

from __future__ import annotations

import math
from collections.abc import Mapping

from boscage.model.findings import Move, Standing, Together
from boscage.model.portfolio import Portfolio
from boscage.model.weights import SteadinessOptions
from boscage.sheets.groundwords import NOT_KNOWN, counted, part_words

_CLASSES: Mapping[str, tuple[str, str]] = {
    "adult male": ("boar", "boars"),
    "adult female": ("sow", "sows"),
    "adult": ("adult, sex not told", "adults, sex not told"),
    "subadult": ("subadult", "subadults"),
    "juvenile": ("juvenile", "juveniles"),
    "unknown": ("of a class not known", "of a class not known"),
}
UNPROVEN: Mapping[str, str] = {
    "gap reached": "stopped within the gap that was asked for",
    "time limit": "stopped at the time limit",
    "rounds not proven": "rounds of so many sets cannot be worked out exactly",
}


def known_share(share: float) -> str:
    """A share, or that it is not known.

    >>> known_share(0.31), known_share(float("nan"))
    ('31 %', 'not known')
    """
    return NOT_KNOWN if math.isnan(share) else part_words(share)


def known_percent(share: float) -> str:
    """A share in per cent without its sign, never rounded to nothing or to the whole.

    >>> [known_percent(v) for v in (0.0, 0.004, 0.31, 0.999, float("nan"))]
    ['0', '<1', '31', '>99', 'not known']
    """
    return known_share(share).removesuffix(" %").replace("under ", "<").replace("over ", ">")


def tenths(share: float) -> str:
    """A share with one decimal, for shares that are compared with one another.

    >>> tenths(0.6312)
    '63.1 %'
    """
    return NOT_KNOWN if math.isnan(share) else f"{100.0 * share:.1f} %"


def rank_words(rank: int, standing: Standing | None) -> str:
    """The rank as it is printed: with '=' behind it where sites could as well be swapped."""
    return str(rank) if standing is None else standing.label


def standing_words(standing: Standing) -> str:
    """How firm a rank is, in one line.

    >>> standing_words(Standing(label="2=", top_rank_share=0.31, first_share=0.8, low_rank=1, high_rank=4))
    'Rank 2=: first in 31 % of draws, ranks 1 to 4 in nine of ten.'
    """
    first = f"Rank {standing.label}: first in {known_share(standing.top_rank_share)} of draws"
    return f"{first}, {kept_ranks(standing)} in nine of ten."


def kept_ranks(standing: Standing) -> str:
    """The ranks that a site keeps between."""
    low, high = standing.low_rank, standing.high_rank
    return f"rank {low}" if low == high else f"ranks {low} to {high}"


def drawn_words(options: SteadinessOptions | None) -> str:
    """What was drawn to see how firm the ranks are."""
    if options is None:
        return "What was drawn for it is not stated."
    return (
        f"{options.draws:,} draws: weights shaken by {100 * options.spread:.0f} %, "
        f"value functions bent by {100 * options.bend:.0f} %."
    )


def move_words(move: Move) -> str:
    """Where a place moved, in a few words.

    >>> move_words(Move(site="DH-02", rank=2, was_site="DH-05", was_rank=5, points=4.2, why=""))
    'DH-02 from 5 to 2 (+4 points)'
    """
    points = "" if math.isnan(move.points) else f" ({signed(move.points)} points)"
    if move.rank is None:
        return f"{move.was_site or 'a place'} was {move.was_rank}, ranked no more{points}"
    if move.was_rank is None:
        return f"{move.site} new at {move.rank}{points}"
    if move.rank == move.was_rank:
        return f"{move.site} still {move.rank}{points}"
    return f"{move.site} from {move.was_rank} to {move.rank}{points}"


def signed(points: float) -> str:
    """Points with their sign, never a minus before zero.

    >>> signed(4.2), signed(-0.2), signed(-3.0)
    ('+4', '0', '-3')
    """
    whole = round(points)
    return f"{whole:+d}" if whole else "0"


def members_words(members: Mapping[str, int]) -> str:
    """Animals by class, such as `2 sows, 7 juveniles`.

    >>> members_words({"adult female": 1, "juvenile": 7})
    '1 sow, 7 juveniles'
    """
    parts = [counted(n, *_CLASSES.get(c, (c, c))) for c, n in members.items() if n]
    return ", ".join(parts) or f"classes {NOT_KNOWN}"


def proof_words(chosen: Portfolio) -> str:
    """Whether a better set is ruled out; a limit or a gap is said as such."""
    gap = f"gap {100.0 * chosen.gap:.2f} %"
    if chosen.ending == "optimal":
        return f"Proven: no allowed choice covers more ({gap})."
    return f"NOT PROVEN BEST: {UNPROVEN.get(chosen.ending, chosen.ending)} ({gap})."


def together_words(together: Together) -> str:
    """Sets, share covered, proof or gap; or why there is none."""
    chosen = together.chosen
    if not isinstance(chosen, Portfolio):
        return f"No sets together: {chosen.reason.rstrip('. ')}."
    names = ", ".join(chosen.names)
    verb = "covers" if len(chosen.names) == 1 else "cover"
    return f"Sets together: {names} {verb} {tenths(chosen.share)} of the use. {proof_words(chosen)}"
