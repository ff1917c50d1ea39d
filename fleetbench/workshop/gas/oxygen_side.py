"""The gas side of a unit, part by part, and parts in the house that lost their oxygen-clean status.

The oxygen side: parts cleaned, what ended their status, and the lubricant and seal kits kept on the ticket.

clean_parts(workplace, part_ids, how)             on the clean bench; the status is there again
lose_clean(workplace, part_ids, why)              opened off the clean bench, flooded, wrong lubricant ...
use_material(workplace, ticket_id, ...)           lubricant or seal kit with its lot, for parts or for the job
oxygen_side(workplace, tag)                       each part on the oxygen side with what is left of its status
materials_of(workplace, ticket_id)

unit_gas(workplace, tag)              all of it at once
unit_cylinders(fleet, side, unit_id)  the cylinders in the unit
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, tzinfo

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.gas.cylinders import CleanStatus
from fleetbench.calc.parts.kinds import GONE
from fleetbench.records.bench.reads import read_equipment
from fleetbench.records.core.errors import Refused
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.gas.reads import (
    GasRecords,
    MaterialRecord,
    read_cleanings,
    read_gas,
    read_in_house,
    read_kept_clean,
    read_losses,
    read_materials,
)
from fleetbench.records.gas.tables import LOSSES, MATERIALS, CleanLoss, TicketMaterial
from fleetbench.records.parts.reads import PartRecord, read_fittings_of
from fleetbench.records.parts.tables import Part, PartTest
from fleetbench.records.people.reads import read_names
from fleetbench.records.units.reads import UnitRecord
from fleetbench.records.upkeep.tables import Connection
from fleetbench.workshop.core.workplace import Workplace, one_word, require_person, required
from fleetbench.workshop.gas.state import (
    CylinderBook,
    GasDepths,
    GasState,
    against_words,
    tests_last,
    unanalysed_words,
    unread_words,
)
from fleetbench.workshop.parts.fit import label
from fleetbench.workshop.parts.lives import refresh_lives
from fleetbench.workshop.readiness.hire import GasSide
from fleetbench.workshop.readiness.ready import Readiness
from fleetbench.workshop.tickets.work import open_one
from fleetbench.workshop.turn_rounds.handsets import BatteryLine, batteries_of
from fleetbench.workshop.turn_rounds.ticks import tick_cleaned
from fleetbench.workshop.units.fleet import Fleet, Seat, one_unit


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
    records = GasRecords(
        (),
        fills=(),
        analyses=(),
        gauges=(),
        certificates=(),
        cleanings=read_cleanings(connection, keys),
        losses=losses,
        kept=kept,
    )
    return tuple(_lost(connection, CylinderBook(records, zone), keys))


def _lost(connection: Connection, book: CylinderBook, keys: tuple[int, ...]) -> Iterator[LostPart]:
    sits = {fit.part_id: fit for fit in read_fittings_of(connection, keys) if fit.removed_at is None}
    for part in read_in_house(connection, keys):
        status, fitting = book.clean(part.part_id), sits.get(part.part_id)
        if status.clean is False and status.lost_at is not None:
            yield LostPart(
                part,
                slot_id=fitting.slot_id if fitting is not None else None,
                unit_id=fitting.unit_id if fitting is not None else None,
                host_part_id=fitting.host_part_id if fitting is not None else None,
                lost_at=status.lost_at,
                words=status.words,
            )


WHY_LOST = LOSSES
"""What may end the status, in words; `other` needs a note."""


@dataclass(frozen=True, slots=True)
class OxygenSidePart:
    """One part on the oxygen side of a unit; kept: whether it must be oxygen-clean, or ever was."""

    slot: str
    part_id: int
    part: str
    kept: bool
    status: CleanStatus


@dataclass(frozen=True, slots=True)
class MaterialLine:
    """Lubricant or a seal kit used under a ticket."""

    kind: str
    name: str
    lot: str
    oxygen_compatible: bool | None
    part_id: int | None
    at: datetime
    person: str | None


def clean_parts(
    workplace: Workplace, part_ids: Iterable[int], how: str, *, passed: bool = True, ticket_id: int | None = None
) -> tuple[int, ...]:
    """The keys of the cleanings, one a part, all in one act; how: method and where, for instance 'bath 2, clean bench'.

    passed False: looked at afterwards and not clean, which leaves the part unclean.
    """
    require_person(workplace)
    said = required("how", how)[:120]
    today = workplace.today()
    with workplace.transaction("clean for oxygen", "oxygen side") as act:
        keys = _parts(act, part_ids)
        if ticket_id is not None:
            open_one(act, ticket_id)
        written = tuple(
            act.add(
                PartTest(
                    part_id=key, kind="oxygen clean", done_on=today, precision="day", passed=passed, at=act.at,
                    how=said, person_id=workplace.person_id, ticket_id=ticket_id,
                )
            ).id
            for key in keys
        )  # fmt: skip
        refresh_lives(act, keys)
        if passed:
            tick_cleaned(act, keys)
        return written


def lose_clean(
    workplace: Workplace, part_ids: Iterable[int], why: str, *, note: str | None = None, ticket_id: int | None = None
) -> tuple[int, ...]:
    """The keys of the losses, one a part, all in one act; why: one of the table's words, `other` with a note."""
    require_person(workplace)
    one_word("why", why, LOSSES)
    said = (note or "").strip()[:300] or None
    if why == "other" and said is None:
        raise Refused(say("note: is missing; say in words what ended it"))
    with workplace.transaction("oxygen-clean lost", why) as act:
        keys = _parts(act, part_ids)
        if ticket_id is not None:
            open_one(act, ticket_id)
        return tuple(
            act.add(
                CleanLoss(
                    part_id=key, at=act.at, why=why, person_id=workplace.person_id, ticket_id=ticket_id, note=said
                )
            ).id
            for key in keys
        )


