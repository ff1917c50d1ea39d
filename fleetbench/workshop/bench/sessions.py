"""Bench sessions: conditions and gas entered once for all the heads of a morning, while they hold."""

from dataclasses import dataclass
from datetime import date, datetime

from fleetbench.calc.bench.half_done import SESSION_LASTS
from fleetbench.calc.bench.meter import as_stored
from fleetbench.calc.cells.uncertainty import pressure_at_altitude_mbar
from fleetbench.calc.core.doors import at as door
from fleetbench.calc.core.languages import say
from fleetbench.calc.core.plausible import FLUSH_OXYGEN, HUMIDITY, ROOM_PRESSURE, ROOM_TEMPERATURE, Tool
from fleetbench.records.bench.lookups import (
    RecordSession,
    equipment_of,
    newest_measured_session,
    newest_open_session,
    newest_session_of,
    open_sessions_of,
)
from fleetbench.records.bench.reads import EquipmentRecord
from fleetbench.records.bench.tables import TestEquipment
from fleetbench.records.cells.tables import BenchSession
from fleetbench.records.core.errors import Refused
from fleetbench.records.places.tables import Centre
from fleetbench.records.upkeep.lookups import name_of
from fleetbench.workshop.core.workplace import Workplace, measured, measured_or_none, require_person, require_read_with

PRESSURE_MOVES_MBAR = 2.0
"""A move of the room's pressure that ends a session: common practice, no published source."""

ROLES = (Tool.ANALYSER, Tool.BAROMETER, Tool.HYGROMETER)


@dataclass(frozen=True, slots=True)
class Equipment:
    """One piece of test equipment; uncertainty is standard, in the unit given; in_date None where no day is known."""

    tool: EquipmentRecord
    in_date: bool | None


@dataclass(frozen=True, slots=True)
class SessionFacts:
    """One bench session; humidity in percent, oxygen as the analyser showed it, in percent; None is not known.

    warnings: what is out of date or missing, in sentences.
    """

    session_id: int
    started_at: datetime
    holds_until: datetime
    person_id: int
    person: str
    pressure_mbar: float
    pressure_source: str
    temperature_c: float
    humidity_percent: float | None
    oxygen_shown_percent: float | None
    analyser: Equipment | None
    barometer: Equipment | None
    hygrometer: Equipment | None
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LastConditions:
    """Conditions read last: pressure in mbar with its age in hours, None for standard; °C and percent."""

    pressure_mbar: float | None
    hours: float | None
    temperature_c: float | None
    oxygen_shown_percent: float | None
    humidity_percent: float | None = None


def why_over(
    started_at: datetime,
    pressure_mbar: float,
    *,
    now: datetime,
    pressure_now_mbar: float | None = None,
    gas_changed: bool = False,
) -> str | None:
    """Why a session no longer holds, in a sentence; None while it does."""
    if now - started_at >= SESSION_LASTS:
        return say("Two hours have passed: take conditions and gas again.")
    if gas_changed:
        return say("The gas changed: analyse it and open a new session.")
    if pressure_now_mbar is not None and abs(pressure_now_mbar - pressure_mbar) >= PRESSURE_MOVES_MBAR:
        moved = pressure_now_mbar - pressure_mbar
        return say("The pressure moved by {moved:+.1f} mbar: take conditions and gas again.", moved=moved)
    return None


