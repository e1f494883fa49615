"""What a choice of sites says to people: what is covered, whether it is proven, who goes where."""

from __future__ import annotations

from collections.abc import Sequence

from boscage.model.portfolio import CoverProblem, CurvePoint, Portfolio


def portfolio_sentences(chosen: Portfolio, problem: CoverProblem) -> tuple[str, ...]:
    """Sentences on a chosen set; that it is the best is said only where that is proven, the gap always."""
    count = len(chosen.chosen)
    sets = "1 set covers" if count == 1 else f"{count} sets cover"
    said = [f"{sets} {_percent(chosen.share)} of the use: {', '.join(chosen.names)}.", proof_sentence(chosen)]
    for n, route in enumerate(chosen.rounds, start=1):
        stops = ", ".join(problem.names[s] for s in route.sites)
        kind = "shortest round" if route.is_shortest else "round, not proven shortest,"
        said.append(f"Crew {n}: {kind} {route.minutes:.0f} minutes with the checks: {stops}.")
    if chosen.alternatives:
        best = chosen.alternatives[0]
        out, into = problem.names[best.out], problem.names[best.into]
        said.append(
            f"{into} in place of {out} covers {_percent(best.share)}; {len(chosen.alternatives)} such exchanges."
        )
    return (*said, *chosen.notes)


def proof_sentence(chosen: Portfolio) -> str:
    """Whether a better set is ruled out, with the gap."""
    gap = f"gap {100.0 * chosen.gap:.2f} %"
    if chosen.ending == "optimal":
        return f"Proven: no allowed set covers more ({gap})."
    if chosen.ending == "gap reached":
        return f"Not proven best: a better set could cover up to {100.0 * chosen.gap:.2f} % more of the bound ({gap})."
    if chosen.ending == "rounds not proven":
        return f"Not proven best: rounds of so many sets cannot be worked out exactly ({gap})."
    return f"Not proven best: stopped at the time limit ({gap}); another run may stop at another set."


def curve_sentences(points: Sequence[CurvePoint]) -> tuple[str, ...]:
    """What each further net adds."""
    said = []
    for p in points:
        nets = "1 net" if p.nets == 1 else f"{p.nets} nets"
        proof = "" if p.ending == "optimal" else f" (not proven; at most {_percent(p.bound)})"
        said.append(f"{nets}: {_percent(p.share)}, {100.0 * p.added:+.1f} points{proof}.")
    return tuple(said)


def _percent(share: float) -> str:
    return f"{100.0 * share:.1f} %"
