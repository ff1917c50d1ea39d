"""Whether figures that were typed look as if two were exchanged, or as if they stand a line too high or too low.

Each figure alone may be quite usual; what gives it away is that it fits another's last figure and not its own. Named
only, never changed: the parts themselves may have been exchanged.
"""

import math
from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import combinations
from statistics import fmean, median
from typing import TypeVar

from fleetbench.calc.core.languages import in_row, say, strung

K = TypeVar("K", bound=Hashable)
R = TypeVar("R", bound=Hashable)
C = TypeVar("C", bound=Hashable)

USUAL = 0.02
"""Relative difference that two readings of the same thing have, once what is common to all is taken off, which a cell
seldom exceeds from one visit to the next: common practice, no published source."""

USUAL_OF_COLUMNS = 0.005
"""The same of the quotient of two readers on the same cells, from which the cells' ageing divides out: common practice,
no published source."""

CLEAR = 2.0
"""How many times nearer the figures must be to the other's last ones than to their own."""


def exchanged_pairs(given: Mapping[K, float], last: Mapping[K, float], usual: float = USUAL) -> tuple[tuple[K, K], ...]:
    """Pairs whose figures fit each other's last ones and not their own, each key in one pair at most.

    Figures that are not above zero say nothing, nor do pairs whose last figures are nearly alike.
    """
    known = [key for key in given if last.get(key, 0.0) > 0.0 and given[key] > 0.0]
    common = _common(given, last, known)
    found: list[tuple[float, K, K]] = []
    for one, other in combinations(known, 2):
        straight = [abs(_apart(given[key], last[key]) - common) for key in (one, other)]
        crossed = [abs(_apart(given[a], last[b]) - common) for a, b in ((one, other), (other, one))]
        if min(straight) > usual and max(crossed) <= usual and CLEAR * max(crossed) <= min(straight):
            found.append((max(crossed), one, other))
    return tuple(_each_once(sorted(found, key=_nearness)))


def line_out(
    order: Sequence[K], given: Mapping[K, float], last: Mapping[K, float], usual: float = USUAL
) -> tuple[K, ...]:
    """The longest run of two or more figures in the order of typing that each fit the next line, or the one before."""
    known = [key for key in order if last.get(key, 0.0) > 0.0 and given.get(key, 0.0) > 0.0]
    if len(known) < len(order) or len(order) < 3:
        return ()
    runs: list[tuple[K, ...]] = [()]
    for step in (1, -1):
        run: tuple[K, ...] = ()
        for place, key in enumerate(order):
            to = place + step
            fits = 0 <= to < len(order) and _moved(given[key], last[key], last[order[to]], usual)
            run = (*run, key) if fits else ()
            runs.append(run)
    best = max(runs, key=len)
    return best if len(best) > 1 else ()


def exchanged_columns(
    given: Mapping[tuple[R, C], float], last: Mapping[tuple[R, C], float], usual: float = USUAL_OF_COLUMNS
) -> tuple[tuple[C, C], ...]:
    """Readers of the same rows whose quotient is the inverse of the last one: their columns look exchanged.

    Two rows at least must be known, and the readers must differ by more than twice what is usual.
    """
    columns = list(dict.fromkeys(column for _, column in given))
    rows = list(dict.fromkeys(row for row, _ in given))
    found = []
    for one, other in combinations(columns, 2):
        both = [
            row for row in rows if all(of.get((row, each), 0.0) > 0.0 for of in (given, last) for each in (one, other))
        ]
        if len(both) < 2:
            continue
        now = [_apart(given[row, one], given[row, other]) for row in both]
        then = [_apart(last[row, one], last[row, other]) for row in both]
        crossed = all(abs(a + b) <= usual + 0.2 * abs(b) for a, b in zip(now, then, strict=True))
        if crossed and abs(fmean(then)) > 2.0 * usual:
            found.append((one, other))
    return tuple(found)


KEPT = in_row("Kept when it was asked:")
"""Begins the note of a record whose figures were kept though they look exchanged; the sentences follow."""


def exchanged_words(given: Mapping[str, float], last: Mapping[str, float], unit: str, *, held: str = "last") -> str:
    """One sentence for each two things whose single figures look exchanged, empty where none do.

    held: what the figures are held against, in a word.
    """
    pairs = exchanged_pairs(given, last)
    return strung(" ", (_pair_words(one, other, given, last, unit, held=held) for one, other in pairs))


def misplaced(
    given: Mapping[tuple[str, str], float], last: Mapping[tuple[str, str], float], unit: str
) -> tuple[str, ...]:
    """One sentence for each two cells of a reader, two readers, or run of lines that look exchanged.

    given, last: figures above zero by the names of row (a cell) and column (a handset), in the order of typing.
    """
    columns = exchanged_columns(given, last)
    said = [
        say("{one} and {other} look exchanged: each column fits the other one's last readings.", one=one, other=other)
        for one, other in columns
    ]
    for column in dict.fromkeys(column for _, column in given):
        now = {row: value for (row, of), value in given.items() if of == column}
        then = {row: value for (row, of), value in last.items() if of == column}

        run = line_out(tuple(now), now, then)
        if len(run) > 1 and len(run) > len(exchanged_pairs(now, then)) * 2 - 1:
            ends = {"first": run[0], "last": run[-1], "column": column}
            said.append(
                say("From {first} to {last} on {column} the figures look one line out.", **ends)
                if column
                else say("From {first} to {last} the figures look one line out.", **ends)
            )
            continue
        said += (_pair_words(one, other, now, then, unit, column) for one, other in exchanged_pairs(now, then))
    return tuple(said)


def _pair_words(
    one: str, other: str, now: Mapping[str, float], then: Mapping[str, float], unit: str, column: str = "",
    held: str = "last",
) -> str:  # fmt: skip
    told = {"one": one, "other": other, "column": column, "now": now[one], "now_other": now[other], "unit": unit,
            "held": say(held), "then": then[one], "then_other": then[other]}  # fmt: skip
    if column:
        return say("{one} and {other} on {column} look exchanged: {now:g} and {now_other:g} {unit}, {held} {then:g} and"
                   " {then_other:g} {unit}.", **told)  # fmt: skip
    return say("{one} and {other} look exchanged: {now:g} and {now_other:g} {unit}, {held} {then:g} and"
               " {then_other:g} {unit}.", **told)  # fmt: skip


def _apart(value: float, other: float) -> float:
    return math.log(value / other)


def _common(given: Mapping[K, float], last: Mapping[K, float], known: Sequence[K]) -> float:
    """What moved all figures alike, such as another pressure; nothing can be told of two alone."""
    return median(_apart(given[key], last[key]) for key in known) if len(known) > 2 else 0.0


def _moved(value: float, own: float, neighbour: float, usual: float) -> bool:
    crossed, straight = abs(_apart(value, neighbour)), abs(_apart(value, own))
    return straight > usual and crossed <= usual and CLEAR * crossed <= straight


def _nearness(found: tuple[float, K, K]) -> float:
    return found[0]


def _each_once(found: Sequence[tuple[float, K, K]]) -> Iterator[tuple[K, K]]:
    taken: set[K] = set()
    for _, one, other in found:
        if not taken & {one, other}:
            taken |= {one, other}
            yield one, other