def open_session(
    workplace: Workplace,
    *,
    pressure_mbar: float | None,
    temperature_c: float | None,
    humidity_percent: float | None = None,
    oxygen_shown_percent: float | None = None,
    analyser_id: int | None = None,
    barometer_id: int | None = None,
    hygrometer_id: int | None = None,
) -> int:
    """The key of a new bench session of the person at the bench; sessions of theirs still open end here.

    pressure_mbar None: no barometer at hand, the standard pressure of the centre's altitude is taken (ISO 2533:1975).
    humidity_percent None: not measured. oxygen_shown_percent None: gas not analysed, so no oxygen point.
    Raises Refused naming the field where a figure is out of reason.
    """
    person = require_person(workplace)
    measured(ROOM_TEMPERATURE, temperature_c)
    measured_or_none(HUMIDITY, humidity_percent)
    measured_or_none(FLUSH_OXYGEN, oxygen_shown_percent)
    measured_or_none(ROOM_PRESSURE, pressure_mbar)
    require_read_with("pressure", pressure_mbar, barometer_id)
    require_read_with("humidity", humidity_percent, hygrometer_id)
    require_read_with("oxygen", oxygen_shown_percent, analyser_id)
    if oxygen_shown_percent is not None and analyser_id is None:
        raise Refused(say("analyser: choose the one that analysed the gas"))
    with workplace.transaction("open bench session", f"person {person}") as act:
        _right_kind(act.session, {"analyser": analyser_id, "barometer": barometer_id, "hygrometer": hygrometer_id})
        for earlier in open_sessions_of(act.session, person):
            act.change(earlier, ended_at=act.at)
        pressure, source = pressure_mbar, "measured"
        if pressure is None:
            pressure, source = standard_pressure(act.session), "altitude"
        row = BenchSession(
            started_at=act.at,
            person_id=person,
            pressure_mbar=pressure,
            pressure_source=source,
            temperature_c=temperature_c,
            humidity=None if humidity_percent is None else as_stored(humidity_percent, humidity_percent / 100),
            oxygen_shown_percent=oxygen_shown_percent,
            analyser_id=analyser_id if oxygen_shown_percent is not None else None,
            barometer_id=barometer_id if pressure_mbar is not None else None,
            hygrometer_id=hygrometer_id if humidity_percent is not None else None,
        )
        return act.add(row).id


def current_session(
    workplace: Workplace, *, pressure_now_mbar: float | None = None, gas_changed: bool = False
) -> SessionFacts | None:
    """The bench session that still holds: this person's own, else another's at the bench; None where none does.

    Conditions and gas belong to the bench and the hour, so that the next person goes on with what was read. A session
    older than the person's own last one is not gone back to: that one was ended for a reason.
    """
    with workplace.database.read_session() as session:
        before = newest_session_of(session, workplace.person_id) if workplace.person_id is not None else None
        other = newest_open_session(session, None)
        if before is not None and other is not None and (other.started_at, other.id) < (before.started_at, before.id):
            other = None
        for row in (newest_open_session(session, workplace.person_id), other):
            over = row is None or why_over(
                row.started_at,
                row.pressure_mbar,
                now=workplace.clock(),
                pressure_now_mbar=pressure_now_mbar,
                gas_changed=gas_changed,
            )
            if row is not None and not over:
                return session_facts(session, row, workplace.today())
        return None


def past_session(workplace: Workplace, session_id: int) -> SessionFacts | None:
    """A bench session that may be over; None where it is not recorded here."""
    with workplace.database.read_session() as session:
        row = session.get(BenchSession, session_id)
        return session_facts(session, row, workplace.today()) if row is not None else None


def last_conditions(workplace: Workplace) -> LastConditions:
    """What was read last at this bench; the standard pressure of the altitude where no barometer was ever read."""
    with workplace.database.read_session() as session:
        row = newest_measured_session(session)
        if row is None:
            centre = session.get(Centre, 1)
            standard = None if centre is None else pressure_at_altitude_mbar(centre.altitude_m)
            return LastConditions(standard, None, None, None)
        hours = (workplace.clock() - row.started_at).total_seconds() / 3600.0
        humidity = None if row.humidity is None else 100.0 * row.humidity
        return LastConditions(
            row.pressure_mbar,
            hours=hours,
            temperature_c=row.temperature_c,
            oxygen_shown_percent=row.oxygen_shown_percent,
            humidity_percent=humidity,
        )


