"""Calibration of one unit at the bench: plan it, judge it while it is entered, record it, correct an entry."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from fleetbench.calc.cells.judge import HeadOutcome
from fleetbench.calc.cells.readings import CellPoint, MadeBy
from fleetbench.calc.core.exchanged import KEPT, misplaced
from fleetbench.calc.core.languages import say, strung
from fleetbench.calc.core.plausible import Tool
from fleetbench.calc.core.verdict import Verdict
from fleetbench.calc.tickets.signing import CORRECTED_WITHIN
from fleetbench.records.bench.lookups import (
    RecordSession,
    calibration_recorded_at,
    raw_readings,
    settings_of,
    superseder_of,
)
from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.cells.reads import ReadingFacts, calibration_facts
from fleetbench.records.cells.tables import (
    BenchSession,
    Calibration,
    CalibrationOutcome,
    CalibrationReading,
    HandsetSetting,
)
from fleetbench.records.core.errors import NotFound, Refused
from fleetbench.records.core.journal import sources_of
from fleetbench.records.core.transaction import Transaction
from fleetbench.records.units.tables import Unit
from fleetbench.records.upkeep.lookups import unit_by_tag
from fleetbench.workshop.bench.sessions import session_facts, standard_pressure, why_over
from fleetbench.workshop.bench.tests import ticket_at_hand
from fleetbench.workshop.cells.entry import POINTS, CalibrationEntry, HandsetEntry, ReadingEntry, checked
from fleetbench.workshop.cells.judging import JudgedVisit, judge_calibration
from fleetbench.workshop.cells.outlook import refresh_forecasts
from fleetbench.workshop.cells.plan import CalibrationPlan, CellSettling, plan, plan_in, settled_answer, settling_of
from fleetbench.workshop.core.workplace import Workplace, require_person
from fleetbench.workshop.tickets.photographs import keep_beside
from fleetbench.workshop.turn_rounds.ticks import tick_calibration, tick_tasks

__all__ = [
    "CalibrationPlan",
    "Preview",
    "Recorded",
    "correct",
    "plan",
    "preview",
    "record",
    "recorded_entry",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What the entry would be called if it were recorded as it stands; settling from its stamped readings.

    misplaced: a sentence for each two cells, handsets or lines whose readings look exchanged.
    """

    outcome: HeadOutcome
    settling: tuple[CellSettling, ...]
    settled: str
    misplaced: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A recorded calibration; ticket_reason is set where a cell holds the unit, and may be corrected until then."""

    calibration_id: int
    tag: str
    at: datetime
    outcome: HeadOutcome
    ticket_reason: str | None
    correct_until: datetime


@dataclass(frozen=True, slots=True)
class _Judged:
    unit: Unit
    plan: CalibrationPlan
    entry: CalibrationEntry
    columns: dict[str, Any]
    readings: tuple[ReadingFacts, ...]
    result: JudgedVisit


def preview(workplace: Workplace, entry: CalibrationEntry) -> Preview:
    """The outcome of what was entered so far, by the same judgement as `record`; nothing is written.

    Missing readings count as missing. Raises Refused naming the field where a figure cannot be.
    """
    with workplace.database.read_session() as session:
        judged = _judge(session, workplace, checked(entry), entry.at or workplace.clock(), require_person(workplace))
        return Preview(
            outcome=judged.result.outcome,
            settling=settling_of(judged.plan, entry),
            settled=judged.columns["settled"],
            misplaced=_misplaced(session, entry, judged.plan),
        )


def record(workplace: Workplace, entry: CalibrationEntry, photographs: Sequence[str] = ()) -> Recorded:
    """Record a calibration with its raw readings, outcomes, handset settings and held photographs in one act.

    A cell told `repeat` or `reject` holds the unit by that alone until a later calibration. At the bench no oxygen
    figure is taken without an analysis in the session. Raises Refused naming the field and the remedy.
    """
    return _record(workplace, checked(entry), None, photographs)


def correct(workplace: Workplace, calibration_id: int, entry: CalibrationEntry) -> Recorded:
    """Correct a typing error within ten minutes: a new record that takes the old one's place, photographs with it."""
    return _record(workplace, checked(entry), calibration_id, ())