def use_material(
    workplace: Workplace,
    ticket_id: int,
    *,
    kind: str,
    name: str,
    lot: str,
    oxygen_compatible: bool | None,
    part_ids: Iterable[int] = (),
) -> tuple[int, ...]:
    """The keys of what was used under an open ticket, one a part, or one for the job where no part is named.

    What is not known to be oxygen-compatible ends the oxygen-clean status of the parts named.
    """
    require_person(workplace)
    one_word("kind", kind, MATERIALS)
    called, mark = required("name", name)[:80], required("lot", lot)[:60]
    with workplace.transaction(f"use {kind}", f"ticket {ticket_id}") as act:
        open_one(act, ticket_id)
        listed = tuple(part_ids)
        keys: tuple[int | None, ...] = _parts(act, listed) if listed else (None,)
        return tuple(
            act.add(
                TicketMaterial(
                    ticket_id=ticket_id, part_id=key, kind=kind, name=called, lot=mark,
                    oxygen_compatible=oxygen_compatible, at=act.at, person_id=workplace.person_id,
                )
            ).id
            for key in keys
        )  # fmt: skip


def oxygen_side(workplace: Workplace, tag: str) -> tuple[OxygenSidePart, ...]:
    """Every part on the oxygen side of a unit, in order of its slots; NotFound for an unknown unit."""
    fleet = one_unit(workplace, tag)
    unit = fleet.records.units[0]
    seats = [seat for seat in fleet.seats(unit.unit_id) if seat.slot.oxygen_side and seat.part is not None]
    keys = tuple(seat.part.part_id for seat in seats if seat.part is not None)
    with workplace.database.reading() as connection:
        book = CylinderBook(read_gas(connection, keys), fleet.day.zone)
    return tuple(
        OxygenSidePart(
            seat.slot.name,
            part_id=seat.part.part_id,
            part=seat.part.label,
            kept=book.must_be_clean(seat.part.part_id),
            status=book.clean(seat.part.part_id),
        )
        for seat in seats
        if seat.part is not None
    )


def materials_of(workplace: Workplace, ticket_id: int) -> tuple[MaterialLine, ...]:
    """Lubricants and seal kits used under a ticket, in order."""
    with workplace.database.reading() as connection:
        found, names = read_materials(connection, ticket_id), read_names(connection)
    return tuple(_line(each, names) for each in found)


def _line(record: MaterialRecord, names: dict[int, str]) -> MaterialLine:
    person = names.get(record.person_id) if record.person_id is not None else None
    return MaterialLine(
        record.kind,
        name=record.name,
        lot=record.lot,
        oxygen_compatible=record.oxygen_compatible,
        part_id=record.part_id,
        at=record.at,
        person=person,
    )


def _parts(act: Transaction, part_ids: Iterable[int]) -> tuple[int, ...]:
    keys = tuple(dict.fromkeys(part_ids))
    if not keys:
        raise Refused(say("parts: none chosen; mark the parts on the oxygen side"))
    for key in keys:
        part = act.get(Part, key, say("part {key}", key=key))
        if part.state in GONE:
            raise Refused(
                say(
                    "part {label}: is {state}; nothing more is recorded of it", label=label(part), state=say(part.state)
                )
            )
    return keys


