"""Whether a log supports an estimate of animals left; most ranch jobs do not, and then each reason is named."""

from __future__ import annotations

import datetime as dt
import math
from bisect import bisect_right
from collections.abc import Sequence

from boscage.ledger.removal_effort import leslie
from boscage.ledger.removal_likelihood import carle_strub, maximum_likelihood
from boscage.model.ledger import Book
from boscage.model.ledger_removal import Estimate, FitTest, NoEstimate, Removal, RemovalOptions, RemovalPass
from boscage.model.report import counted

CAVEAT = (
    "Animals come as whole groups, not one by one, and holding back until all are inside changes the catch from night "
    "to night; the interval knows of neither, so it is too narrow."
)
Found = Estimate | NoEstimate | None


def make_passes(book: Book, pass_days: int) -> tuple[RemovalPass, ...]:
    """Spells of a number of days from the first armed night, with armed nights and animals; those without are left out.

    A catch on a night that does not count as armed belongs to the last pass begun by then.
    """
    effort: dict[dt.date, int] = {}
    for stay in book.stays:
        if stay.state == "armed":
            for i in range(stay.nights):
                night = stay.first + dt.timedelta(days=i)
                effort[night] = effort.get(night, 0) + 1
    if not effort:
        return ()
    begin = min(effort)
    nights: dict[int, list[dt.date]] = {}
    for night in sorted(effort):
        nights.setdefault((night - begin).days // pass_days, []).append(night)
    catch: dict[int, int] = {}
    spells = list(nights)
    for row in book.of("capture"):
        spell = spells[max(0, bisect_right(spells, (row.night - begin).days // pass_days) - 1)]
        catch[spell] = catch.get(spell, 0) + row.animals
    return tuple(
        RemovalPass(first=held[0], last=held[-1], effort=float(sum(effort[n] for n in held)), catch=catch.get(spell, 0))
        for spell, held in nights.items()
    )


def judge_removal(passes: Sequence[RemovalPass], options: RemovalOptions) -> Removal:
    """Test passes, time, closure, catch, its fall, the rate and the interval; estimate only where all are met.

    Passes of even effort are judged by maximum likelihood, others by Leslie's line on armed nights, whose rate is that
    of a pass of mean effort: 1 - exp(-q f).
    """
    tests = [_passes(passes, options), _time(passes, options), _closure(options), _catch(passes)]
    found, beside = _estimate(passes, options)
    tests += _fits(found, passes, options)
    fit = all(t.passed for t in tests)
    return Removal(
        fit=fit, tests=tuple(tests), passes=tuple(passes), caveat=CAVEAT,
        estimate=found if fit and isinstance(found, Estimate) else None,
        beside=beside if fit and isinstance(beside, Estimate) else None,
    )  # fmt: skip


def _passes(passes: Sequence[RemovalPass], options: RemovalOptions) -> FitTest:
    enough = len(passes) >= options.least_passes
    text = f"{counted(len(passes), 'pass')}; at least {options.least_passes} are needed."
    return FitTest(name="passes", passed=enough, text=text)


def _time(passes: Sequence[RemovalPass], options: RemovalOptions) -> FitTest:
    if not passes:
        return FitTest(name="time", passed=False, text="no night was armed.")
    days = (passes[-1].last - passes[0].first).days + 1
    text = f"{counted(days, 'day')} from the first pass to the last; at most {options.most_days} are allowed."
    return FitTest(name="time", passed=days <= options.most_days, text=text)


def _closure(options: RemovalOptions) -> FitTest:
    words = {
        None: "nobody has said whether animals came or left meanwhile.",
        False: "animals came or left meanwhile, as stated.",
        True: "no animals came or left meanwhile, as stated.",
    }
    return FitTest(name="closure", passed=options.closed is True, text=words[options.closed])


def _catch(passes: Sequence[RemovalPass]) -> FitTest:
    total = sum(p.catch for p in passes)
    return FitTest(name="catch", passed=total >= 2, text=f"{counted(total, 'animal')} removed; at least 2 are needed.")


def _estimate(passes: Sequence[RemovalPass], options: RemovalOptions) -> tuple[Found, Found]:
    """The estimate and Carle and Strub's beside it; None where the passes are too few even to try."""
    if len(passes) < 3:
        return None, None
    catches, efforts = [p.catch for p in passes], [p.effort for p in passes]
    mean = sum(efforts) / len(efforts)
    if all(abs(e - mean) <= options.even * mean for e in efforts):
        return maximum_likelihood(catches, level=options.level), carle_strub(catches)
    return leslie(catches, efforts, level=options.level), None


def _fits(found: Found, passes: Sequence[RemovalPass], options: RemovalOptions) -> list[FitTest]:
    """Tests of the fall, the rate and the interval."""
    if found is None:
        return [FitTest(name="falling", passed=False, text="too few passes to see a fall of the catch.")]
    if isinstance(found, NoEstimate):
        return [FitTest(name="falling", passed=False, text=f"{found.method}: {found.reason}")]
    rate = found.rate
    if found.method == "Leslie":
        rate = 1.0 - math.exp(-found.rate * sum(p.effort for p in passes) / len(passes))
    is_few = found.number < options.few
    needed = options.few_rate if is_few else options.least_rate
    why = f"for fewer than {options.few} animals" if is_few else f"for {options.few} animals or more"
    text = f"each pass removed a share of {rate:.2f}; over {needed:.2f} is needed {why}."
    ends = f"{found.low:.0f} to {found.high:.0f}" if math.isfinite(found.high) else f"{found.low:.0f} and no upper end"
    return [
        FitTest(name="falling", passed=True, text="the catch falls."),
        FitTest(name="rate", passed=rate > needed, text=text),
        FitTest(name="interval", passed=math.isfinite(found.high), text=f"the interval of the number is {ends}."),
    ]
