"""Calibration of one unit at the bench: plan it, judge it while it is entered, record it, put a slip right."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from fleetbench.calc.cells import CalibrationOutcome
from fleetbench.calc.verdict import Verdict
from fleetbench.records.act import Act
from fleetbench.records.act_reads import unit_by_tag
from fleetbench.records.bench_reads import raw_readings, settings_of, superseder_of
from fleetbench.records.cells import BenchSession, Calibration, CalibrationReading, HandsetSetting
from fleetbench.records.cells import CalibrationOutcome as OutcomeRow
from fleetbench.records.equipment import TestEquipment
from fleetbench.records.errors import NotFound, Refused
from fleetbench.records.places import Centre
from fleetbench.records.units import Unit
from fleetbench.workshop.bench_sessions import equipment_facts, session_facts, why_over
from fleetbench.workshop.calibration_entry import CalibrationEntry, Figure, HandsetEntry, checked
from fleetbench.workshop.calibration_judge import (
    CellSettling,
    Past,
    Room,
    blame_word,
    judge_entry,
    reader_gap_bar,
    room_of_session,
    room_on_paper,
    settled_answer,
    settling_of,
)
from fleetbench.workshop.calibration_past import past_of
from fleetbench.workshop.calibration_plan import CalibrationPlan, plan, plan_in
from fleetbench.workshop.shop import Shop
from fleetbench.workshop.ticket_work import open_one, somebody

__all__ = [
    "CORRECTED_WITHIN",
    "CalibrationPlan",
    "Preview",
    "Recorded",
    "correct",
    "plan",
    "preview",
    "record",
    "recorded_entry",
]

CORRECTED_WITHIN = timedelta(minutes=10)
"""How long a slip may be put right by one key: common practice, no published source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What the entry would be called if it were recorded as it stands; settling from its stamped readings."""

    outcome: CalibrationOutcome
    settling: tuple[CellSettling, ...]
    settled: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Recorded:
    """A recorded calibration; ticket_reason is set where a cell holds the unit, and may be put right until then."""

    calibration_id: int
    tag: str
    at: datetime
    outcome: CalibrationOutcome
    ticket_reason: str | None
    correct_until: datetime


@dataclass(frozen=True, slots=True)
class _Judged:
    unit: Unit
    plan: CalibrationPlan
    room: Room
    past: Past
    outcome: CalibrationOutcome
    settled: str
    person: int
    at: datetime


def preview(shop: Shop, entry: CalibrationEntry) -> Preview:
    """The outcome of what was entered so far, by the same judgement as `record`; nothing is written.

    Missing readings count as missing. Raises Refused naming the field where a figure cannot be.
    """
    with shop.database.looking() as session:
        judged = _judge(session, shop, checked(entry), shop.clock(), somebody(shop))
        return Preview(
            outcome=judged.outcome, settling=settling_of(judged.plan, entry), settled=judged.settled
        )


def record(shop: Shop, entry: CalibrationEntry) -> Recorded:
    """Record a calibration with its raw readings, outcomes and handset settings in one act.

    A cell told `repeat` or `reject` holds the unit by that alone until a later calibration. At the bench no oxygen
    figure is taken without an analysis in the session. Raises Refused naming the field and the remedy.
    """
    return _record(shop, checked(entry), supersedes=None)


def correct(shop: Shop, calibration_id: int, entry: CalibrationEntry) -> Recorded:
    """Put a typing slip right within ten minutes: a new record that takes the old one's place."""
    return _record(shop, checked(entry), supersedes=calibration_id)


def recorded_entry(shop: Shop, calibration_id: int) -> CalibrationEntry:
    """A recorded calibration in the form in which it was entered, to be put right."""
    with shop.database.looking() as session:
        row = session.get(Calibration, calibration_id)
        if row is None:
            raise NotFound(f"calibration {calibration_id}: not recorded; check the entry")
        unit = session.get_one(Unit, row.unit_id)
        return CalibrationEntry(
            tag=unit.tag,
            session_id=row.session_id,
            head=row.head,
            vented=row.vented,
            over_pressure_mbar=row.over_pressure_mbar,
            oxygen_temperature_c=row.oxygen_temperature_c,
            settled=row.settled,
            figures=tuple(_figure(each) for each in raw_readings(session, calibration_id)),
            handsets=tuple(_handset(each) for each in settings_of(session, calibration_id)),
            ticket_id=row.ticket_id,
            note=row.note,
        )