@dataclass(frozen=True, slots=True)
class UnitCylinder:
    """One cylinder in a unit; figures None are not known.

    said: what is against its gas or missing, empty where nothing is. clean: its status where it needs one.
    """

    slot: str
    part: PartRecord
    state: GasState
    depths: GasDepths
    next_test: date | None
    clean: CleanStatus | None
    said: tuple[str, ...]


def unit_cylinders(fleet: Fleet, side: GasSide, unit_id: int) -> tuple[UnitCylinder, ...]:
    """Every cylinder in a unit, in order of its slots."""
    found = []
    for seat, state in side.states(unit_id):
        if seat.part is None or seat.fitting is None:
            continue
        against = (words for words, _ in against_words(state))
        found.append(
            UnitCylinder(
                slot=seat.slot.name,
                part=seat.part,
                state=state,
                depths=side.book.depths(state),
                next_test=tests_last(fleet.book.last_good_days(seat.part, seat.fitting.fitted_at, unit_id)),
                clean=side.book.clean_where_kept(seat.part.part_id),
                said=tuple(filter(None, (*against, unanalysed_words(state), unread_words(state)))),
            )
        )
    return tuple(found)


@dataclass(frozen=True, slots=True)
class GasSideService:
    """A part that is serviced by interval: last done, last good day (None not known), its calculation and source."""

    slot: str
    part_id: int
    serial: str
    last_good_day: date | None
    done: str
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class UnitGas:
    """The gas side of a unit; meters: key and name of what reads volts."""

    tag: str
    unit_type: str
    today: date
    cylinders: tuple[UnitCylinder, ...]
    oxygen_side: tuple[OxygenSidePart, ...]
    services: tuple[GasSideService, ...]
    batteries: tuple[BatteryLine, ...]
    meters: tuple[tuple[int, str], ...]


def unit_gas(workplace: Workplace, tag: str) -> UnitGas:
    """The gas side of a unit by its tag; NotFound for an unknown one."""
    fleet = one_unit(workplace, tag)
    unit = fleet.records.units[0]
    side = Readiness(fleet).gas_side
    with workplace.database.reading() as connection:
        meters = [each for each in read_equipment(connection) if each.unit == "V"]
    return UnitGas(
        tag=unit.tag,
        unit_type=unit.unit_type,
        today=fleet.day.today,
        cylinders=unit_cylinders(fleet, side, unit.unit_id),
        # Those that must be clean stand first: they are what is asked about.
        oxygen_side=tuple(sorted(_oxygen_side(fleet, side, unit.unit_id), key=lambda each: not each.kept)),
        services=tuple(line for seat in fleet.seats(unit.unit_id) for line in _services(fleet, seat, unit)),
        batteries=batteries_of(fleet, unit.unit_id, unit.unit_type_id),
        meters=tuple((each.equipment_id, f"{each.name} {each.serial}") for each in meters),
    )


def _oxygen_side(fleet: Fleet, side: GasSide, unit_id: int) -> Iterator[OxygenSidePart]:
    for seat in fleet.seats(unit_id):
        if seat.part is None:
            continue
        kept = side.book.must_be_clean(seat.part.part_id)
        if kept or seat.slot.oxygen_side:
            status = side.book.clean(seat.part.part_id)
            yield OxygenSidePart(
                seat.slot.name, part_id=seat.part.part_id, part=seat.part.label, kept=kept, status=status
            )


def _services(fleet: Fleet, seat: Seat, unit: UnitRecord) -> Iterator[GasSideService]:
    if seat.part is None or seat.fitting is None:
        return
    done = fleet.book.tests_of(seat.part.part_id).get("service")
    for each in fleet.book.last_good_days(seat.part, seat.fitting.fitted_at, unit.unit_id):
        if each.limit.test_kind == "service":
            yield GasSideService(
                seat.slot.name, part_id=seat.part.part_id, serial=seat.part.label, last_good_day=each.day,
                done=str(done) if done else "", why=each.why,
                source=each.limit.source,
            )  # fmt: skip


def keeps_clean(workplace: Workplace, part_id: int) -> bool:
    """Whether a part must be oxygen-clean, or ever was."""
    with workplace.database.reading() as connection:
        return bool(read_kept_clean(connection, (part_id,)) or read_cleanings(connection, (part_id,)))


def fitted_in(workplace: Workplace, tag: str) -> tuple[tuple[int, str], ...]:
    """Key and 'slot, serial' of every part that sits in a unit, in tree order; NotFound for an unknown unit."""
    fleet = one_unit(workplace, tag)
    seats = fleet.seats(fleet.records.units[0].unit_id)
    return tuple(
        (seat.part.part_id, strung(", ", (seat.slot.name, seat.part.label))) for seat in seats if seat.part is not None
    )
