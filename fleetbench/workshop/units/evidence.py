"""What is recorded of a unit over a span of dates, gathered for an incident or an audit."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.people.reads import read_names
from fleetbench.records.tickets.reads import read_photographs, read_ticket_numbers
from fleetbench.records.units.evidence_reads import Sheet, read_evidence
from fleetbench.records.units.history import read_history
from fleetbench.records.units.reads import read_units
from fleetbench.records.upkeep.verify import verify
from fleetbench.workshop.core.workplace import Shop
from fleetbench.workshop.tickets.list import PhotographLine
from fleetbench.workshop.tickets.photographs import pictures_of
from fleetbench.workshop.units.history import HistoryLine, history_lines


@dataclass(frozen=True, slots=True)
class EvidencePhotograph:
    """A photograph of one of the unit's tickets; data None where its file is missing or was changed."""

    ticket: str
    line: PhotographLine
    data: bytes | None


@dataclass(frozen=True, slots=True)
class Evidence:
    """A unit's records from first through last day: readings as tables, what was done oldest first, the chain's head.

    head: number and hash of the journal's last entry as `verify --head` reads it. broken: the first break that verify
    found while gathering, or None.
    """

    tag: str
    serial: str
    first: date
    last: date
    sheets: tuple[Sheet, ...]
    history: tuple[HistoryLine, ...]
    head: str
    broken: str | None
    photographs: tuple[EvidencePhotograph, ...] = ()


def gather_evidence(shop: Shop, tag: str, first: date, last: date) -> Evidence:
    """Everything recorded of the unit within the site's days, both inclusive; read in one transaction.

    Raises NotFound for an unknown tag and Refused where the last day is before the first.
    """
    if last < first:
        raise Refused(f"last day: {last} is before the first {first}; give them the other way round")
    zone = shop.zone()
    begins = datetime.combine(first, time(), zone)
    ends = datetime.combine(last + timedelta(days=1), time(), zone)
    with shop.database.reading() as connection:
        found = read_units(connection, tag)
        if not found:
            raise NotFound(f"unit {tag}: no unit has this tag; check the tag or look it up with find")
        unit = found[0]
        records = read_history(connection, unit.unit_id)
        lines = history_lines(records, read_names(connection))
        tickets = [ticket.ticket_id for ticket in records.tickets]
        sheets = read_evidence(connection, unit.unit_id, unit.tag, tickets, begins, ends)
        names, numbers = read_names(connection), read_ticket_numbers(connection)
        taken = [each for each in read_photographs(connection, ticket_ids=tickets) if begins <= each.at < ends]
    pictures = pictures_of(shop, (each.sha256 for each in taken))
    report = verify(shop.database)
    return Evidence(
        tag=unit.tag,
        serial=unit.serial,
        first=first,
        last=last,
        sheets=sheets,
        history=tuple(line for line in reversed(lines) if begins <= line.at < ends),
        head=f"{report.head_number}:{report.head_hash or 'no entry'}",
        broken=report.first_break,
        photographs=tuple(
            EvidencePhotograph(
                numbers[each.ticket_id],
                PhotographLine(
                    each.sha256,
                    each.at,
                    names.get(each.person_id) if each.person_id is not None else None,
                    each.caption,
                    each.wide,
                    each.high,
                ),
                pictures.get(each.sha256),
            )
            for each in taken
        ),
    )