def ticket_reason(outcome: CalibrationOutcome) -> str | None:
    """Why a ticket is offered after a calibration, in a sentence; None where no cell holds the unit."""
    held = [cell for cell in outcome.cells if cell.verdict in (Verdict.REPEAT, Verdict.REJECT)]
    if not held:
        return None
    return "; ".join(f"{cell.cell} {cell.verdict.value}: {cell.finding}" for cell in held)


def _record(shop: Shop, entry: CalibrationEntry, supersedes: int | None) -> Recorded:
    person = somebody(shop)
    act_name = "calibrate" if supersedes is None else "correct calibration"
    with shop.acting(act_name, f"unit {entry.tag}") as act:
        earlier = _correctable(act, supersedes) if supersedes is not None else None
        at = entry.at or (earlier.at if earlier is not None else act.at)
        judged = _judge(act.session, shop, entry, at, person, replaces=supersedes)
        if earlier is not None and earlier.unit_id != judged.unit.id:
            raise Refused("calibration: the one to put right is of another unit; record a new one")
        if entry.ticket_id is not None and open_one(act, entry.ticket_id).unit_id != judged.unit.id:
            raise Refused(f"ticket: is of another unit; choose an open ticket of unit {judged.unit.tag}")
        key = act.add(_calibration(entry, judged, supersedes)).id
        act.bulk(CalibrationReading, _reading_rows(key, entry, judged.plan))
        act.bulk(OutcomeRow, _outcome_rows(key, judged))
        for handset in entry.handsets:
            act.add(_setting(key, handset, judged))
        return Recorded(
            calibration_id=key,
            tag=judged.unit.tag,
            at=at,
            outcome=judged.outcome,
            ticket_reason=ticket_reason(judged.outcome),
            correct_until=act.at + CORRECTED_WITHIN,
        )


def _judge(
    session: Session, shop: Shop, entry: CalibrationEntry, at: datetime, person: int, replaces: int | None = None
) -> _Judged:
    unit = unit_by_tag(session, entry.tag)
    bench = session.get(BenchSession, entry.session_id) if entry.session_id is not None else None
    if entry.session_id is not None and bench is None:
        raise Refused("bench session: not recorded; open a new one")
    today = shop.clock().astimezone(shop.zone()).date()
    facts = session_facts(session, bench, today) if bench is not None else None
    held = plan_in(session, unit, facts)
    _refuse_impossible(entry, held, at, shop.clock())
    if facts is not None:
        over = why_over(facts.started_at, facts.pressure_mbar, now=at)
        if over or (bench is not None and bench.ended_at is not None and at > bench.ended_at):
            raise Refused(f"bench session: {over or 'It was ended.'} The readings stay on the page.")
        room = room_of_session(facts, entry.oxygen_temperature_c)
    else:
        room = _paper_room(session, entry, today)
    if room.gas.oxygen_fraction is None and entry.paper is None and any(
        each.mv is not None for each in entry.figures if each.point in ("oxygen", "pot")
    ):
        raise Refused("oxygen: the gas was not analysed in this session; analyse it, then take the oxygen point")
    past = past_of(session, held, entry.session_id, at, replaces)
    outcome = judge_entry(held, entry, room, past)
    return _Judged(unit, held, room, past, outcome, settled_answer(held, entry).value, person, at)


def _refuse_impossible(entry: CalibrationEntry, held: CalibrationPlan, at: datetime, now: datetime) -> None:
    if at > now + timedelta(minutes=1):
        raise Refused("when: lies in the future; check day and time on the paper")
    if entry.at is not None and held.last_at is not None and entry.at < held.last_at:
        raise Refused("when: a later calibration of this unit is recorded already; bring older ones in as a sheet")
    for position in held.positions:
        if entry.at is not None and position.fitted_at is not None and position.fitted_at > entry.at:
            raise Refused(f"when: {position.name} was fitted after that; the paper speaks of another cell")
    for figure in entry.figures:
        position, reader = held.position(figure.slot_id), held.reader(figure.reader_id)
        shown = held.shown(figure.reader_id, figure.slot_id).what
        if position.part_id is None:
            raise Refused(f"{position.name}: no cell is recorded there; fit it first")
        if shown == "nothing" or (figure.mv is not None and shown != "mV"):
            raise Refused(f"{position.name} on {reader.name}: this unit type shows {shown} there; leave it out")
    for handset in entry.handsets:
        held.reader(handset.reader_id)


