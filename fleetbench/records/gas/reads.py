"""Reads of what bears on cylinders and on the oxygen side: fills, analyses, gauges, certificates, cleanings, losses.

A fill or analysis that a later one puts right is left out everywhere.

Reads of cylinders with their last fill and the last analysis of it.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any, final

from sqlalchemy import ColumnElement, Connection, Subquery, func, or_, select
from sqlalchemy.orm import Session

from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.gas.cylinders import GasRole
from fleetbench.calc.parts.kinds import OwnerKind, PartState
from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.core.schema import Query, built_once, read_if_changed, reads, select_of
from fleetbench.records.gas.tables import (
    CleanLoss,
    Cylinder,
    CylinderFill,
    CylinderReading,
    GasAnalysis,
    GasCertificate,
    GasCertificateLine,
    TicketMaterial,
)
from fleetbench.records.hires.tables import BookingUnit
from fleetbench.records.parts.reads import PartRecord
from fleetbench.records.parts.tables import Fitting, Part, PartTest, PartType, PartTypeLife
from fleetbench.records.places.tables import Owner, Place

Parts = Query | Sequence[int] | None
"""Which parts are asked for: a query of keys, keys, or None for all."""


@dataclass(frozen=True, slots=True)
class CylinderRecord:
    """What a cylinder has beyond other parts, whose it is and where it lies; state as of any part."""

    part_id: int
    role: str
    size_l: float
    working_bar: float
    material: str | None
    marking: str | None
    owner: str
    place: str | None
    state: str


@final
@dataclass(frozen=True, slots=True)
class CylinderFillRecord:
    """One fill that stands; pressures by gauge in bar, gas asked for in percent."""

    fill_id: int
    ref: str | None
    part_id: int
    at: datetime
    oxygen_asked: float
    helium_asked: float
    start_bar: float | None
    end_bar: float
    person_id: int | None
    batch: str | None
    machine: str | None
    temperature_c: float | None
    oxygen_compatible: bool | None
    note: str | None


@final
@dataclass(frozen=True, slots=True)
class AnalysisRecord:
    """One analysis that stands, in percent as shown; uncertainty: standard, of oxygen, in percent."""

    analysis_id: int
    ref: str | None
    part_id: int
    at: datetime
    oxygen_percent: float | None
    helium_percent: float | None
    analyser: str | None
    uncertainty: float | None
    person_id: int | None
    by_diver: bool
    signed: str | None
    note: str | None


@dataclass(frozen=True, slots=True)
class GaugeRecord:
    """What a gauge showed between fills."""

    part_id: int
    at: datetime
    bar: float
    temperature_c: float | None


@dataclass(frozen=True, slots=True)
class CertificateRecord:
    """One certificate of a batch, with its figures by line."""

    certificate_id: int
    batch: str
    gas: str
    supplier: str | None
    issued_on: date
    values: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class OxygenCleaningRecord:
    """One cleaning for oxygen; at: None where only its day is known."""

    part_id: int
    done_on: date
    at: datetime | None
    passed: bool
    how: str | None
    done_by: str | None


@dataclass(frozen=True, slots=True)
class LossRecord:
    """What ends a part's oxygen-clean status, in words; of_unit: it befell the whole unit, as a flood does."""

    part_id: int
    at: datetime
    why: str
    of_unit: bool = False


@dataclass(frozen=True, slots=True)
class MaterialRecord:
    """Lubricant or a seal kit used under a ticket."""

    ticket_id: int
    part_id: int | None
    kind: str
    name: str
    lot: str
    oxygen_compatible: bool | None
    at: datetime
    person_id: int | None


@dataclass(frozen=True, slots=True)
class GasRecords:
    """All that is recorded of cylinders and of the oxygen side of the parts asked for.

    kept: keys of parts whose type asks for an oxygen-clean status, and of cylinders of oxygen.
    """

    cylinders: tuple[CylinderRecord, ...]
    fills: tuple[CylinderFillRecord, ...]
    analyses: tuple[AnalysisRecord, ...]
    gauges: tuple[GaugeRecord, ...]
    certificates: tuple[CertificateRecord, ...]
    cleanings: tuple[OxygenCleaningRecord, ...]
    losses: tuple[LossRecord, ...]
    kept: frozenset[int]


@read_if_changed
def read_gas(connection: Connection, parts: Parts = None) -> GasRecords:
    """Cylinders with their last fill, what was analysed and read since, and the oxygen side; twelve statements."""
    return GasRecords(
        read_cylinder_records(connection, parts),
        fills=read_last_fills(connection, parts),
        analyses=read_analyses_since_fill(connection, parts),
        gauges=read_last_gauges(connection, parts),
        certificates=read_certificates(connection),
        cleanings=read_cleanings(connection, parts),
        losses=read_losses(connection, parts),
        kept=read_kept_clean(connection, parts),
    )


