"""The day at a glance.

today_page(shop) -> TodayPage
"""

from dataclasses import dataclass
from datetime import date

from fleetbench.workshop.due import DueItem
from fleetbench.workshop.units import Fit, UnitRow, Where


@dataclass(frozen=True, slots=True)
class GoingLine:
    """A unit that goes out or comes back; days_late above 0 for one that should be back."""

    unit: str
    booking: str
    kind: str
    diver: str | None
    starts_on: date
    ends_on: date
    hand_over: str | None
    where: Where
    fit: Fit
    reasons: tuple[str, ...]
    days_late: int


@dataclass(frozen=True, slots=True)
class TodayPage:
    """What goes out, comes back, is late, lies on the bench, blocks the next booking and runs out this week.

    ring_the_renter: units that are out and on hold; they come first.
    """

    on: date
    ring_the_renter: tuple[GoingLine, ...]
    out_today: tuple[GoingLine, ...]
    out_this_week: tuple[GoingLine, ...]
    back_today: tuple[GoingLine, ...]
    back_this_week: tuple[GoingLine, ...]
    late: tuple[GoingLine, ...]
    not_inspected: tuple[UnitRow, ...]
    on_bench: tuple[UnitRow, ...]
    blocked: tuple[GoingLine, ...]
    runs_out: tuple[DueItem, ...]
