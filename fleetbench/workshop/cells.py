"""Cells with their ages, last outcomes and trends.

list_cells(shop, include_worn=False) -> tuple[CellRow, ...]    fitted and in stock; scrapped ones on request
cell_page(shop, part_id) -> CellPage
"""

from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.workshop.parts import FittingLine, LimitLine


@dataclass(frozen=True, slots=True)
class AgeLine:
    """Age of a cell against one limit: whole days since the anchor, and days left."""

    basis: str
    limit: str
    age_days: int | None
    days_left: int | None


@dataclass(frozen=True, slots=True)
class CellRow:
    """One cell; mV are normalised to dry air and pure oxygen at 1013.25 mbar.

    trend: (site's date, linearity in percent) oldest first. verdict: `not calibrated` is None, never a pass.
    """

    part_id: int
    serial: str
    lot: str | None
    part_type: str
    part_state: str
    unit: str | None
    head: str | None
    position: str | None
    made: str | None
    opened: str | None
    ages: tuple[AgeLine, ...]
    last_good_day: date | None
    basis: str | None
    life_state: str
    air_mv: float | None
    oxygen_mv: float | None
    linearity: float | None
    expanded_u: float | None
    margin: float | None
    verified_up_to_bar: float | None
    verdict: str | None
    finding: str | None
    next_step: str | None
    calibrated_at: datetime | None
    trend: tuple[tuple[date, float], ...]


@dataclass(frozen=True, slots=True)
class OutcomeLine:
    """What one calibration said of a cell."""

    calibration_id: int
    at: datetime
    made: str
    unit: str
    position: str
    verdict: str
    air_mv: float | None
    oxygen_mv: float | None
    linearity: float | None
    expanded_u: float | None
    margin: float | None
    reader_gap_bar: float | None
    verified_up_to_bar: float | None
    blame: str | None
    finding: str
    next_step: str
    person: str | None


@dataclass(frozen=True, slots=True)
class LotMate:
    """Another cell of the same lot."""

    part_id: int
    serial: str
    unit: str | None
    position: str | None
    part_state: str
    verdict: str | None


@dataclass(frozen=True, slots=True)
class DriftPoint:
    """One point of the drift plot: days since the first, normalised mV in air and in oxygen, linearity, verdict."""

    at: datetime
    air_mv: float | None
    oxygen_mv: float | None
    linearity: float | None
    expanded_u: float | None
    verdict: str


@dataclass(frozen=True, slots=True)
class CellPage:
    """One cell's whole record; calibrations newest first, drift oldest first."""

    row: CellRow
    limits: tuple[LimitLine, ...]
    calibrations: tuple[OutcomeLine, ...]
    fittings: tuple[FittingLine, ...]
    lot_mates: tuple[LotMate, ...]
    drift: tuple[DriftPoint, ...]
