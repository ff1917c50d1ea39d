"""Years that go by with something recorded in each half of them, so that no clock is doubted."""

from itertools import count
from typing import Any

from fleetbench.workshop.core.workplace import Workplace
from fleetbench.workshop.parts.stock import add_place

STEP = 150
_NUMBERS = count(1)


def let_pass(workplace: Workplace, clock: Any, days: int) -> None:
    """Advance the clock by so many days, a place being added about every fifth month."""
    while days > STEP:
        clock.advance(days=STEP)
        add_place(workplace, f"Shelf of a later day {next(_NUMBERS)}", "shelf")
        days -= STEP
    clock.advance(days=days)
