"""Reads of firmware and of how handsets were left for the next diver."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import Connection, func, select

from fleetbench.records.core.record_rows import records_of
from fleetbench.records.turn_rounds.handsets import ApprovedFirmware, FirmwareChange, HandsetLook


@dataclass(frozen=True, slots=True)
class ApprovedRecord:
    """One firmware version that a unit type allows."""

    unit_type_id: int
    version: str
    source: str


@dataclass(frozen=True, slots=True)
class LookRecord:
    """One look at a unit's handsets; None is not looked at."""

    unit_id: int
    at: datetime
    settings_reset: bool | None
    previous_data: str | None


def read_approved_firmware(connection: Connection) -> tuple[ApprovedRecord, ...]:
    """Every version that a unit type allows; one statement."""
    query = select(ApprovedFirmware.unit_type_id, ApprovedFirmware.version, ApprovedFirmware.source).order_by(
        ApprovedFirmware.unit_type_id, ApprovedFirmware.version
    )
    return records_of(connection, query, ApprovedRecord)


def read_firmware_changes(connection: Connection) -> dict[int, datetime]:
    """When each handset last got another firmware; one statement."""
    query = select(FirmwareChange.part_id, func.max(FirmwareChange.at)).group_by(FirmwareChange.part_id)
    return {part_id: at for part_id, at in connection.execute(query)}


def read_last_looks(connection: Connection, unit_id: int | None = None) -> tuple[LookRecord, ...]:
    """The last look at each unit's handsets of each sort (settings, previous data, both), oldest first."""
    rank = func.row_number().over(
        partition_by=(
            HandsetLook.unit_id, HandsetLook.settings_reset.is_(None), HandsetLook.previous_data.is_(None)
        ),
        order_by=(HandsetLook.at.desc(), HandsetLook.id.desc()),
    )  # fmt: skip
    ranked = select(HandsetLook.id.label("id"), rank.label("rank"))
    if unit_id is not None:
        ranked = ranked.where(HandsetLook.unit_id == unit_id)
    last = ranked.subquery()
    query = (
        select(HandsetLook.unit_id, HandsetLook.at, HandsetLook.settings_reset, HandsetLook.previous_data)
        .join(last, last.c.id == HandsetLook.id)
        .where(last.c.rank == 1)
        .order_by(HandsetLook.at, HandsetLook.id)
    )
    return records_of(connection, query, LookRecord)