@reads(CylinderRecord)
def read_cylinder_records(parts: Parts = None) -> Query:
    """Cylinders by key; one statement."""
    query = (
        select_of(CylinderRecord, Cylinder, Part, part_id=Part.id, owner=Owner.name, place=Place.name)
        .join(Part, Part.id == Cylinder.part_id)
        .join(Owner, Owner.id == Part.owner_id)
        .outerjoin(Place, Place.id == Part.place_id)
        .order_by(Part.id)
    )
    return _of(query, Part.id, parts)


@built_once
def _fills() -> Query:
    return select_of(CylinderFillRecord, CylinderFill, fill_id=CylinderFill.id).where(_standing_fill())


@reads(CylinderFillRecord)
def read_last_fills(parts: Parts = None) -> Query:
    """The last fill of each cylinder (all of one moment, the last of them last); one statement."""
    newest = _newest_fills(parts)
    return (
        _fills()
        .join(newest, (newest.c.part_id == CylinderFill.part_id) & (newest.c.at == CylinderFill.at))
        .order_by(CylinderFill.id)
    )


@reads(CylinderFillRecord)
def read_fills(parts: Parts = None) -> Query:
    """Every fill that stands, newest first; one statement."""
    query = _fills().order_by(CylinderFill.at.desc(), CylinderFill.id.desc())
    return _of(query, CylinderFill.part_id, parts)


@built_once
def _analyses() -> Query:
    superseded = select(GasAnalysis.supersedes_id).where(GasAnalysis.supersedes_id.is_not(None))
    name = TestEquipment.name + " " + TestEquipment.serial
    return (
        select_of(
            AnalysisRecord,
            GasAnalysis,
            analysis_id=GasAnalysis.id,
            analyser=name,
            uncertainty=func.coalesce(GasAnalysis.uncertainty, TestEquipment.uncertainty),
        )
        .outerjoin(TestEquipment, TestEquipment.id == GasAnalysis.analyser_id)
        .where(GasAnalysis.id.not_in(superseded))
        .order_by(GasAnalysis.at, GasAnalysis.id)
    )


@reads(AnalysisRecord)
def read_analyses_since_fill(parts: Parts = None) -> Query:
    """Analyses made after the last fill of their cylinder, or of one never filled, oldest first; one statement."""
    newest = _newest_fills(parts)
    return (
        _of(_analyses(), GasAnalysis.part_id, parts)
        .outerjoin(newest, newest.c.part_id == GasAnalysis.part_id)
        .where(or_(newest.c.at.is_(None), GasAnalysis.at > newest.c.at))
    )


@reads(AnalysisRecord)
def read_analyses(parts: Parts = None) -> Query:
    """Every analysis that stands, oldest first; one statement."""
    return _of(_analyses(), GasAnalysis.part_id, parts)


@reads(GaugeRecord)
def read_last_gauges(parts: Parts = None) -> Query:
    """The last gauge reading of each cylinder; one statement."""
    newest = select(CylinderReading.part_id, func.max(CylinderReading.id).label("id")).group_by(CylinderReading.part_id)
    last = _of(newest, CylinderReading.part_id, parts).subquery()
    return select_of(GaugeRecord, CylinderReading).join(last, last.c.id == CylinderReading.id)


def read_certificates(connection: Connection, batch: str | None = None) -> tuple[CertificateRecord, ...]:
    """Certificates with their figures, oldest first, of all batches or of one; two statements."""
    query = select(
        GasCertificate.id, GasCertificate.batch, GasCertificate.gas, GasCertificate.supplier, GasCertificate.issued_on
    ).order_by(GasCertificate.issued_on, GasCertificate.id)
    if batch is not None:
        query = query.where(GasCertificate.batch == batch)
    rows = connection.execute(query).all()
    lines: dict[int, list[tuple[str, float]]] = {row.id: [] for row in rows}
    figures = select(GasCertificateLine.gas_certificate_id, GasCertificateLine.what, GasCertificateLine.value)
    for key, what, value in connection.execute(figures.order_by(GasCertificateLine.id)):
        if key in lines:
            lines[key].append((what, value))
    return tuple(
        CertificateRecord(
            certificate_id=row.id,
            batch=row.batch,
            gas=row.gas,
            supplier=row.supplier,
            issued_on=row.issued_on,
            values=tuple(lines[row.id]),
        )
        for row in rows
    )


@reads(OxygenCleaningRecord)
def read_cleanings(parts: Parts = None) -> Query:
    """Every cleaning for oxygen, oldest first; one statement."""
    query = select_of(OxygenCleaningRecord, PartTest).where(PartTest.kind == "oxygen clean")
    return _of(query.order_by(PartTest.done_on, PartTest.id), PartTest.part_id, parts)


