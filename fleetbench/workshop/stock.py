"""Stock by part type, and the cylinders.

list_stock(shop) -> tuple[StockRow, ...]
list_cylinders(shop) -> tuple[CylinderRow, ...]
"""

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class StockRow:
    """One part type: pieces (or kilograms) on hand, usable today, ending within 90 days, and fitted.

    usable: in stock, on no hold and inside every limit that is known to bind it on the shelf.
    """

    part_type_id: int
    code: str
    part_type: str
    kind: str
    stocked_in: str
    on_hand: float
    usable: float
    expiring: float
    expired: float
    unknown: float
    quarantine: float
    fitted: int
    lead_days: int | None
    pack_size: float | None
    price: float | None
    first_to_expire: date | None


@dataclass(frozen=True, slots=True)
class CylinderRow:
    """One cylinder: where it is, what was filled into it last and what an analyser said since."""

    part_id: int
    serial: str
    role: str
    size_l: float
    working_bar: float
    material: str | None
    marking: str | None
    unit: str | None
    slot: str | None
    place: str | None
    filled_at: datetime | None
    end_bar: float | None
    oxygen_asked: float | None
    helium_asked: float | None
    oxygen_percent: float | None
    helium_percent: float | None
    analysed_at: datetime | None
    analysis: str
    last_good_day: date | None
    basis: str | None
    life_state: str
