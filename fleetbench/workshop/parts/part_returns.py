"""Parts sent back under warranty, with the readings that prove the fault."""

from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.records.core.errors import NotFound
from fleetbench.records.parts.lookups import ProofFigures, read_part_events, read_proof_figures
from fleetbench.records.parts.reads import read_part_place
from fleetbench.records.people.reads import read_names
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.parts.history import part_story
from fleetbench.workshop.parts.list import part_page


@dataclass(frozen=True, slots=True)
class ReturnPage:
    """One return. made, opened: as marked, None for not known; served: stays in units, oldest first, in words."""

    event_id: int
    part: str
    part_type: str
    serial: str | None
    lot: str | None
    made: str | None
    opened: str | None
    received_on: date | None
    supplier: str | None
    price: float | None
    sent_at: datetime
    sent_by: str | None
    reason: str
    served: tuple[str, ...]
    proofs: tuple[ProofFigures, ...]


def return_page(shop: Shop, part_id: int) -> ReturnPage:
    """The last return of a part that nobody took back; NotFound where it was never sent back."""
    page, story = part_page(shop, part_id), part_story(shop, part_id)
    with shop.database.reading() as connection:
        events = read_part_events(connection, part_id)
        taken_back = {event.undoes_id for event in events}
        sent = [event for event in events if event.kind == "sent back" and event.event_id not in taken_back]
        if not sent:
            raise NotFound(f"part {page.part}: was never sent back")
        proofs = read_proof_figures(connection, sent[-1].event_id)
        place, names = read_part_place(connection, part_id), read_names(connection)
    served = tuple(
        f"{stay.where}, {stay.since:%Y-%m-%d} to {f'{stay.until:%Y-%m-%d}' if stay.until else 'now'}"
        + (f", out for {stay.why_removed}" if stay.why_removed else "")
        for stay in story.stays
    )
    return ReturnPage(
        sent[-1].event_id, page.part, page.part_type, page.serial, page.lot, page.made, page.opened, page.received_on,
        place.supplier if place else None, place.price if place else None, sent[-1].at,
        names.get(sent[-1].person_id or 0), sent[-1].reason or "", served, proofs,
    )  # fmt: skip
