"""What must be replaced or done, with the last good day and the limit that governs.

list_due(shop, within_days=None, on=None) -> tuple[DueItem, ...]
    past items always, unknown ones always; earliest first, unknown before everything
"""

from dataclasses import dataclass
from datetime import date
from enum import StrEnum


class DueState(StrEnum):
    """How near the end is."""

    PAST = "past"
    DUE_SOON = "due soon"
    LATER = "later"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class DueItem:
    """One thing that runs out.

    unit: None for what belongs to no unit (containers, equipment, a person's qualification).
    item: what has to be done: `replace`, `hydrostatic test`, `workshop calibration`, `absorbent lot` ...
    basis: word of the limit that governs (fleetbench.calc.life.LimitBasis). last_good_day: None where not known.
    days_left: from today to the last good day, negative when past. why: the reckoning in words, with the assumption
    where it is projected. hits: code of the first booking of the unit that ends after the last good day.
    """

    unit: str | None
    slot: str | None
    part_type: str | None
    part: str | None
    part_id: int | None
    item: str
    last_good_day: date | None
    basis: str
    days_left: int | None
    state: DueState
    place: str | None
    projected: bool
    why: str
    hits: str | None
