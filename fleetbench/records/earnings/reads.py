"""What units were promised for, out on, worked on and fitted with, over all time, in a fixed number of reads.

And the records as they stood at a moment that is past, in a database in memory that is led from day to day.

Rows are there from the moment that they tell of, and are without an end (removed, lifted, signed, back) until it came.
What has no moment, such as types, limits, notices' scopes and names of places, stands as it does today; what a person
is called is left out.
"""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, tzinfo
from typing import Any

from sqlalchemy import Connection, Table, bindparam, create_engine, func, insert, or_, select, update
from sqlalchemy.orm import aliased
from sqlalchemy.pool import StaticPool

from fleetbench.calc.core.verdict import WorkState
from fleetbench.calc.parts.kinds import PartState
from fleetbench.records.canisters.tables import Container, Fill
from fleetbench.records.core.errors import end_if_unwanted
from fleetbench.records.core.schema import KeptReads, Query, records_of, select_of
from fleetbench.records.hires.reads import BookingRecord, read_bookings
from fleetbench.records.hires.tables import Booking, BookingUnit
from fleetbench.records.parts.reads import FittingRecord
from fleetbench.records.parts.tables import Fitting, Part, PartType
from fleetbench.records.tickets.reads import TicketRecord, read_tickets
from fleetbench.records.tickets.tables import TicketTime
from fleetbench.records.upkeep.tables import metadata


@dataclass(frozen=True, slots=True)
class LineRecord:
    """One unit on one booking, whatever became of it."""

    booking_id: int
    unit_id: int
    starts_on: date
    ends_on: date
    cancelled_at: datetime | None
    taken_off_at: datetime | None
    hand_over: str | None
    out_at: datetime | None
    received_at: datetime | None


@dataclass(frozen=True, slots=True)
class TimedWork:
    """Minutes worked under a ticket by one person from a moment."""

    ticket_id: int
    began_at: datetime
    minutes: float | None


@dataclass(frozen=True, slots=True)
class UsedPart:
    """A part at its first fitting, in the place of another; host_part_id: in an assembly. price: its own, else its
    type's, None where none is recorded."""

    unit_id: int | None
    host_part_id: int | None
    fitted_at: datetime
    part_type: str
    price: float | None


@dataclass(frozen=True, slots=True)
class PackedRecord:
    """Absorbent packed into a canister, with the price of a kilogram; None is not recorded."""

    part_id: int
    booked_unit_id: int | None
    packed_at: datetime
    mass_g: float | None
    price: float | None


@dataclass(frozen=True, slots=True)
class EarningsRecords:
    """All of it."""

    lines: tuple[LineRecord, ...]
    wanted: tuple[BookingRecord, ...]
    tickets: tuple[TicketRecord, ...]
    timed: tuple[TimedWork, ...]
    used: tuple[UsedPart, ...]
    stays: tuple[FittingRecord, ...]
    packed: tuple[PackedRecord, ...]
    seen_from: dict[int, datetime]


def read_earnings(connection: Connection) -> EarningsRecords:
    """All of it; eight statements. seen_from: when something was first fitted in each unit."""
    superseded = select(TicketTime.supersedes_id).where(TicketTime.supersedes_id.is_not(None))
    first: Query = (
        select(Fitting.unit_id, func.min(Fitting.fitted_at))
        .where(Fitting.unit_id.is_not(None))
        .group_by(Fitting.unit_id)
    )
    packed = (
        select_of(PackedRecord, Fill, booked_unit_id=BookingUnit.unit_id, price=PartType.price)
        .outerjoin(BookingUnit, BookingUnit.id == Fill.booking_unit_id)
        .outerjoin(Container, Container.id == Fill.container_id)
        .outerjoin(PartType, PartType.id == Container.part_type_id)
    )
    lines = select_of(LineRecord, BookingUnit, Booking).join(Booking, Booking.id == BookingUnit.booking_id)
    return EarningsRecords(
        records_of(connection, lines, LineRecord),
        wanted=read_bookings(connection),
        tickets=read_tickets(connection),
        timed=records_of(
            connection, select_of(TimedWork, TicketTime).where(TicketTime.id.not_in(superseded)), TimedWork
        ),
        used=records_of(connection, _used(), UsedPart),
        stays=records_of(connection, select_of(FittingRecord, Fitting, fitting_id=Fitting.id), FittingRecord),
        packed=records_of(connection, packed, PackedRecord),
        seen_from={unit: at for unit, at in connection.execute(first)},
    )


def _used() -> Query:
    """First fittings of parts whose place held another part before; what was found there is no use."""
    earlier, before = aliased(Fitting), aliased(Fitting)
    same_place: Any = or_(
        (earlier.unit_id == Fitting.unit_id) & (earlier.slot_id == Fitting.slot_id),
        (earlier.host_part_id == Fitting.host_part_id) & (earlier.slot_id == Fitting.slot_id),
    )
    replaced = select(earlier.id).where(
        same_place, earlier.part_id != Fitting.part_id, earlier.fitted_at < Fitting.fitted_at
    )
    fitted_before = select(before.id).where(before.part_id == Fitting.part_id, before.fitted_at < Fitting.fitted_at)
    return (
        select_of(UsedPart, Fitting, part_type=PartType.name, price=func.coalesce(Part.price, PartType.price))
        .join(Part, Part.id == Fitting.part_id)
        .join(PartType, PartType.id == Part.part_type_id)
        .where(
            or_(Fitting.since_unknown.is_(None), Fitting.since_unknown.is_(False)),
            replaced.exists(),
            ~fitted_before.exists(),
        )
        .order_by(Fitting.fitted_at, Fitting.id)
    )


