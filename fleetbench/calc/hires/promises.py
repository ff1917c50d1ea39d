"""Which days units are promised, and whether more fits in: spans of days in, units or what stands in the way out.

A unit needs its turn-round between two divers. With one night, a unit that comes back on one day goes out on the next
at the earliest: common practice, no published source; the unit type's own figure replaces it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

TURN_ROUND_NIGHTS = 1

TOLD_IN_FULL = 6
"""So many unfit units are told with their reason; of more, only those on a manual hold."""


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
    wants: Sequence[Want],
    taken: Mapping[str, Sequence[Span]],
    nights: int = TURN_ROUND_NIGHTS,
    fits: Callable[[str, Span], bool] | None = None,
) -> tuple[dict[int, tuple[str, ...]], tuple[int, ...]]:
    """Units for each want by its place in the list, and the wants for which there are too few.

    Wants are placed by their first day, each on the units that were free for the shortest time before, so that long
    gaps stay whole; a want is placed wholly or not at all. taken: each unit's promises. fits: whether a unit may be
    counted on for these days, None where every one may.
    """
    spans = {unit: list(each) for unit, each in taken.items()}
    placed: dict[int, tuple[str, ...]] = {}
    short: list[int] = []
    for at in sorted(range(len(wants)), key=lambda n: (wants[n].span.first, n)):
        want = wants[at]
        free = free_units(want.span, spans, nights, fits)
        free.sort(key=lambda unit: (-_last_before(spans[unit], want.span), unit))
        if len(free) < want.units:
            short.append(at)
            continue
        placed[at] = tuple(free[: want.units])
        for unit in placed[at]:
            spans[unit].append(want.span)
    return placed, tuple(short)


def free_units(
    span: Span,
    taken: Mapping[str, Sequence[Span]],
    nights: int = TURN_ROUND_NIGHTS,
    fits: Callable[[str, Span], bool] | None = None,
) -> list[str]:
    """The units that nothing is promised of on these days, the turn-round kept, and that may be counted on."""
    free = [unit for unit, each in taken.items() if not clashes(span, each, nights)]
    return [unit for unit in free if fits is None or fits(unit, span)]


def first_come(
    earlier: Sequence[Want],
    waiting: Sequence[Want],
    want: Want,
    taken: Mapping[str, Sequence[Span]],
    nights: int = TURN_ROUND_NIGHTS,
    fits: Callable[[str, Span], bool] | None = None,
) -> tuple[tuple[str, ...], tuple[tuple[Want, int], ...]]:
    """Units for a want after those that come first, and those of them that are short, with how many they lack.

    earlier: promised before; they take what there is, even where it is too little. waiting: has waited longer; each is
    served wholly or passed over, in their order. No unit for the want itself where too few are left.
    """
    placed, short = place(earlier, taken, nights, fits)
    spans = {unit: list(each) for unit, each in taken.items()}
    lacking: list[tuple[Want, int]] = []

    def give(one: Want, units: Sequence[str]) -> None:
        for unit in units:
            spans[unit].append(one.span)
        if len(units) < one.units:
            lacking.append((one, one.units - len(units)))

    for at, units in placed.items():
        give(earlier[at], units)
    for at in sorted(short):
        give(earlier[at], free_units(earlier[at].span, spans, nights, fits)[: earlier[at].units])
    for one in waiting:
        free = free_units(one.span, spans, nights, fits)
        give(one, free[: one.units] if len(free) >= one.units else ())
    free = free_units(want.span, spans, nights, fits)
    return tuple(free[: want.units]) if len(free) >= want.units else (), tuple(lacking)


@dataclass(frozen=True, slots=True)
class FreeAndFit:
    """How many units a booking wants on its days, which are free, and why free ones may not be counted on.

    unfit: of each such unit, why, and whether by a manual hold, which is always told. work: free units that are fit
    once ordinary work on them is done.
    """

    wanted: int
    free: tuple[str, ...]
    unfit: Mapping[str, tuple[str, bool]]
    work: tuple[str, ...] = ()

    @property
    def fit(self) -> tuple[str, ...]:
        """The free units that may be counted on."""
        return tuple(unit for unit in self.free if unit not in self.unfit)

    @property
    def enough(self) -> bool:
        """Whether there are as many free and fit ones as are wanted."""
        return len(self.fit) >= self.wanted

    @property
    def words(self) -> str:
        """`8 wanted: 6 free, 4 fit; B-05: cell 3 rejected`: every manual hold is told, and the reason of each unit."""
        work = f" ({len(self.work)} of them once their work is done)" if self.work else ""
        told = [unit for at, unit in enumerate(self.unfit) if at < TOLD_IN_FULL or self.unfit[unit][1]]
        lines = [f"{unit}: {self.unfit[unit][0]}" for unit in told]
        more = len(self.unfit) - len(told)
        head = f"{self.wanted} wanted: {len(self.free)} free, {len(self.fit)} fit{work}"
        return "; ".join((head, *lines, *([f"{more} more are not fit"] if more else [])))


def _share(one: Span, other: Span) -> bool:
    return one.first <= other.last and other.first <= one.last


def _last_before(taken: Sequence[Span], wanted: Span) -> int:
    return max((each.last.toordinal() for each in taken if each.last < wanted.first), default=0)