@built_once
def _ends_of_clean(parts: Parts) -> tuple[Query, ...]:
    """What was written down, fills with other air, and lubricants."""
    fill, of = CylinderFill, TicketMaterial
    queries: tuple[Query, ...] = (
        select(CleanLoss.part_id, CleanLoss.at, CleanLoss.why, CleanLoss.note),
        select(fill.part_id, fill.at).where(fill.oxygen_compatible.is_(False), _standing_fill()),
        select(of.part_id, of.at, of.kind, of.name, of.lot, of.oxygen_compatible)
        .where(of.part_id.is_not(None), of.oxygen_compatible.is_not(True)),
    )  # fmt: skip
    return tuple(_of(query, query.selected_columns.part_id, parts) for query in queries)


def read_losses(connection: Connection, parts: Parts = None) -> tuple[LossRecord, ...]:
    """What ended an oxygen-clean status: written down, filled, greased or flooded; five statements."""
    written, filled, materials = (connection.execute(query) for query in _ends_of_clean(parts))
    other = say("filled with air that is not oxygen-compatible")
    return (
        *(LossRecord(part_id=part, at=at, why=f"{why}: {note}" if note else why) for part, at, why, note in written),
        *(LossRecord(part_id=part, at=at, why=other) for part, at in filled),
        *_lubricants(materials),
        *_floods(connection, parts),
    )


def _lubricants(materials: Iterable[Any]) -> list[LossRecord]:
    said = {False: say("not oxygen-compatible"), None: say("not known to be oxygen-compatible")}
    return [
        LossRecord(part_id=part_id, at=at,
                   why=strung(", ", (f"{kind} {name}", say("lot {lot}", lot=lot), said[compatible])))
        for part_id, at, kind, name, lot, compatible in materials
    ]  # fmt: skip


@built_once
def _flooded(nested: bool, parts: Parts) -> Query:
    """Returns of flooded units in which a part sat: directly, or nested in an assembly that sat there at that time."""
    inner, outer = Fitting.__table__.alias("inner_fitting"), Fitting.__table__.alias("outer_fitting")
    query = select(inner.c.part_id, BookingUnit.received_at)
    if nested:
        query = query.join(outer, outer.c.part_id == inner.c.host_part_id)
    query = query.join(BookingUnit, BookingUnit.unit_id == (outer if nested else inner).c.unit_id)
    at = BookingUnit.received_at
    for sat in (inner, outer) if nested else (inner,):
        query = query.where(sat.c.fitted_at <= at, or_(sat.c.removed_at.is_(None), sat.c.removed_at >= at))
    query = query.where(BookingUnit.flooded.is_(True))
    return _of(query, inner.c.part_id, parts)


def _floods(connection: Connection, parts: Parts) -> list[LossRecord]:
    """Floods of the units in which oxygen-side parts sat, directly or in an assembly that sat there."""
    return [
        LossRecord(part_id=part_id, at=at, why=say("the unit was flooded"), of_unit=True)
        for nested in (False, True)
        for part_id, at in connection.execute(_flooded(nested, parts))
    ]


def read_kept_clean(connection: Connection, parts: Parts = None) -> frozenset[int]:
    """Keys of parts that must be oxygen-clean: their type sets an interval for it, or they hold oxygen."""
    asked = select(PartTypeLife.part_type_id).where(PartTypeLife.test == "oxygen clean")
    holds = select(Cylinder.part_id).where(Cylinder.role == GasRole.OXYGEN)
    query: Query = select(Part.id).where(or_(Part.part_type_id.in_(asked), Part.id.in_(holds)))
    return frozenset(connection.scalars(_of(query, Part.id, parts)))


@reads(PartRecord)
def read_in_house(parts: Parts = None) -> Query:
    """Those of the given parts, or of all cylinders, that are in the house, fitted or not; one statement."""
    query = (
        select_of(PartRecord, Part)
        .where(Part.state.in_((PartState.STOCK, PartState.FITTED, PartState.QUARANTINE)))
        .order_by(Part.id)
    )
    return query.where(Part.id.in_(select(Cylinder.part_id) if parts is None else parts))


@reads(MaterialRecord)
def read_materials(ticket_id: int | None = None) -> Query:
    """Lubricants and seal kits used, of all tickets or of one, in order; one statement."""
    query = select_of(MaterialRecord, TicketMaterial).order_by(TicketMaterial.at, TicketMaterial.id)
    if ticket_id is not None:
        query = query.where(TicketMaterial.ticket_id == ticket_id)
    return query


def cylinder_of(session: Session, part_id: int) -> Cylinder | None:
    """The cylinder's own row of a part, if it is one."""
    return session.scalar(select(Cylinder).where(Cylinder.part_id == part_id))


def fill_superseded(session: Session, fill_id: int) -> bool:
    """Whether a later fill put this one right."""
    return session.scalar(select(CylinderFill.id).where(CylinderFill.supersedes_id == fill_id)) is not None