Row = dict[str, Any]

BORN = {
    "absence": "left_at", "bench_session": "started_at", "fill": "packed_at", "fitting": "fitted_at",
    "hold": "placed_at", "notice": "issued_on", "part_order": "ordered_at", "service_need": "began_at",
    "service_step": "began_at", "step_result": "settled_at", "part_test": "done_on", "qualification": "seen_on",
    "run": "started_at", "ticket": "opened_at", "ticket_time": "began_at", "turn_round": "opened_at",
}  # fmt: skip
"""By table, the column from which a row is there; of any other its column `at`, or from the beginning."""

ENDS: dict[str, dict[str, tuple[str, ...]]] = {
    "absence": {"back_at": ()},
    "accepted_plan": {"undone_at": ()},
    "part_order": {"cancelled_at": ()},
    "service_need": {"ended_at": ()},
    "service_step": {"ended_at": ()},
    "bench_session": {"ended_at": ()},
    "booking": {"cancelled_at": ("ended_as", "ended_for")},
    "booking_diver": {"left_at": ()},
    "booking_unit": {
        "out_at": ("out_by_id",),
        "received_at": ("received_by_id", "wet", "flooded", "fault", "loop_minutes", "dives"),
        "taken_off_at": ("taken_off_for",),
    },
    "container": {"opened_at": ()},
    "disinfection": {"dry_at": ()},
    "fill": {"wetted_at": (), "closed_up_at": (), "discarded_at": ("discarded_by_id", "why_discarded")},
    "fitting": {"removed_at": ("removed_by_id", "removal_ticket_id", "why_removed")},
    "hold": {"lifted_at": ("lifted_by_id", "lift_reason")},
    "task": {"settled_at": ("person_id", "put_off_reason", "minutes")},
    "ticket": {"signed_at": ("signed_by_id", "second_id"), "withdrawn_at": ()},
    "ticket_time": {"ended_at": ("minutes",)},
    "turn_round": {"finished_at": ("finished_by_id",)},
    "turn_round_line": {"settled_at": ("person_id", "how")},
}  # fmt: skip
"""By table, each column that ends or settles a row, and what was written with it: nothing before that moment."""

PARENT = {
    "bath_loop": "bath", "calibration_outcome": "calibration", "calibration_reading": "calibration",
    "gas_certificate_line": "gas_certificate", "service_work": "task", "task": "ticket",
    "turn_round_line": "turn_round",
}  # fmt: skip
"""Rows without a moment that come with another row."""

UNSETTLED = {"task": WorkState.TO_DO.value, "turn_round_line": WorkState.TO_DO.value}
"""What stood in `state` before a row was settled."""

LEFT_OUT = frozenset(
    (
        "bench_reading", "finding", "hire_call", "hire_note", "journal", "leak", "legal_hold", "log_reading",
        "person_pin", "person_private", "photograph", "retention", "sheet_signature", "signature_drawing",
        "signed_page",
    )
)  # fmt: skip
"""Tables that bear on no unit's fitness: free words, names, pages and the journal itself."""

UNTIMED = frozenset(
    (
        ("bath", "mixed_at"), ("bath", "use_by"), ("booking_terms", "waited_since"), ("booking_terms", "waiting_since"),
        ("person", "erased_at"), ("person", "named_at"), ("run", "ended_by"), ("turn_round", "flooded_at"),
    )
)  # fmt: skip
"""Moments that are no end of their row: they were known when it was written, or bear on nothing here."""


