"""The booking calendar: courses, hires and try days over the seasons, and which units go out on them."""

import datetime as dt
from dataclasses import dataclass, field

import numpy as np

from tests.fleet_maker.catalogue import B, C

DAY = dt.timedelta(days=1)


@dataclass
class Booked:
    """One booking with the units that were given to it."""

    kind: str
    unit_type: str
    starts: dt.date
    ends: dt.date
    wanted: int
    units: list[int] = field(default_factory=list)
    forced: tuple[int, ...] = ()
    planned_minutes: int = 60
    depth: int = 20

    @property
    def days(self) -> int:
        """Days of the booking, first and last included."""
        return (self.ends - self.starts).days + 1


@dataclass
class Fleet:
    """Whose turn it is: type, popularity and blocked spans of each unit."""

    types: list[str]
    popularity: np.ndarray
    blocked: dict[int, list[tuple[dt.date, dt.date]]]


def in_season(day: dt.date) -> bool:
    """True from April to October."""
    return 4 <= day.month <= 10


def bookings(
    first: dt.date, last: dt.date, share: float, rng: np.random.Generator, quiet: tuple[dt.date, dt.date]
) -> list[Booked]:
    """Bookings that start from `first` to `last` but leave the `quiet` span free; share 1 is a centre of 14 units."""
    booked: list[Booked] = []
    monday = first - dt.timedelta(days=first.weekday())
    while monday <= last:
        season = in_season(monday + 3 * DAY)
        for _ in range(rng.poisson((0.9 if season else 0.38) * share)):
            booked.append(_course(monday, rng))
        for _ in range(rng.poisson((2.05 if season else 0.75) * share)):
            booked.append(_hire(monday, rng))
        for _ in range(rng.poisson((0.55 if season else 0.15) * share)):
            booked.append(_try_day(monday, rng))
        monday += 7 * DAY
    kept = [b for b in booked if first <= b.starts <= last and (b.ends < quiet[0] or b.starts > quiet[1])]
    return sorted(kept, key=lambda b: (b.starts, b.ends))


def _course(monday: dt.date, rng: np.random.Generator) -> Booked:
    starts = monday + int(rng.choice([0, 2], p=[0.6, 0.4])) * DAY
    kind = B if rng.random() < 0.62 else C
    students = int(rng.integers(2, 5))
    return Booked("course", kind, starts, starts + 4 * DAY, students + 1, planned_minutes=80, depth=20)


def _hire(monday: dt.date, rng: np.random.Generator) -> Booked:
    starts = monday + int(rng.choice([4, 5])) * DAY
    kind = B if rng.random() < 0.72 else C
    length = int(rng.integers(3, 8))
    wanted = 1 if rng.random() < 0.9 else 2
    return Booked("hire", kind, starts, starts + (length - 1) * DAY, wanted, planned_minutes=90, depth=30)


def _try_day(monday: dt.date, rng: np.random.Generator) -> Booked:
    starts = monday + int(rng.choice([5, 6])) * DAY
    kind = C if rng.random() < 0.65 else B
    return Booked("try day", kind, starts, starts, int(rng.integers(1, 3)), planned_minutes=40, depth=10)


def assign(booked: list[Booked], fleet: Fleet, rng: np.random.Generator) -> list[Booked]:
    """Give free units to each booking in order of start, one night between two uses; leave out what none was free for.

    Units of a forced booking are given first; the caller has blocked its span for them.
    """
    kinds = np.array(fleet.types)
    last_end = np.full(len(kinds), dt.date.min.toordinal())
    spans = [(unit, *map(dt.date.toordinal, span)) for unit, spans in fleet.blocked.items() for span in spans]
    blocked, since, until = np.array(spans, dtype=int).reshape(-1, 3).T
    for booking in sorted(booked, key=lambda b: (b.starts, b.ends)):
        if booking.forced:
            booking.units = list(booking.forced)
            continue
        starts, ends = booking.starts.toordinal(), booking.ends.toordinal()
        is_free = (kinds == booking.unit_type) & (last_end < starts)
        is_free[blocked[(since <= ends) & (until >= starts)]] = False
        free = np.flatnonzero(is_free)
        count = min(booking.wanted, len(free))
        if count:
            weight = fleet.popularity[free]
            chosen = rng.choice(free, count, replace=False, p=weight / weight.sum())
            booking.units = sorted(int(unit) for unit in chosen)
            last_end[booking.units] = ends
    return sorted((b for b in booked if b.units), key=lambda b: (b.starts, b.ends))
