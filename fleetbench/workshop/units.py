"""Units as lists and pages show them: where each is, how fit, what runs out next, and what was done to it.

list_units(shop) -> tuple[UnitRow, ...]
unit_page(shop, tag) -> UnitPage        NotFound for a tag (or former tag) that is not recorded
"""

from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum

from fleetbench.calc.readiness import Assessment
from fleetbench.workshop.parts import FittedPart, LifeWord


class Where(StrEnum):
    """Where a unit is, derived from records."""

    RECEIVED = "here, not inspected"
    BENCH = "on bench"
    SHELF = "on shelf"
    OUT = "out"
    AWAY = "away"
    RETIRED = "retired"


class Fit(StrEnum):
    """How fit a unit is, derived from records."""

    READY = "ready"
    DUE_SOON = "due soon"
    HOLD = "hold"


@dataclass(frozen=True, slots=True)
class NextBooking:
    """The next (or present) promise of a unit."""

    code: str
    kind: str
    starts_on: date
    ends_on: date
    diver: str | None


@dataclass(frozen=True, slots=True)
class NextDue:
    """What runs out first on a unit; last_good_day None where it is not known."""

    item: str
    slot: str
    last_good_day: date | None
    days_left: int | None
    projected: bool


@dataclass(frozen=True, slots=True)
class UnitRow:
    """One unit in the list.

    where_words: booking and return day while out, place and expected day while away, place while here.
    reasons: every stop in words (holds among them). advises: what to look at. hours: loop hours in all.
    """

    unit_id: int
    tag: str
    former_tag: str | None
    unit_type: str
    build: str
    serial: str
    owner: str
    where: Where
    where_words: str
    fit: Fit
    reasons: tuple[str, ...]
    advises: tuple[str, ...]
    next_booking: NextBooking | None
    next_due: NextDue | None
    hours: float
    dives: int
    hires: int
    open_tickets: tuple[str, ...]
    harness: str | None
    in_service_on: date
    retired_on: date | None


@dataclass(frozen=True, slots=True)
class HoldLine:
    """One hold on a unit or on a part in it; lifted_at None while it stands."""

    hold_id: int
    kind: str
    reason: str
    part: str | None
    placed_at: datetime
    placed_by: str
    lifted_at: datetime | None
    lifted_by: str | None
    lift_reason: str | None


@dataclass(frozen=True, slots=True)
class HistoryLine:
    """One thing that was done to a unit; kind and key lead to the record."""

    at: datetime
    kind: str
    key: int
    words: str
    person: str | None
    verdict: str | None


@dataclass(frozen=True, slots=True)
class CellLine:
    """One cell position with the last outcome since the cell was fitted there."""

    position: str
    part_id: int | None
    serial: str | None
    lot: str | None
    last_good_day: date | None
    basis: str | None
    air_mv: float | None
    oxygen_mv: float | None
    linearity: float | None
    expanded_u: float | None
    verified_up_to_bar: float | None
    verdict: str | None
    finding: str | None
    calibrated_at: datetime | None


@dataclass(frozen=True, slots=True)
class FlowPlace:
    """One slot on the flow line of breathing loop and gas side, left to right by flow_place."""

    flow_place: int
    slot: str
    slot_kind: str
    oxygen_side: bool
    part_id: int | None
    part: str | None
    state: LifeWord
    words: str


@dataclass(frozen=True, slots=True)
class UnitPage:
    """Everything on one unit's page; history newest first."""

    row: UnitRow
    place: str | None
    manual: str
    assessment: Assessment
    fitted: tuple[FittedPart, ...]
    flow: tuple[FlowPlace, ...]
    cells: tuple[CellLine, ...]
    fill: "FillLine | None"
    holds: tuple[HoldLine, ...]
    history: tuple[HistoryLine, ...]


@dataclass(frozen=True, slots=True)
class FillLine:
    """The fill in a unit's canister."""

    fill_id: int
    packed_at: datetime
    packed_by: str | None
    mass_g: float | None
    lot: str | None
    diver: str | None
    used_share: float
    minutes_left: float
    rule: str
    reason: str