def end_session(workplace: Workplace, session_id: int) -> None:
    """End a session, for instance because the gas changed."""
    with workplace.transaction("end bench session", f"session {session_id}") as act:
        row = act.get(BenchSession, session_id, "bench session")
        if row.ended_at is not None:
            raise Refused(say("bench session: ended already; open a new one"))
        act.change(row, ended_at=act.at)


def bench_equipment(workplace: Workplace) -> tuple[Equipment, ...]:
    """Analysers, barometers and hygrometers to choose from, in date or not."""
    with workplace.database.read_session() as session:
        today = workplace.today()
        return tuple(equipment_facts(row, today) for row in equipment_of(session, ROLES))


def session_facts(session: RecordSession, row: BenchSession, today: date) -> SessionFacts:
    """A session's facts for a page, with what is out of date on the site's date."""
    used: dict[str, TestEquipment | None] = {
        role: session.get(TestEquipment, getattr(row, f"{role}_id") or 0) for role in ROLES
    }
    shown = {role: equipment_facts(found, today) if found is not None else None for role, found in used.items()}
    return SessionFacts(
        session_id=row.id,
        started_at=row.started_at,
        holds_until=row.started_at + SESSION_LASTS,
        person_id=row.person_id,
        person=name_of(session, row.person_id),
        pressure_mbar=row.pressure_mbar,
        pressure_source=row.pressure_source,
        temperature_c=row.temperature_c,
        humidity_percent=None if row.humidity is None else row.humidity * 100,
        oxygen_shown_percent=row.oxygen_shown_percent,
        analyser=shown["analyser"],
        barometer=shown["barometer"],
        hygrometer=shown["hygrometer"],
        warnings=_warnings(row, shown),
    )


def _warnings(row: BenchSession, used: dict[str, Equipment | None]) -> tuple[str, ...]:
    said = [
        say(
            "{tool} {serial} is past its last valid day {day}: no cell can pass.",
            tool=tool.tool.name,
            serial=tool.tool.serial,
            day=tool.tool.last_good_day,
        )
        for tool in used.values()
        if tool is not None and tool.in_date is False
    ]
    said += [
        say(
            "{tool} {serial}: its uncertainty is not recorded, so a wide one counts; enter it {door}.",
            tool=tool.tool.name,
            serial=tool.tool.serial,
            door=door("equipment figures"),
        )
        for tool in used.values()
        if tool is not None and (tool.tool.uncertainty is None or tool.tool.unit is None)
    ]
    if row.oxygen_shown_percent is None:
        said.append(say("Gas not analysed: no oxygen point can be taken."))
    if row.pressure_source == "altitude":
        said.append(say("Pressure from altitude, not from today's weather: figures are less certain."))
    return tuple(said)


def equipment_facts(row: TestEquipment, today: date) -> Equipment:
    """Facts of one piece of test equipment, and whether it is in date on a day."""
    in_date = None if row.last_good_day is None else row.last_good_day >= today
    tool = EquipmentRecord(
        equipment_id=row.id,
        kind=row.kind,
        name=row.name,
        serial=row.serial,
        uncertainty=row.uncertainty,
        unit=row.unit,
        digit=row.digit,
        last_good_day=row.last_good_day,
    )
    return Equipment(tool, in_date)


def _right_kind(session: RecordSession, chosen: dict[str, int | None]) -> None:
    for role, key in chosen.items():
        row = session.get(TestEquipment, key) if key is not None else None
        if key is not None and (row is None or row.kind != role):
            raise Refused(say("{kind}: what was chosen is no {kind}; choose one from the list", kind=say(role)))


def standard_pressure(session: RecordSession) -> float:
    """Standard pressure in mbar at the centre's altitude (ISO 2533:1975), for want of a barometer."""
    centre = session.get(Centre, 1)
    if centre is None:
        remedy = say("enter it {door}, or the pressure in mbar", door=door("altitude"))
        raise Refused(say("pressure: the centre has no altitude on record; {remedy}", remedy=remedy))
    return round(pressure_at_altitude_mbar(centre.altitude_m), 2)
