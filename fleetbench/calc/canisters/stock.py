"""How long the absorbent in stock lasts at the pace that is booked: containers and booked fills in, days out.

Common practice, no published source. Every diving day of a booked unit takes one fill.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

HORIZON_DAYS = 90
"""How far ahead bookings are read for the pace; common practice, no published source."""


@dataclass(frozen=True, slots=True)
class BookedFills:
    """Fills that one booking will take: units wanted, its first and last day, and kilograms a fill.

    kg: None where the canister's mass is not known.
    """

    starts_on: date
    ends_on: date
    units: int
    kg: float | None


@dataclass(frozen=True, slots=True)
class StockLine:
    """One container as the book has it; last_good_day None is not known, and then it counts for nothing."""

    key: int
    left_kg: float
    opened: bool
    last_good_day: date | None


@dataclass(frozen=True, slots=True)
class RunOut:
    """The day whose use empties a container at the pace; None where nothing is booked or it may not be used.

    wasted_kg: what is left on its last good day, to be thrown away.
    """

    key: int
    empty_on: date | None
    wasted_kg: float


def booked_kg_a_day(bookings: Iterable[BookedFills], today: date, days: int = HORIZON_DAYS) -> float | None:
    """Mean kilograms a day that bookings take within the days from today on; None where a mass is not known."""
    last = today + timedelta(days=days - 1)
    total = 0.0
    for booking in bookings:
        first, until = max(booking.starts_on, today), min(booking.ends_on, last)
        fills = booking.units * max(0, (until - first).days + 1)
        if fills and booking.kg is None:
            return None
        total += fills * (booking.kg or 0.0)
    return total / days


def run_out(stock: Sequence[StockLine], kg_a_day: float | None, today: date) -> tuple[RunOut, ...]:
    """When each container is empty, taken one after the other: opened ones first, then by last good day.

    A container past its date, or of unknown date, is passed over; one that outlives its date is used until then.
    """
    order = sorted(stock, key=lambda line: (not line.opened, line.last_good_day or date.max, line.key))
    used_days = 0.0
    found = {}
    for line in order:
        usable = line.last_good_day is not None and line.last_good_day >= today
        if not usable or not kg_a_day or line.left_kg <= 0:
            found[line.key] = RunOut(line.key, None, 0.0 if usable else line.left_kg)
            continue
        assert line.last_good_day is not None
        days_to_date = (line.last_good_day - today).days + 1.0
        taken_kg = min(line.left_kg, max(0.0, days_to_date - used_days) * kg_a_day)
        used_days += taken_kg / kg_a_day
        empty = taken_kg >= line.left_kg - 1e-9
        # Far ahead a date says nothing, and would pass the calendar's end.
        on = today + timedelta(days=math.ceil(used_days - 1e-9) - 1) if empty and used_days < 36_500 else None
        found[line.key] = RunOut(line.key, on, 0.0 if empty else line.left_kg - taken_kg)
    return tuple(found[line.key] for line in stock)