def analysis_superseded(session: Session, analysis_id: int) -> bool:
    """Whether a later analysis put this one right."""
    return session.scalar(select(GasAnalysis.id).where(GasAnalysis.supersedes_id == analysis_id)) is not None


def lives_with_test(session: Session, part_type_id: int, test: str) -> Sequence[PartTypeLife]:
    """The test intervals of a part type of one kind of test."""
    query = select(PartTypeLife).where(PartTypeLife.part_type_id == part_type_id, PartTypeLife.test == test)
    return session.scalars(query.order_by(PartTypeLife.id)).all()


def part_with_serial(connection: Connection, code: str, serial: str) -> int | None:
    """The key of the part of a type that has a serial, if one is recorded."""
    query = select(Part.id).join(PartType, PartType.id == Part.part_type_id)
    return connection.scalar(query.where(PartType.code == code, Part.serial == serial))


def read_owners(connection: Connection) -> tuple[tuple[int, str], ...]:
    """Key and name of every owner, the centre first; one statement."""
    query = select(Owner.id, Owner.name).order_by(Owner.kind != OwnerKind.CENTRE, Owner.name)
    return tuple((row.id, row.name) for row in connection.execute(query))


def parts_of_type(session: Session, part_type_id: int) -> Sequence[int]:
    """Keys of every part of a type."""
    return session.scalars(select(Part.id).where(Part.part_type_id == part_type_id)).all()


@built_once
def _standing_fill() -> ColumnElement[bool]:
    superseded = select(CylinderFill.supersedes_id).where(CylinderFill.supersedes_id.is_not(None))
    return CylinderFill.id.not_in(superseded)


@built_once
def _newest_fills(parts: Parts) -> Subquery:
    newest = select(CylinderFill.part_id, func.max(CylinderFill.at).label("at")).where(_standing_fill())
    return _of(newest, CylinderFill.part_id, parts).group_by(CylinderFill.part_id).subquery()


def _of(query: Query, column: Any, parts: Parts) -> Query:
    return query if parts is None else query.where(column.in_(parts))


@dataclass(frozen=True, slots=True)
class FilledCylinder(CylinderRecord):
    """A cylinder with its last fill and its last analysis."""

    filled_at: datetime | None
    end_bar: float | None
    oxygen_asked: float | None
    helium_asked: float | None
    analysed_at: datetime | None
    oxygen_percent: float | None
    helium_percent: float | None
    analysed_by_id: int | None
    by_diver: bool | None
    fill_note: str | None
    analysis_note: str | None

    @property
    def stale(self) -> bool:
        """Whether no analysis was made since the last fill; of a cylinder never filled, whether none was made."""
        if self.analysed_at is None:
            return True
        return self.filled_at is not None and self.analysed_at <= self.filled_at


@reads(FilledCylinder)
def read_cylinders(parts: Query | None = None) -> Query:
    """Cylinders, of all or of given parts, by key; one statement."""
    analysed_anew = select(GasAnalysis.supersedes_id).where(GasAnalysis.supersedes_id.is_not(None))
    filled = func.row_number().over(
        partition_by=CylinderFill.part_id, order_by=(CylinderFill.at.desc(), CylinderFill.id.desc())
    )
    fills = select(CylinderFill, filled.label("rank")).where(_standing_fill()).subquery()
    analysed = func.row_number().over(
        partition_by=GasAnalysis.part_id, order_by=(GasAnalysis.at.desc(), GasAnalysis.id.desc())
    )
    seen = select(GasAnalysis, analysed.label("rank")).where(GasAnalysis.id.not_in(analysed_anew)).subquery()
    query = (
        select_of(
            FilledCylinder,
            Cylinder,
            Part,
            part_id=Part.id,
            owner=Owner.name,
            place=Place.name,
            filled_at=fills.c.at,
            end_bar=fills.c.end_bar,
            oxygen_asked=fills.c.oxygen_asked,
            helium_asked=fills.c.helium_asked,
            analysed_at=seen.c.at,
            oxygen_percent=seen.c.oxygen_percent,
            helium_percent=seen.c.helium_percent,
            analysed_by_id=seen.c.person_id,
            by_diver=seen.c.by_diver,
            fill_note=fills.c.note,
            analysis_note=seen.c.note,
        )
        .join(Part, Part.id == Cylinder.part_id)
        .join(Owner, Owner.id == Part.owner_id)
        .outerjoin(Place, Place.id == Part.place_id)
        .outerjoin(fills, (fills.c.part_id == Part.id) & (fills.c.rank == 1))
        .outerjoin(seen, (seen.c.part_id == Part.id) & (seen.c.rank == 1))
        .order_by(Part.id)
    )
    return _of(query, Part.id, parts)
