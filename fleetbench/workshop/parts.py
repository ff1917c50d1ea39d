"""Parts where they sit, with the limit of life that governs each.

part_page(shop, part_id) -> PartPage
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum


class LifeWord(StrEnum):
    """How a part stands against its limits of life."""

    GOOD = "good"
    DUE_SOON = "due soon"
    PAST = "past"
    UNKNOWN = "unknown"
    NO_LIMIT = "no limit recorded"
    EMPTY = "empty"


@dataclass(frozen=True, slots=True)
class FittedPart:
    """One slot of a unit with what sits in it, in tree order; `depth` 0 is the unit's own slot.

    part_id, part: None where the slot is empty. part: serial, or lot, or the record's number.
    basis: the word of the limit that governs (fleetbench.calc.life.LimitBasis). why: the reckoning in words.
    """

    depth: int
    slot_id: int
    slot: str
    slot_kind: str
    critical: bool
    flow_place: int | None
    oxygen_side: bool
    part_id: int | None
    part: str | None
    part_type: str | None
    lot: str | None
    firmware: str | None
    host: str | None
    fitted_on: date | None
    last_good_day: date | None
    projected: bool
    basis: str | None
    why: str
    state: LifeWord


@dataclass(frozen=True, slots=True)
class LimitLine:
    """One limit of life of a part: what it says, its last good day, and its source."""

    basis: str
    limit: str
    last_good_day: date | None
    projected: bool
    state: str
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class FittingLine:
    """A part sat in a slot from one moment to another."""

    unit: str | None
    host: str | None
    slot: str
    fitted_at: datetime
    removed_at: datetime | None
    why_removed: str | None
    ticket: str | None
    removal_ticket: str | None


@dataclass(frozen=True, slots=True)
class PartTestLine:
    """A periodic test or service of a part."""

    kind: str
    done_on: date
    passed: bool
    done_by: str | None


@dataclass(frozen=True, slots=True)
class PartPage:
    """One part with every limit of life, where it has been, its tests and what sits in it."""

    part_id: int
    part: str
    serial: str | None
    lot: str | None
    part_type: str
    kind: str
    state: str
    unit: str | None
    slot: str | None
    place: str | None
    owner: str
    firmware: str | None
    made: str | None
    opened: str | None
    received_on: date | None
    hours: float
    dives: int
    hires: int
    last_good_day: date | None
    basis: str | None
    limits: tuple[LimitLine, ...]
    fittings: tuple[FittingLine, ...]
    tests: tuple[PartTestLine, ...]
    holds: tuple[str, ...]
    units_touched: tuple[str, ...]