def _paper_room(session: Session, entry: CalibrationEntry, today: object) -> Room:
    paper = entry.paper
    assert paper is not None and entry.at is not None, "checked before"
    centre = session.get(Centre, 1)
    used = {
        "analyser": session.get(TestEquipment, paper.analyser_id or 0),
        "barometer": session.get(TestEquipment, paper.barometer_id or 0),
    }
    return room_on_paper(
        pressure_mbar=paper.pressure_mbar,
        altitude_m=centre.altitude_m if centre is not None else 0.0,
        temperature_c=paper.temperature_c,
        oxygen_temperature_c=entry.oxygen_temperature_c,
        humidity_percent=paper.humidity_percent,
        oxygen_shown_percent=paper.oxygen_shown_percent,
        equipment={
            role: equipment_facts(row, entry.at.date()) if row is not None else None for role, row in used.items()
        },
    )


def _correctable(act: Act, calibration_id: int) -> Calibration:
    """The calibration to put right, where it stands and is not older than ten minutes."""
    row = act.get(Calibration, calibration_id, f"calibration {calibration_id}")
    if superseder_of(act.session, calibration_id) is not None:
        raise Refused("calibration: was put right already; look again, then record a new one")
    if act.at - row.at > CORRECTED_WITHIN:
        raise Refused("calibration: is older than ten minutes; calibrate again instead of changing it")
    return row


def _calibration(entry: CalibrationEntry, judged: _Judged, supersedes: int | None) -> Calibration:
    bench, room, paper = judged.plan.session, judged.room, entry.paper
    analyser = bench.analyser.equipment_id if bench is not None and bench.analyser is not None else None
    barometer = bench.barometer.equipment_id if bench is not None and bench.barometer is not None else None
    if paper is not None:
        analyser, barometer = paper.analyser_id, paper.barometer_id
    fraction = room.gas.oxygen_fraction
    return Calibration(
        unit_id=judged.unit.id,
        session_id=entry.session_id,
        person_id=judged.person,
        at=judged.at,
        made="workshop",
        pressure_mbar=room.conditions.pressure_mbar,
        pressure_source=room.conditions.pressure_source.value,
        temperature_c=room.conditions.temperature_c,
        oxygen_temperature_c=entry.oxygen_temperature_c,
        humidity=room.conditions.humidity,
        oxygen_shown_percent=None if fraction is None else fraction * 100,
        analyser_id=analyser,
        barometer_id=barometer,
        head=entry.head,
        vented=entry.vented,
        over_pressure_mbar=entry.over_pressure_mbar,
        settled=judged.settled,
        comparison_id=judged.past.comparison_id,
        ticket_id=entry.ticket_id,
        supersedes_id=supersedes,
        supersedes_reason="typing" if supersedes is not None else None,
        note=(entry.note or "").strip() or None,
    )


def _reading_rows(key: int, entry: CalibrationEntry, held: CalibrationPlan) -> list[dict[str, object]]:
    order = ("zero", "air", "settling", "oxygen", "pot")
    listed = sorted(entry.figures, key=lambda each: (order.index(each.point), each.seconds or 0.0))
    return [
        {
            "calibration_id": key,
            "part_id": held.position(each.slot_id).part_id,
            "slot_id": each.slot_id,
            "reader_id": each.reader_id,
            "point": each.point,
            "mv": each.mv,
            "po2_shown_bar": each.po2_bar,
            "pot_bar": each.pot_bar,
            "seconds": each.seconds,
        }
        for each in listed
    ]


def _outcome_rows(key: int, judged: _Judged) -> list[dict[str, object]]:
    named = {position.name: position for position in judged.plan.positions}
    return [
        {
            "calibration_id": key,
            "part_id": named[cell.cell].part_id,
            "slot_id": named[cell.cell].slot_id,
            "verdict": cell.verdict.value,
            "linearity": cell.linearity,
            "expanded_u": cell.expanded_u,
            "margin": cell.margin,
            "air_mv": cell.air_mv_normal,
            "oxygen_mv": cell.oxygen_mv_normal,
            "reader_gap_bar": reader_gap_bar(cell, judged.outcome.oxygen_po2_bar),
            "verified_up_to_bar": cell.verified_up_to_bar,
            "blame": blame_word(cell, judged.outcome),
            "finding": cell.finding,
            "next_step": cell.next_step,
        }
        for cell in judged.outcome.cells
    ]


def _setting(key: int, handset: HandsetEntry, judged: _Judged) -> HandsetSetting:
    return HandsetSetting(
        calibration_id=key,
        unit_id=judged.unit.id,
        reader_id=handset.reader_id,
        at=judged.at,
        fraction_set=handset.fraction_set,
        pressure_set_mbar=handset.pressure_set_mbar,
        shown_oxygen_bar=handset.shown_oxygen_bar,
        shown_air_bar=handset.shown_air_bar,
    )


def _figure(row: CalibrationReading) -> Figure:
    return Figure(
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