def recorded_entry(workplace: Workplace, calibration_id: int) -> CalibrationEntry:
    """A recorded calibration in the form in which it was entered, to be corrected; Refused once that is too late."""
    with workplace.database.read_session() as session:
        _check_correctable(session, calibration_id, workplace.clock())
        row = session.get(Calibration, calibration_id)
        if row is None:
            raise NotFound(say("calibration {number}: not recorded; check the entry", number=calibration_id))
        unit = session.get_one(Unit, row.unit_id)
        readings = raw_readings(session, calibration_id)
        sources = sources_of(session, CalibrationReading.__tablename__, [each.id for each in readings])
        given = {
            each.id: replace(_figure(each), mv=source)
            for each in readings
            if (source := sources.get((each.id, "mv"))) == each.mv and source is not None
        }
        return CalibrationEntry(
            tag=unit.tag,
            session_id=row.session_id,
            head=row.head,
            vented=row.vented,
            over_pressure_mbar=row.over_pressure_mbar,
            oxygen_temperature_c=row.oxygen_temperature_c,
            settled=row.settled,
            figures=tuple(given.get(each.id, _figure(each)) for each in readings),
            handsets=tuple(_handset(each) for each in settings_of(session, calibration_id)),
            ticket_id=row.ticket_id,
            note=row.note,
        )


def ticket_reason(outcome: HeadOutcome) -> str | None:
    """Why a ticket is offered after a calibration, in a sentence; None where no cell holds the unit."""
    held = [cell for cell in outcome.cells if cell.verdict in (Verdict.REPEAT, Verdict.REJECT)]
    if not held:
        return None
    return strung(
        "; ",
        (strung(": ", (strung(" ", (cell.cell, say(cell.verdict.value))), cell.finding)) for cell in held),
    )


def _record(
    workplace: Workplace, entry: CalibrationEntry, supersedes: int | None, photographs: Sequence[str]
) -> Recorded:
    person = require_person(workplace)
    act_name = "calibrate" if supersedes is None else "correct calibration"
    with workplace.transaction(act_name, f"unit {entry.tag}") as act:
        earlier = _correctable(act, supersedes) if supersedes is not None else None
        at = entry.at or (earlier.at if earlier is not None else act.at)
        judged = _judge(act.session, workplace, entry, at, person)
        if earlier is not None and earlier.unit_id != judged.unit.id:
            raise Refused(say("calibration: the one to correct is of another unit; record a new one"))
        ticket = ticket_at_hand(act, judged.unit, entry.ticket_id)
        reason = "typing" if supersedes is not None else None
        columns = {**judged.columns, "ticket_id": ticket.id if ticket is not None else None}
        if supersedes is None and (kept := _misplaced(act.session, entry, judged.plan)):
            columns["note"] = " ".join((*filter(None, [columns["note"]]), KEPT, *kept))
        row = act.add(Calibration(**columns, supersedes_id=supersedes, supersedes_reason=reason))
        key = row.id
        keep_beside(act, workplace, "calibration", row, photographs)
        readings = [{**asdict(each), "calibration_id": key} for each in judged.readings]
        act.bulk(CalibrationReading, readings)
        act.bulk(CalibrationOutcome, [{**row, "calibration_id": key} for row in judged.result.rows])
        refresh_forecasts(act, [row["part_id"] for row in judged.result.rows])
        for handset in entry.handsets:
            act.add(_setting(key, handset, judged.unit, at))
        if judged.result.outcome.worst in (Verdict.PASS, Verdict.WATCH):
            tick_calibration(act, judged.unit)
            tick_tasks(act, judged.unit)
        return Recorded(
            calibration_id=key,
            tag=judged.unit.tag,
            at=at,
            outcome=judged.result.outcome,
            ticket_reason=ticket_reason(judged.result.outcome),
            correct_until=act.at + CORRECTED_WITHIN,
        )


