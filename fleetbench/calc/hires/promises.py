"""Which days units are promised, and whether more fits in: spans of days in, units or what stands in the way out.

A unit needs its turn-round between two divers. With one night, a unit that comes back on one day goes out on the next
at the earliest: common practice, no published source; the unit type's own figure replaces it.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

TURN_ROUND_NIGHTS = 1


@dataclass(frozen=True, slots=True)
class Span:
    """Days of one promise, both inclusive, and what it is called."""

    first: date
    last: date
    name: str = ""

    def __post_init__(self) -> None:
        """Refuse days out of order."""
        if self.last < self.first:
            raise ValueError("span: the last day is before the first; give first and last day in order")


@dataclass(frozen=True, slots=True)
class Want:
    """A promise of units that are not chosen yet: its days and how many."""

    span: Span
    units: int


def clash(one: Span, other: Span, nights: int = TURN_ROUND_NIGHTS) -> bool:
    """Whether one unit cannot serve both, its turn-round between them kept free."""
    # Days apart, not days moved on: what has no known end ends on the last day there is.
    return _share(one, other) or ((one.first - other.last).days < nights and (other.first - one.last).days < nights)


def clashes(wanted: Span, taken: Iterable[Span], nights: int = TURN_ROUND_NIGHTS) -> tuple[Span, ...]:
    """The promises that stand in the way, by first day."""
    return tuple(sorted((each for each in taken if clash(wanted, each, nights)), key=lambda each: each.first))


def place(
    wants: Sequence[Want], taken: Mapping[str, Sequence[Span]], nights: int = TURN_ROUND_NIGHTS
) -> tuple[dict[int, tuple[str, ...]], tuple[int, ...]]:
    """Units for each want by its place in the list, and the wants for which there are too few.

    Wants are placed by their first day, each on the units that were free for the shortest time before, so that long
    gaps stay whole; a want is placed wholly or not at all. taken: each unit's promises.
    """
    spans = {unit: list(each) for unit, each in taken.items()}
    placed: dict[int, tuple[str, ...]] = {}
    short: list[int] = []
    for at in sorted(range(len(wants)), key=lambda n: (wants[n].span.first, n)):
        want = wants[at]
        free = [unit for unit, each in spans.items() if not clashes(want.span, each, nights)]
        free.sort(key=lambda unit: (-_last_before(spans[unit], want.span), unit))
        if len(free) < want.units:
            short.append(at)
            continue
        placed[at] = tuple(free[: want.units])
        for unit in placed[at]:
            spans[unit].append(want.span)
    return placed, tuple(short)


def _share(one: Span, other: Span) -> bool:
    return one.first <= other.last and other.first <= one.last


def _last_before(taken: Sequence[Span], wanted: Span) -> int:
    return max((each.last.toordinal() for each in taken if each.last < wanted.first), default=0)
