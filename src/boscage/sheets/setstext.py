"""Which sites together, in words and tables: the sets, the crews' rounds, what the next net adds, alternatives."""

from __future__ import annotations

from collections.abc import Sequence

from boscage.model.findings import Together
from boscage.model.portfolio import Portfolio
from boscage.model.results import ScoutResult
from boscage.sheets.evidencewords import proof_words, rank_words, tenths
from boscage.sheets.flow import Block, Column, gap, heading, loud, paragraph, pour, table
from boscage.sheets.groundwords import NOT_KNOWN, counted
from boscage.sheets.netcurve import HEIGHT_MM, curve_block, next_net_words
from boscage.sheets.page import Box, Page
from boscage.sheets.style import BODY, BOLD, SMALL, TextStyle
from boscage.values import Printer

NOT_WORKED_OUT = "Which sites together is not worked out: there is no use to cover, from sign or from cameras."
NO_ROUNDS = "ROUNDS ARE NOT WORKED OUT: whether the sets can be checked every day is not known."
_CURVE_MM, _GUTTER_MM = 92.0, 6.0
_CELL, _STRONG = TextStyle(size_pt=7.5), TextStyle(size_pt=7.5, bold=True)
_SHOWN = 8


def lead_blocks(together: Together, printer: Printer, width: float) -> list[Block]:
    """What was asked, what is covered, and whether it is proven; loud where it is not."""
    o = together.options
    asked = (
        f"Asked: {counted(o.nets, 'net', 'nets')}, {counted(o.crews, 'crew', 'crews')} with {o.hours:g} hours a day "
        f"each, {o.check_minutes:g} minutes at a set, a reach of {printer.length(o.radius.m)}, "
        f"sets at least {printer.length(o.spacing.m)} apart."
    )
    blocks = paragraph(asked, width)
    chosen = together.chosen
    if not isinstance(chosen, Portfolio):
        return [*blocks, *loud(f"NO SETS TOGETHER: {chosen.reason.rstrip('. ')}.", width)]
    sets = counted(len(chosen.names), "set covers", "sets cover")
    covered = f"{sets} {tenths(chosen.share)} of the use, on {printer.area(together.covered_ha)} of permitted land."
    proof = proof_words(chosen)
    if chosen.ending == "optimal":
        return [*blocks, *paragraph(f"{covered} {proof}", width, BOLD)]
    return [*blocks, *loud(f"{covered} {proof}", width)]


def sets_blocks(result: ScoutResult, together: Together, width: float) -> list[Block]:
    """Tables, the curve and rounds below the map."""
    chosen = together.chosen
    if not isinstance(chosen, Portfolio):
        return _in_words(together, width)
    right = width - _CURVE_MM - _GUTTER_MM
    beside = [*_sets_table(result, together, right), gap(2.0), heading("The next net", right),
              *paragraph(next_net_words(together.curve, together.options.nets), right)]  # fmt: skip
    blocks = [*_curve_beside(together, beside, width), gap(2.0)]
    return [*blocks, *_rounds(together, chosen, width), *_alternatives(together, chosen, width),
            *_in_words(together, width)]  # fmt: skip


def _curve_beside(together: Together, beside: Sequence[Block], width: float) -> list[Block]:
    """The curve with the table of sets at its right; what has no room there follows below."""
    if not together.curve:
        return list(beside)
    title = heading("Share covered against nets", _CURVE_MM)
    curve = curve_block(together.curve, together.options.nets, _CURVE_MM)
    high = title.height_mm + HEIGHT_MM
    (placed,), rest = pour(beside, [Box(0.0, 0.0, width - _CURVE_MM - _GUTTER_MM, high)])

    def draw(page: Page, x: float, y: float) -> None:
        title.draw(page, x, y)
        curve.draw(page, x, y + title.height_mm)
        for item in placed:
            item.block.draw(page, x + _CURVE_MM + _GUTTER_MM, y + item.y)

    return [Block(height_mm=high, draw=draw), *Block.opening(rest)]


def _sets_table(result: ScoutResult, together: Together, width: float) -> list[Block]:
    ranks = {s.site: rank_words(s.rank, s.standing) for s in result.sites}
    fixed = (14.0, 30.0, 24.0)
    titles = ("site", "rank", "covers by itself", "crew")
    widths = (width - sum(fixed), *fixed)
    columns = [
        Column(title=t, width_mm=w, style=_STRONG if t == "site" else _CELL)
        for t, w in zip(titles, widths, strict=True)
    ]
    rows = [
        (s.site, ranks.get(s.site, str(s.rank)), tenths(s.alone_share), str(s.crew) if s.crew else "not worked out")
        for s in together.sets
    ]
    return table(columns, rows, title=heading(f"Chosen sets: {len(rows)}", width))


def _rounds(together: Together, chosen: Portfolio, width: float) -> list[Block]:
    """Each crew's round in order, its minutes against the hours there are."""
    title = heading("Rounds", width)
    if not chosen.rounds:
        return [title, *loud(NO_ROUNDS, width), gap(1.0)]
    limit, check = 60.0 * together.options.hours, together.options.check_minutes
    blocks = [title]
    for crew, route in enumerate(chosen.rounds, start=1):
        stops = ", ".join(_name(together, s) for s in route.sites) or "no set"
        kind = "no round of these is shorter" if route.is_shortest else "NOT proven to be the shortest"
        words = (
            f"Crew {crew}: base, {stops}, base. {route.minutes:.0f} of {limit:.0f} minutes, "
            f"{check:g} at each set among them; {kind}."
        )
        blocks += paragraph(words, width, BODY, bullet=True, again=title)
    return [*blocks, gap(1.0)]


def _name(together: Together, index: int) -> str:
    return together.names[index] if 0 <= index < len(together.names) else NOT_KNOWN


def _alternatives(together: Together, chosen: Portfolio, width: float) -> list[Block]:
    """Exchanges that lose little, what taking the best next site would give, sites that no crew can check."""
    title = heading(f"Exchanges that lose at most {100 * together.options.near:g} % of the cover", width)
    blocks = [title]
    if not chosen.alternatives:
        blocks += paragraph("None by one exchange.", width)
    for a in chosen.alternatives[:_SHOWN]:
        words = f"{_name(together, a.into)} in place of {_name(together, a.out)}: covers {tenths(a.share)}."
        blocks += paragraph(words, width, bullet=True, again=title)
    left = len(chosen.alternatives) - _SHOWN
    if left > 0:
        blocks += paragraph(f"{counted(left, 'further exchange', 'further exchanges')}.",
                            width)  # fmt: skip
    blocks += paragraph(f"Taking the best next site each time would cover {tenths(chosen.greedy_share)}.", width, SMALL)
    if chosen.left_out:
        names = ", ".join(_name(together, s) for s in chosen.left_out)
        blocks += loud(f"Left out, no way leads there or no crew can check them in its hours: {names}.", width)
    return [*blocks, gap(1.0)]


def _in_words(together: Together, width: float) -> list[Block]:
    if not together.sentences:
        return []
    title = heading("Sets together, in words", width)
    return [title, *[b for t in together.sentences for b in paragraph(t, width, bullet=True, again=title)]]