def _judge(session: RecordSession, workplace: Workplace, entry: CalibrationEntry, at: datetime, person: int) -> _Judged:
    unit = unit_by_tag(session, entry.tag)
    bench = session.get(BenchSession, entry.session_id) if entry.session_id is not None else None
    if entry.session_id is not None and bench is None:
        raise Refused(say("bench session: not recorded; open a new one"))
    facts = (
        session_facts(session, bench, workplace.clock().astimezone(workplace.zone()).date())
        if bench is not None
        else None
    )
    held = plan_in(session, unit, facts)
    _refuse_impossible(entry, held, at, workplace.clock())
    if bench is not None:
        _refuse_without_session(entry, bench, at)
    columns = {
        **(_bench_columns(bench) if bench is not None else _paper_columns(session, entry)),
        "unit_id": unit.id,
        "session_id": entry.session_id,
        "person_id": person,
        "at": at,
        "made": MadeBy.WORKSHOP.value,
        "oxygen_temperature_c": entry.oxygen_temperature_c,
        "head": entry.head,
        "vented": entry.vented,
        "over_pressure_mbar": entry.over_pressure_mbar,
        "settled": settled_answer(held, entry).value,
        "ticket_id": entry.ticket_id,
        "note": (entry.note or "").strip() or None,
    }
    readings = _readings(entry, held)
    try:
        result = judge_calibration(session.connection(), calibration_facts({**columns, "id": 0}, readings))
    except ValueError as fault:
        raise Refused(str(fault)) from fault
    return _Judged(unit, plan=held, entry=entry, columns=columns, readings=readings, result=result)


def _misplaced(session: RecordSession, entry: CalibrationEntry, held: CalibrationPlan) -> tuple[str, ...]:
    """What looks exchanged, in air and in oxygen, against the last readings of these very cells in this head."""
    if held.last_id is None:
        return ()
    before = {(row.part_id, row.reader_id, row.point): row.mv for row in raw_readings(session, held.last_id)}
    said: list[str] = []
    for point in ("air", "oxygen"):
        given = {(each.slot_id, each.reader_id): each.mv for each in entry.at_point(point)}
        now: dict[tuple[str, str], float] = {}
        then: dict[tuple[str, str], float] = {}
        for reader in held.readers:
            for position in held.positions:
                mv = given.get((position.slot_id, reader.reader_id))
                last = before.get((position.part_id or 0, reader.reader_id, point))
                if mv is not None and last is not None:
                    now[position.name, reader.name], then[position.name, reader.name] = mv, last
        said += (say("In {point}: {line}", point=point, line=line) for line in misplaced(now, then, "mV"))
    return tuple(said)


def _readings(entry: CalibrationEntry, held: CalibrationPlan) -> tuple[ReadingFacts, ...]:
    """The figures in the order of their points, with a row that says so for every reading that was not taken."""
    taken = {(each.slot_id, each.reader_id, each.point) for each in entry.figures}
    missing = [
        ReadingEntry(slot_id=position.slot_id, reader_id=reader.reader_id, point=point)
        for position, reader, _ in held.in_mv()
        for point in ("air", "oxygen")
        if (position.slot_id, reader.reader_id, point) not in taken
    ]
    listed = sorted((*entry.figures, *missing), key=lambda each: (POINTS.index(each.point), each.seconds or 0.0))
    return tuple(
        ReadingFacts(
            part_id=held.position(each.slot_id).part_id or 0,
            slot_id=each.slot_id,
            reader_id=each.reader_id,
            point=each.point,
            mv=each.mv,
            po2_shown_bar=each.po2_bar,
            pot_bar=each.pot_bar,
            seconds=each.seconds,
        )
        for each in listed
    )


def _refuse_without_session(entry: CalibrationEntry, bench: BenchSession, at: datetime) -> None:
    over = why_over(bench.started_at, bench.pressure_mbar, now=at)
    if over or (bench.ended_at is not None and at > bench.ended_at):
        raise Refused(
            say(
                "bench session: {over} The readings stay on the page.",
                over=over or say("it was ended; open a new one."),
            )
        )
    oxygen = [
        each
        for each in entry.figures
        if each.point in (CellPoint.SETTLING, CellPoint.OXYGEN, CellPoint.POT) and each.mv is not None
    ]
    if bench.oxygen_shown_percent is None and oxygen:
        raise Refused(say("oxygen: the gas was not analysed in this session; analyse it, then take the oxygen point"))


