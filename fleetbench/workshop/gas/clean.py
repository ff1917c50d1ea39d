"""Parts in the house that lost their oxygen-clean status and have not been cleaned since."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, tzinfo

from fleetbench.records.gas.reads import GasRecords, read_cleanings, read_in_house, read_kept_clean, read_losses
from fleetbench.records.parts.reads import PartRecord, read_fittings_of
from fleetbench.records.upkeep.table_facts import Connection
from fleetbench.workshop.gas.state import CylinderBook


@dataclass(frozen=True, slots=True)
class LostPart:
    """One such part, where it sits, since when and why; slot_id None for one on the shelf."""

    part: PartRecord
    slot_id: int | None
    unit_id: int | None
    host_part_id: int | None
    lost_at: datetime
    words: str


def lost_clean(connection: Connection, zone: tzinfo) -> tuple[LostPart, ...]:
    """Every such part by key; a fixed number of statements."""
    losses = read_losses(connection)
    keys = tuple(sorted({each.part_id for each in losses}))
    kept = read_kept_clean(connection, keys)
    records = GasRecords((), (), (), (), (), read_cleanings(connection, keys), losses, kept)
    return tuple(_lost(connection, CylinderBook(records, zone), keys))


def _lost(connection: Connection, book: CylinderBook, keys: tuple[int, ...]) -> Iterator[LostPart]:
    sits = {fit.part_id: fit for fit in read_fittings_of(connection, keys) if fit.removed_at is None}
    for part in read_in_house(connection, keys):
        status, fitting = book.clean(part.part_id), sits.get(part.part_id)
        if status.clean is False and status.lost_at is not None:
            yield LostPart(
                part,
                fitting.slot_id if fitting is not None else None,
                fitting.unit_id if fitting is not None else None,
                fitting.host_part_id if fitting is not None else None,
                status.lost_at,
                status.words,
            )
