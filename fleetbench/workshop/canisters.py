"""Canisters with what is packed in them, and the absorbent still in its containers.

list_canisters(shop) -> tuple[CanisterRow, ...]
canister_page(shop, part_id) -> CanisterPage
list_containers(shop) -> tuple[ContainerRow, ...]
"""

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, slots=True)
class CanisterRow:
    """One canister and its fill.

    minutes_left: loop minutes at the centre's usual water and depth, at the rated carbon dioxide rate; None without a
    fill. rule, reason: what governs. state: `empty`, `fresh`, `in use` or `spent`.
    """

    part_id: int
    canister: str
    part_type: str
    unit: str | None
    fill_id: int | None
    packed_at: datetime | None
    packed_by: str | None
    mass_g: float | None
    lot: str | None
    container: str | None
    diver: str | None
    booking: str | None
    used_share: float | None
    loop_minutes: float | None
    minutes_left: float | None
    rule: str | None
    reason: str | None
    cautions: tuple[str, ...]
    state: str


@dataclass(frozen=True, slots=True)
class RunLine:
    """One use of a fill, with the share of the fill used up to its end."""

    run_id: int
    started_at: datetime
    unit: str
    diver: str | None
    minutes: float
    clock: str
    loop_minutes: float
    dives: int
    coldest_c: float | None
    deepest_m: float | None
    co2_l_min: float | None
    seen_at_6m_bar: float | None
    used_after: float


@dataclass(frozen=True, slots=True)
class FillStory:
    """One packing with its runs and its end."""

    fill_id: int
    packed_at: datetime
    packed_by: str | None
    mass_g: float | None
    checked: bool | None
    lot: str | None
    diver: str | None
    booking: str | None
    discarded_at: datetime | None
    why_discarded: str | None
    used_share: float
    loop_minutes: float
    notes: tuple[str, ...]
    runs: tuple[RunLine, ...]


@dataclass(frozen=True, slots=True)
class RatingLine:
    """One row of the canister type's table of rated minutes."""

    grade: str
    water_c: float
    depth_m: float
    co2_l_min: float
    minutes: float
    source: str


@dataclass(frozen=True, slots=True)
class CanisterPage:
    """One canister with its fills newest first, and the table that rates it."""

    row: CanisterRow
    water_c: float
    depth_m: float
    fills: tuple[FillStory, ...]
    rating: tuple[RatingLine, ...]


@dataclass(frozen=True, slots=True)
class ContainerRow:
    """Absorbent as bought; last_good_day None is not known."""

    container_id: int
    part_type: str
    grade: str | None
    lot: str
    received_kg: float
    left_kg: float
    received_on: date | None
    opened_at: datetime | None
    last_good_day: date | None
    days_left: int | None
    place: str | None
    state: str