def _bench_columns(bench: BenchSession) -> dict[str, Any]:
    names = (
        "pressure_mbar", "pressure_source", "temperature_c", "humidity", "oxygen_shown_percent", "analyser_id",
        "barometer_id",
    )  # fmt: skip
    return {name: getattr(bench, name) for name in names}


def _paper_columns(session: RecordSession, entry: CalibrationEntry) -> dict[str, Any]:
    paper = entry.paper
    if paper is None:
        raise Refused(say("bench session: open one first, or give the conditions as they stand on the paper"))
    pressure, source = paper.pressure_mbar, "measured"
    if pressure is None:
        pressure, source = standard_pressure(session), "altitude"
    for key, kind in ((paper.analyser_id, Tool.ANALYSER), (paper.barometer_id, Tool.BAROMETER)):
        tool = session.get(TestEquipment, key) if key is not None else None
        if key is not None and (tool is None or tool.kind != kind):
            raise Refused(say("{kind}: what was chosen is no {kind}; choose one from the list", kind=say(kind)))
    return {
        "pressure_mbar": pressure,
        "pressure_source": source,
        "temperature_c": paper.temperature_c,
        "humidity": None if paper.humidity_percent is None else paper.humidity_percent / 100,
        "oxygen_shown_percent": paper.oxygen_shown_percent,
        "analyser_id": paper.analyser_id,
        "barometer_id": paper.barometer_id if source == "measured" else None,
    }


def _refuse_impossible(entry: CalibrationEntry, held: CalibrationPlan, at: datetime, now: datetime) -> None:
    if at > now + timedelta(minutes=1):
        raise Refused(say("when: lies in the future; check day and time on the paper"))
    if entry.at is not None and held.last_at is not None and entry.at < held.last_at:
        raise Refused(say("when: a later calibration of this unit is recorded already; bring older ones in as a sheet"))
    for position in held.positions:
        if entry.at is not None and position.fitted_at is not None and position.fitted_at > entry.at:
            raise Refused(
                say("when: {position} was fitted after that; the paper speaks of another cell", position=position.name)
            )
    for figure in entry.figures:
        position, reader = held.position(figure.slot_id), held.reader(figure.reader_id)
        shown = held.shown(figure.reader_id, figure.slot_id).what
        if position.part_id is None:
            raise Refused(say("{position}: no cell is recorded there; fit it first", position=position.name))
        if shown == "nothing" or (figure.mv is not None and shown != "mV"):
            raise Refused(
                say(
                    "{position} on {reader}: this unit type shows {shown} there; leave it empty",
                    position=position.name,
                    reader=reader.name,
                    shown=say(shown),
                )
            )
    for handset in entry.handsets:
        held.reader(handset.reader_id)


def _correctable(act: Transaction, calibration_id: int) -> Calibration:
    """The calibration to correct, where it stands and was recorded not more than ten minutes ago."""
    row = act.get(Calibration, calibration_id, say("calibration {number}", number=calibration_id))
    _check_correctable(act.session, calibration_id, act.at)
    return row


def _check_correctable(session: RecordSession, calibration_id: int, at: datetime) -> None:
    if superseder_of(session, calibration_id) is not None:
        raise Refused(say("calibration: was corrected already; look again, then record a new one"))
    recorded = calibration_recorded_at(session, calibration_id)
    if recorded is None or at - recorded > CORRECTED_WITHIN:
        raise Refused(say("calibration: is older than ten minutes; calibrate again instead of changing it"))


def _setting(key: int, handset: HandsetEntry, unit: Unit, at: datetime) -> HandsetSetting:
    return HandsetSetting(calibration_id=key, unit_id=unit.id, at=at, **asdict(handset))


def _figure(row: CalibrationReading) -> ReadingEntry:
    return ReadingEntry(
        slot_id=row.slot_id,
        reader_id=row.reader_id,
        point=row.point,
        mv=row.mv,
        po2_bar=row.po2_shown_bar,
        pot_bar=row.pot_bar,
        seconds=row.seconds,
    )


def _handset(row: HandsetSetting) -> HandsetEntry:
    return HandsetEntry(
        reader_id=row.reader_id,
        fraction_set=row.fraction_set,
        pressure_set_mbar=row.pressure_set_mbar,
        shown_oxygen_bar=row.shown_oxygen_bar,
        shown_air_bar=row.shown_air_bar,
    )