class Past:
    """The records as they stood at a moment, which only moves on."""

    def __init__(self, source: Connection, first: datetime, zone: tzinfo) -> None:
        """first: the first moment that is asked for. zone: of the site, whose midnight a day without an hour is."""
        self._zone, self._changes = zone, list[tuple[datetime, int, Table, Row]]()
        self._engine = create_engine(
            "sqlite://", poolclass=StaticPool, connect_args={"check_same_thread": False}, hide_parameters=True
        )
        self.connection = self._engine.connect()
        metadata.create_all(self.connection)
        for index in metadata.tables["fitting"].indexes:
            if index.unique:  # one of two that overlap in the records may still stand for a day
                index.drop(self.connection)
        self._fill(source, first)
        self._kept = KeptReads(self.connection)
        self._changes.sort(key=lambda each: each[:2])
        self._next = 0

    def close(self) -> None:
        """Let go of it."""
        self.connection.close()
        self._engine.dispose()

    def lead_to(self, at: datetime) -> bool:
        """Make true everything that was recorded of moments up to this one; False where nothing was."""
        begun, self._next = self._next, self._next
        while self._next < len(self._changes) and self._changes[self._next][0] <= at:
            self._next += 1
        self._kept.changed({table.name for _, _, table, _ in self._changes[begun : self._next]})
        for table, rows in _in_turn(self._changes[begun : self._next]):
            if "_key" in rows[0]:
                values: dict[str, Any] = {name: bindparam(name) for name in rows[0] if name != "_key"}
                self.connection.execute(update(table).where(table.c.id == bindparam("_key")).values(values), rows)
            else:
                self.connection.execute(insert(table), rows)
        return self._next > begun

    def _fill(self, source: Connection, first: datetime) -> None:
        born: dict[tuple[str, int], datetime | None] = {}
        kept = {table: [dict(each) for each in source.execute(select(table)).mappings()]
                for table in metadata.sorted_tables if table.name not in LEFT_OUT}  # fmt: skip
        by_name = {table.name: rows for table, rows in kept.items()}
        self._parts_as_they_were(by_name)
        for table, rows in kept.items():
            end_if_unwanted()
            there: list[Row] = []
            for row in rows:
                since = born[table.name, row["id"]] = self._born(table.name, row, born)
                ends = list(self._ends(table.name, row, first, since))
                if since is not None and since > first:
                    self._changes.append((since, 0, table, row))
                else:
                    there.append(row)
                self._changes += [(at, 1, table, {"_key": row["id"], **values}) for at, values in ends]
            if there:
                self.connection.execute(insert(table), there)

    def _moment(self, value: date | datetime | None) -> datetime | None:
        if value is None or isinstance(value, datetime):
            return value
        return datetime.combine(value, time(), tzinfo=self._zone)

    def _born(self, name: str, row: Row, born: Mapping[tuple[str, int], datetime | None]) -> datetime | None:
        if name in PARENT:
            return born.get((PARENT[name], row[f"{PARENT[name]}_id"]))
        return self._moment(row.pop("_born", None) or row.get("at") or row.get(BORN.get(name, "")))

    def _ends(
        self, name: str, row: Row, first: datetime, since: datetime | None
    ) -> Iterator[tuple[datetime, dict[str, Any]]]:
        """Take back what came after the first moment, and give when it came."""
        for column, beside in ENDS.get(name, {}).items():
            at = self._moment(row[column])
            if at is None or at <= first:
                continue
            said = (column, *beside, *(("state",) if name in UNSETTLED else ()))
            yield max(at, since or at), {each: row[each] for each in said}
            row.update(dict.fromkeys((column, *beside)))
            if name in UNSETTLED:
                row["state"] = UNSETTLED[name]
        yield from row.pop("_steps", ())

    def _parts_as_they_were(self, kept: dict[str, list[Row]]) -> None:
        """Give each part the state that it had at first with its later ones, and each forecast its moment.

        The state before a change is the one after the change before. A part is there from the day it was received. A
        cell's forecast rests on its last calibration; what was forecast before that is not kept.
        """
        changes: dict[int, list[tuple[datetime, str]]] = defaultdict(list)
        for fitting in kept["fitting"]:
            changes[fitting["part_id"]].append((fitting["fitted_at"], PartState.STOCK.value))
            if fitting["removed_at"] is not None:
                changes[fitting["part_id"]].append((fitting["removed_at"], PartState.FITTED.value))
        for happened in kept["part_event"]:
            before = happened["state_before"] or PartState.STOCK.value
            changes[happened["part_id"]].append((happened["at"], before))
        for part in kept["part"]:
            steps = sorted(changes[part["id"]], key=lambda each: each[0])
            after = [*(state for _, state in steps[1:]), part["state"]][: len(steps)]
            part["_steps"] = [(at, {"state": state}) for (at, _), state in zip(steps, after, strict=True)]
            part["state"] = steps[0][1] if steps else part["state"]
            received = self._moment(part["received_on"])
            if received is not None:
                part["_born"] = min([received, *(at for at, _ in steps)])
        last = {calibration["id"]: calibration["at"] for calibration in kept["calibration"]}
        measured: dict[int, datetime] = {}
        for outcome in kept["calibration_outcome"]:
            at = last[outcome["calibration_id"]]
            measured[outcome["part_id"]] = max(at, measured.get(outcome["part_id"], at))
        for fitting in kept["fitting"]:
            if fitting["forecast_day"] is None:
                continue
            at = max(measured.get(fitting["part_id"], fitting["fitted_at"]), fitting["fitted_at"])
            fitting["_steps"] = [(at, {name: fitting[name] for name in ("forecast_day", "forecast_of")})]
            fitting.update(forecast_day=None, forecast_of=None)


def _in_turn(changes: Iterable[tuple[datetime, int, Table, Row]]) -> Iterator[tuple[Table, list[Row]]]:
    """Changes of one shape that follow one another, together."""
    shape: tuple[Table, tuple[str, ...]] | None = None
    rows: list[Row] = []
    for _, _, table, row in changes:
        mine = table, tuple(row)
        if shape is not None and mine != shape:
            yield shape[0], rows
            rows = []
        shape = mine
        rows.append(row)
    if shape is not None:
        yield shape[0], rows
