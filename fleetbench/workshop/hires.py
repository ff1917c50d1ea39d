"""Hires, courses and try days; and what the hand-over sheet says of a unit.

list_bookings(shop, *, past=False) -> tuple[BookingRow, ...]
hire_lines(shop, booking_code) -> tuple[HireLine, ...]
handover_facts(shop, tag, booking_code=None) -> HandoverFacts
"""

from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.calc.readiness import Assessment
from fleetbench.workshop.parts import FittedPart
from fleetbench.workshop.units import CellLine, FillLine, FlowPlace
from fleetbench.workshop.valves import TestLine


@dataclass(frozen=True, slots=True)
class BookingRow:
    """One booking; state: `to come`, `out`, `late`, `back` or `cancelled`."""

    booking_id: int
    code: str
    kind: str
    unit_type: str
    starts_on: date
    ends_on: date
    units_wanted: int
    renter: str | None
    instructor: str | None
    units: tuple[str, ...]
    out: int
    back: int
    planned_minutes: float | None
    planned_depth_m: float | None
    planned_water_c: float | None
    state: str


@dataclass(frozen=True, slots=True)
class HireLine:
    """One unit on one booking."""

    line_id: int
    booking: str
    unit: str
    diver: str | None
    hand_over: str | None
    out_at: datetime | None
    out_by: str | None
    received_at: datetime | None
    received_by: str | None
    wet: bool | None
    flooded: bool | None
    fault: bool | None
    loop_minutes: float | None
    dives: int | None
    note: str | None


@dataclass(frozen=True, slots=True)
class CylinderFacts:
    """A cylinder that goes along: role, contents, analysis and tests; None is not recorded."""

    slot: str
    part_id: int
    serial: str
    role: str
    size_l: float
    working_bar: float
    filled_at: datetime | None
    end_bar: float | None
    oxygen_percent: float | None
    helium_percent: float | None
    analysed_by: str | None
    analysed_at: datetime | None
    analysis_stale: bool
    oxygen_asked: float | None
    helium_asked: float | None
    tests: tuple[tuple[str, date], ...]
    last_good_day: date | None
    basis: str | None


@dataclass(frozen=True, slots=True)
class HandsetFacts:
    """One handset: serial, firmware, and the calibration stored in it as recorded."""

    slot: str
    serial: str | None
    firmware: str | None
    set_at: datetime | None
    fraction_set: float | None
    pressure_set_mbar: float | None
    shown_oxygen_bar: float | None
    shown_air_bar: float | None


@dataclass(frozen=True, slots=True)
class HandoverFacts:
    """Everything the hand-over sheet states; what is None was not recorded, and the sheet says so."""

    centre: str
    telephone: str | None
    tag: str
    unit_type: str
    unit_serial: str
    manual: str
    harness: str | None
    booking: str | None
    booking_kind: str | None
    renter: str | None
    diver: str | None
    starts_on: date | None
    ends_on: date | None
    hand_over: str
    record: str | None
    planned_minutes: float | None
    planned_depth_m: float | None
    planned_water_c: float | None
    set_point_low_bar: float | None
    set_point_high_bar: float | None
    head_serial: str | None
    handsets: tuple[HandsetFacts, ...]
    cells: tuple[CellLine, ...]
    calibrated_at: datetime | None
    calibrated_by: str | None
    fill: FillLine | None
    discard_by: datetime | None
    cylinders: tuple[CylinderFacts, ...]
    tests: tuple[TestLine, ...]
    disinfected_at: datetime | None
    dry_at: datetime | None
    fitted: tuple[FittedPart, ...]
    flow: tuple[FlowPlace, ...]
    known_faults: tuple[str, ...]
    assessment: Assessment
    today: date
